"""Knows: one texture made ready for a rig: its lamps, its settings as hands have moved them, its levels.

Must never know: keys, envelopes, tempo, how layers are mixed.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence

import numpy as np

from bridge.core.mixing import Indices
from bridge.parts.sampling import area_means
from bridge.parts.textures import TEXTURES
from bridge.values.numbers import Floats
from bridge.values.texture import STEPS_OF_LEVEL, Film, Options, Places, Settings, Still, Texture

Draw = Callable[[Places, float, Settings], Floats]
"""As in `parts/textures`: places, cycles, settings -> levels."""


def film(shown: Film) -> Draw:
    """A film: a cycle is one run of it."""
    starts, last = list(shown.starts), len(shown.starts)
    # Plain, whatever holds them: what is worked out from them each frame shall be plain too.
    levels = np.asarray(shown.levels)

    def draw(_places: Places, cycles: float, _settings: Settings) -> Floats:
        at = (cycles - math.floor(cycles)) * shown.length
        number = bisect_right(starts, at) - 1
        out: Floats = levels[number] / STEPS_OF_LEVEL
        if shown.blend and last > 1:
            end = starts[number + 1] if number + 1 < last else shown.length
            part = (at - starts[number]) / max(end - starts[number], 1e-9)
            out += (levels[(number + 1) % last] / STEPS_OF_LEVEL - out) * part
        return out

    return draw


def still(shown: Still) -> Draw:
    """A picture that moves by one whole picture a cycle, in the nearest of eight directions."""
    _, rows, columns = shown.areas.shape
    cells = shown.to_level.shape[1] - 1
    table, base = shown.to_level.reshape(-1), shown.response * (cells + 1)

    def draw(_places: Places, cycles: float, settings: Settings) -> Floats:
        # Only whole pictures along the sides bring every place back to where it was.
        turn = math.radians(round(settings.direction / 45.0) * 45.0)
        part = cycles - math.floor(cycles)
        shift = (round(math.cos(turn)) * part * (columns - 1), -round(math.sin(turn)) * part * (rows - 1))
        light = area_means(shown.areas, shown.which, shown.boxes, shift)
        light *= cells
        cell = np.minimum(light.astype(np.intp), cells - 1)
        at = base + cell
        out: Floats = table[at]
        out += (light - cell) * (table[at + 1] - out)
        return out

    return draw


def _dark(_options: Options) -> Draw:
    return lambda places, _cycles, _settings: np.zeros(places.count)


class Shown:
    """A texture over its lamps.

    Args:
        texture: what it is. x, y: metres of every lamp of the rig.
    """

    __slots__ = (
        "_draw",
        "_plain",
        "_tint",
        "lamps",
        "places",
        "settings",
        "speed",
        "strength",
        "texture",
        "whole",
    )

    def __init__(self, texture: Texture, x: Sequence[float], y: Sequence[float]) -> None:
        self.texture = texture
        self.lamps: Indices = np.array(texture.lamps, dtype=np.intp)
        self.whole = texture.lamps == tuple(range(len(x)))
        """True if it covers the rig, lamp for lamp: then nothing need be looked up."""
        self.places = Places(np.asarray(x)[self.lamps], np.asarray(y)[self.lamps])
        self.settings, self.strength, self.speed = texture.settings, texture.strength, 1.0
        self._tint: Floats | None = np.array(texture.tint) if texture.tint else None
        self._plain = texture.between == (0.0, 1.0)
        if texture.film is not None:
            self._draw = film(texture.film)
        elif texture.still is not None:
            self._draw = still(texture.still)
        else:
            self._draw = TEXTURES.get(texture.kind, _dark)(texture.options)

    def levels(self, cycles: float, centre: tuple[float, float] | None) -> Floats:
        """Levels 0..1 of its lamps; `centre` in place of that of its settings."""
        settings = self.settings
        if centre is not None:
            settings = Settings(settings.scale, settings.direction, settings.amount, settings.width, centre)
        out = self._draw(self.places, cycles, settings)
        if not self._plain:
            low, high = self.texture.between
            out *= high - low
            out += low
        if self._tint is not None:
            out *= self._tint
        return out

    def set(self, what: str, value: float) -> None:
        """A control has moved one of its settings, a word of TEXTURE_SETTINGS but speed."""
        if what == "strength":
            self.strength = min(1.0, max(0.0, value))
        else:
            self.settings = self.settings.moved(what, value)

    def adopt(self, old: Shown) -> None:
        """Keep what hands have moved away from what the file said, where the file still says so."""
        if old.texture.settings == self.texture.settings:
            self.settings = old.settings
        if old.texture.strength == self.texture.strength:
            self.strength = old.strength
        self.speed = old.speed
