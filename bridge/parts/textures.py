"""Knows: the textures that are made by arithmetic, by the registry TEXTURES: place, time, settings -> levels.

Must never know: notes, slots, frame rates, how layers are mixed, pictures.

A factory takes the options once and gives the function that is asked each frame: `draw(places, cycles,
settings)` gives N levels 0..1. `cycles` is time as the texture counts it, seconds x Hz or beats over beats a
cycle. Each is a pure function of its arguments, and PERIODS says after how many cycles it is the same again.

Sources: gradient noise with quintic blending after K. Perlin, "Improving noise", Proc. SIGGRAPH 2002; the
mixing of bits after G. Steele, D. Lea and C. Flood, "Fast splittable pseudorandom number generators",
OOPSLA 2014. Everything else is trigonometry.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from bridge.values.numbers import Floats
from bridge.values.texture import Options, Places, Settings

Draw = Callable[[Places, float, Settings], Floats]
Factory = Callable[[Options], Draw]

LATTICE = 64
"""Cycles after which what chance made comes again: a power of two keeps the wrap exact."""

LEAST = 1e-6
"""No scale, width or extent counts as less than this."""

Profile = Callable[[Floats, float], Floats]


def _sine(part: Floats, width: float) -> Floats:
    out: Floats = np.sin(np.minimum(part * (math.pi / width), math.pi))
    out *= out
    return out


def _triangle(part: Floats, width: float) -> Floats:
    out: Floats = np.maximum(1.0 - np.abs(part * (2.0 / width) - 1.0), 0.0)
    return out


def _rise(part: Floats, width: float) -> Floats:
    out: Floats = np.where(part < width, part / width, 0.0)
    return out


def _fall(part: Floats, width: float) -> Floats:
    out: Floats = np.maximum(1.0 - part / width, 0.0)
    return out


def _pulse(part: Floats, width: float) -> Floats:
    out: Floats = (part < width).astype(np.float64)
    return out


PROFILES: dict[str, Profile] = {
    "sine": _sine,
    "triangle": _triangle,
    "rise": _rise,
    "fall": _fall,
    "pulse": _pulse,
}
"""How light rises and falls: the part 0..1 of a cycle -> level; dark from `width` of the cycle on."""


def _waves(options: Options) -> Callable[[Floats, Settings], Floats]:
    """Levels for how many cycles ago the first crest's beginning passed each place."""
    profile, count = PROFILES[options.profile], options.count

    def level(since: Floats, settings: Settings) -> Floats:
        out = profile(since - np.floor(since), min(1.0, max(LEAST, settings.width)))
        if count:
            out[(since < 0.0) | (since >= count)] = 0.0
        return out

    return level


def _along(places: Places, direction: float) -> tuple[Floats, float]:
    """Metres of each place along a direction, from the first place on; and how far the last one is."""
    c, s = math.cos(math.radians(direction)), math.sin(math.radians(direction))
    near = min(c * places.low[0], c * places.high[0]) + min(s * places.low[1], s * places.high[1])
    far = max(c * places.low[0], c * places.high[0]) + max(s * places.low[1], s * places.high[1])
    out: Floats = places.x * c
    out += places.y * s
    out -= near
    return out, far - near


def _scale(settings: Settings) -> float:
    return max(LEAST, settings.scale)


def wave(options: Options) -> Draw:
    """A plane wave: `scale` metres from crest to crest, moving in `direction`; it begins at the near edge."""
    level = _waves(options)

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        along, _ = _along(places, settings.direction)
        return level(cycles - along / _scale(settings), settings)

    return draw


def rings(options: Options) -> Draw:
    """Rings from `centre`, `scale` metres apart, growing."""
    level = _waves(options)

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        x, y = settings.centre
        far = np.hypot(places.x - x, places.y - y)
        return level(cycles - far / _scale(settings), settings)

    return draw


def crossing(options: Options) -> Draw:
    """Two plane waves `angle` degrees apart, half the light each; they move together in `direction`."""
    profile, half = PROFILES[options.profile], options.angle / 2.0

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        width = min(1.0, max(LEAST, settings.width))
        out: Floats = np.zeros(places.count)
        for turn in (-half, half):
            along, _ = _along(places, settings.direction + turn)
            since = cycles - along / _scale(settings)
            out += profile(since - np.floor(since), width)
        out *= 0.5
        return out

    return draw


def swell(options: Options) -> Draw:
    """All lamps rise and fall together."""
    profile = PROFILES[options.profile]

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        part: Floats = np.array([cycles - math.floor(cycles)])
        out: Floats = np.repeat(profile(part, min(1.0, max(LEAST, settings.width))), places.count)
        return out

    return draw


def chase(options: Options) -> Draw:
    """One light, or `count` at once, through the lamps in their order; each lamp fades over `scale` lamps."""
    runners = max(1, options.count)

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        gap = places.count / runners
        turns = cycles - math.floor(cycles)
        since = np.mod(turns * places.count - places.rank, max(gap, LEAST))
        out: Floats = np.maximum(1.0 - since / max(1.0, settings.scale), since - (gap - 1.0))
        return np.clip(out, 0.0, 1.0, out=out)

    return draw


def fill(_options: Options) -> Draw:
    """Lamps fill up in `direction` to `amount`, the edge `scale` metres soft; in a cycle down and up."""

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        along, far = _along(places, settings.direction)
        far = max(far, LEAST)
        soft = max(_scale(settings) / far, LEAST)
        height = settings.amount * abs(1.0 - 2.0 * (cycles - math.floor(cycles)))
        along /= far
        out: Floats = (height * (1.0 + soft) - along) / soft
        return np.clip(out, 0.0, 1.0, out=out)

    return draw


def _mixed(rows: Floats, columns: Floats, seed: int) -> Floats:
    """A number 0..1 that looks like chance for each pair of whole numbers; the same for the same three."""
    x = rows.astype(np.int64).astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    x += columns.astype(np.int64).astype(np.uint64) * np.uint64(0xC2B2AE3D27D4EB4F)
    x += np.uint64(seed * 0x165667B19E3779F9 & 0xFFFFFFFFFFFFFFFF)
    x ^= x >> np.uint64(30)
    x *= np.uint64(0xBF58476D1CE4E5B9)
    x ^= x >> np.uint64(27)
    x *= np.uint64(0x94D049BB133111EB)
    x ^= x >> np.uint64(31)
    out: Floats = (x >> np.uint64(11)).astype(np.float64) * 2.0**-53
    return out


class _Lattice:
    """Gradient noise on a square lattice that repeats after LATTICE cells each way."""

    def __init__(self, seed: int) -> None:
        cells = np.arange(LATTICE * LATTICE, dtype=np.float64)
        angle = _mixed(cells // LATTICE, cells % LATTICE, seed) * (2.0 * math.pi)
        self._gx, self._gy = np.cos(angle), np.sin(angle)

    def at(self, u: Floats, v: Floats) -> Floats:
        """Noise -1..1 at each place, 0 at every corner of the lattice."""
        column, row = np.floor(u), np.floor(v)
        x, y = u - column, v - row
        left = column.astype(np.intp) & (LATTICE - 1)
        low = (row.astype(np.intp) & (LATTICE - 1)) * LATTICE
        right = (left + 1) & (LATTICE - 1)
        high = (low + LATTICE) & (LATTICE * LATTICE - 1)
        across = x * x * x * (x * (x * 6.0 - 15.0) + 10.0)
        x1, y1 = x - 1.0, y - 1.0
        lower = self._side(low, left, right, x, x1, y, across)
        upper = self._side(high, left, right, x, x1, y1, across)
        upper -= lower
        upper *= y * y * y * (y * (y * 6.0 - 15.0) + 10.0)
        upper += lower
        # With gradients of length 1 in two dimensions the noise ends at +-1/sqrt(2).
        upper *= math.sqrt(2.0)
        return upper

    def _side(
        self, row: np.typing.NDArray[np.intp], left: np.typing.NDArray[np.intp],
        right: np.typing.NDArray[np.intp], x: Floats, x1: Floats, y: Floats, across: Floats,
    ) -> Floats:  # fmt: skip
        """The noise as the lower or the upper two corners of each cell give it."""
        at = row + left
        out: Floats = self._gx[at] * x
        out += self._gy[at] * y
        at = row + right
        other: Floats = self._gx[at] * x1
        other += self._gy[at] * y
        other -= out
        other *= across
        out += other
        return out


CONTRAST = 1.8
"""How steep the noise is between dark and full: bare gradient noise is grey almost everywhere."""


def drift(options: Options) -> Draw:
    """Soft patches of gradient noise, about `scale` metres wide, that drift in `direction` and change.

    `amount` 0 leaves all dark, 1 lights all.
    """
    coarse, fine = _Lattice(options.seed), _Lattice(options.seed + 1)

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        scale = _scale(settings)
        u, _ = _along(places, settings.direction)
        v, _ = _along(places, settings.direction + 90.0)
        u /= scale
        v /= scale
        noise = coarse.at(u - cycles, v)
        # The finer half runs at one and a half times the speed: three of its cells a cycle.
        noise += 0.5 * fine.at(2.0 * u - 3.0 * cycles, 2.0 * v)
        noise *= CONTRAST / 3.0
        noise += 0.5 + (settings.amount - 0.5) * (1.0 + CONTRAST)
        return np.clip(noise, 0.0, 1.0, out=noise)

    return draw


APART = 6.0
"""Lane widths from one drop to the next that a lane could have."""

FRONT = 0.08
"""Share of that over which a drop brightens as it comes."""


def drops(options: Options) -> Draw:
    """Drops that fall in lanes `scale` metres wide, each with a tail of `width`; `amount`: how many."""

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        scale = _scale(settings)
        width = min(0.9, max(0.02, settings.width))
        along, _ = _along(places, settings.direction)
        side, _ = _along(places, settings.direction + 90.0)
        lane = np.floor(side / scale)
        # In a frame that falls with the drops each has its cell and stays in it.
        place = along / (scale * APART) - cycles - _mixed(lane, lane, options.seed)
        cell = np.floor(place)
        number = np.mod(cell, LATTICE)
        head = width + (1.0 - FRONT - width) * _mixed(lane, number, options.seed + 1)
        behind = head - (place - cell)
        out: Floats = np.minimum(1.0 - behind / width, 1.0 + behind / FRONT)
        np.maximum(out, 0.0, out=out)
        chance = _mixed(lane, number, options.seed + 2)
        out *= (chance < settings.amount) * (0.5 + 0.5 * _mixed(lane, number, options.seed + 3))
        return out

    return draw


FLARE = 0.15
"""Share of a glint in which it brightens."""


def glints(options: Options) -> Draw:
    """Single lamps light up briefly, for `width` of a cycle; `amount` is how many do in each."""

    def draw(places: Places, cycles: float, settings: Settings) -> Floats:
        width = min(1.0, max(0.01, settings.width))
        place = cycles + _mixed(places.rank, places.rank, options.seed)
        cell = np.floor(place)
        number = np.mod(cell, LATTICE)
        part = place - cell - (1.0 - width) * _mixed(places.rank, number, options.seed + 1)
        part /= width
        out: Floats = np.minimum(part / FLARE, (1.0 - part) / (1.0 - FLARE))
        np.maximum(out, 0.0, out=out)
        out *= out
        out *= _mixed(places.rank, number, options.seed + 2) < settings.amount
        return out

    return draw


TEXTURES: dict[str, Factory] = {
    "wave": wave,
    "rings": rings,
    "crossing": crossing,
    "drift": drift,
    "drops": drops,
    "glints": glints,
    "chase": chase,
    "swell": swell,
    "fill": fill,
}

PERIODS: dict[str, float] = {
    name: LATTICE if name in ("drift", "drops", "glints") else 1.0 for name in TEXTURES
}
"""Cycles after which a texture is the same again (with `count`, once all of them have passed, it is dark)."""

USUAL: dict[str, Settings] = {
    "wave": Settings(scale=3.0),
    "rings": Settings(scale=2.0),
    "crossing": Settings(scale=3.0, direction=30.0),
    "drift": Settings(scale=1.5),
    "drops": Settings(scale=1.0, direction=-90.0, amount=0.6, width=0.35),
    "glints": Settings(amount=0.3, width=0.2),
    "chase": Settings(scale=2.0),
    "swell": Settings(),
    "fill": Settings(scale=0.5, direction=90.0, amount=1.0),
}
"""What holds unless a file says otherwise."""

USUAL_HZ: dict[str, float] = {
    "wave": 0.3, "rings": 0.5, "crossing": 0.3, "drift": 0.25, "drops": 0.4, "glints": 0.8, "chase": 0.25,
    "swell": 0.1, "fill": 0.0,
}  # fmt: skip
"""Cycles a second unless a file says otherwise."""
