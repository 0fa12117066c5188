"""Knows: how a rig looks from the audience: where each lamp is on the picture, and how it glows.

Must never know: time, files, why a lamp has its level.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from bridge.parts.colours import rgb
from bridge.shell.draw_light import Light, as_image, ground, to_light
from bridge.values.frame import Frame
from bridge.values.rig import Rig

Floats = npt.NDArray[np.float64]

PITCH = 0.5
"""Metres between lamps whose file gives them all the same place."""

REACH = 4.6
"""A halo ends at this many lamp radii, where it is under a thousandth."""


def lamp_levels(rig: Rig, frame: Frame) -> Floats:
    """Each lamp's drive 0..1 in a frame, as its slots have it (16-bit lamps from both)."""
    values = np.zeros(len(rig.lamps))
    for lamp in rig.lamps:
        row = frame.slots[frame.universes.index(lamp.universe)]
        coarse = int(row[lamp.slot - 1])
        values[lamp.index] = coarse / 255 if lamp.bits == 8 else (coarse * 256 + int(row[lamp.slot])) / 65535
    return values


def places(rig: Rig) -> Floats:
    """Metres (x, y) of every lamp; those that share one place are set out in rows around it."""
    spots = np.array([lamp.at for lamp in rig.lamps], dtype=np.float64).reshape(-1, 2)
    same: dict[tuple[float, float], list[int]] = defaultdict(list)
    for lamp in rig.lamps:
        same[lamp.at].append(lamp.index)
    for members in same.values():
        across = math.ceil(math.sqrt(2 * len(members))) if len(members) > 1 else 1
        for number, index in enumerate(members):
            row, column = divmod(number, across)
            spots[index] += ((column - (min(across, len(members)) - 1) / 2) * PITCH, -row * PITCH)
    return spots


def nearest(spots: Floats) -> Floats:
    """The distance from each of N points to its nearest neighbour; 1 where there is no other."""
    out = np.ones(len(spots))
    for index, spot in enumerate(spots):
        apart = np.hypot(*(spots - spot).T)
        apart[index] = np.inf
        if len(spots) > 1:
            out[index] = max(float(apart.min()), 1e-3)
    return out


def shape_of(rig: Rig, wide: int, tall: int) -> tuple[int, int]:
    """A size in the rig's own proportions, within `wide` x `tall` and no flatter than 3 to 1."""
    spots = places(rig)
    across, up = (spots.max(axis=0) - spots.min(axis=0) + 2.0) if len(spots) else (16.0, 9.0)
    ratio = min(3.0, max(wide / tall, float(across) / float(up)))
    return wide, min(tall, round(wide / ratio))


BOWL, GLASS, RIM = (17, 25, 47), (24, 31, 52), (78, 100, 148)
"""A lamp that is off, sRGB."""


@dataclass(frozen=True, slots=True)
class Glow:
    """One lamp on the picture: where its patch of light goes, and that light at full."""

    rows: slice
    columns: slice
    light: Light


class RigPainter:
    """Draws one rig again and again; what does not change is worked out once.

    Args:
        rig: at least its lamps' `at`, colours and slots.
        size: width and height of the pictures in pixels, at least 16 each.
        even: a ground of one shade, for pictures that can have few colours.
    """

    def __init__(self, rig: Rig, size: tuple[int, int] = (960, 540), even: bool = False) -> None:
        self.size = (max(16, size[0]), max(16, size[1]))
        spots = places(rig)
        centres, radii = self._fit(spots)
        self._dark = ground(self.size, even)
        self._glows: list[Glow] = []
        for lamp, centre, radius in zip(rig.lamps, centres, radii, strict=True):
            self._shade(centre, radius)
            self._glows.append(self._glow(centre, radius, to_light(rgb(lamp.colour))))

    def _fit(self, spots: Floats) -> tuple[Floats, Floats]:
        """Pixels of each lamp's middle, and its radius: metres to scale, y up, with room around."""
        width, height = self.size
        if not len(spots):
            return spots, np.zeros(0)
        low, high = spots.min(axis=0), spots.max(axis=0)
        gaps = nearest(spots)
        room = max(float(np.median(gaps)), 0.05 * float((high - low).max()), 0.1)
        span = high - low + 2 * room
        scale = min(width / span[0], height / span[1])
        middle = (low + high) / 2
        centres = (spots - middle) * (scale, -scale) + (width / 2, height / 2)
        limit = 0.34 * min(float(np.median(gaps)) * scale, 0.2 * min(width, height))
        radii = np.clip(0.38 * gaps * scale, 1.2, max(limit, 1.2))
        return centres, radii

    def _patch(self, centre: Floats, reach: float) -> tuple[slice, slice, Light]:
        """The part of the picture within `reach` of a point, and the distance of its pixels."""
        width, height = self.size
        x, y = float(centre[0]), float(centre[1])
        left, right = max(0, math.floor(x - reach)), min(width, math.ceil(x + reach))
        top, bottom = max(0, math.floor(y - reach)), min(height, math.ceil(y + reach))
        down = np.arange(top, bottom, dtype=np.float32)[:, None] + np.float32(0.5 - y)
        along = np.arange(left, right, dtype=np.float32)[None, :] + np.float32(0.5 - x)
        return slice(top, bottom), slice(left, right), np.hypot(down, along).astype(np.float32)

    def _shade(self, centre: Floats, radius: float) -> None:
        """Paint the lamp itself on the ground: a dark bowl with an enamel rim, seen even when off."""
        rows, columns, far = self._patch(centre, radius * 1.3 + 2)
        bowl = np.clip(radius + 0.5 - far, 0.0, 1.0)[..., None]
        rim_width = max(0.8, radius * 0.08)
        rim = np.clip(rim_width / 2 + 0.5 - np.abs(far - radius), 0.0, 1.0)
        # Light falls from above, so the rim is brighter on its upper side.
        height = np.linspace(1.0, 0.35, far.shape[0], dtype=np.float32)[:, None]
        glass = np.clip((0.6 * radius + 0.5 - far) / (1 + 0.08 * radius), 0.0, 1.0)[..., None]
        part = self._dark[rows, columns]
        part += bowl * (to_light(BOWL) - part)
        part += 0.6 * glass * (to_light(GLASS) - part)
        part += (rim * height)[..., None] * (to_light(RIM) - part)

    def _glow(self, centre: Floats, radius: float, colour: Light) -> Glow:
        """The lamp's light at full: a pale middle, its colour in the bowl, a deeper halo around."""
        rows, columns, far = self._patch(centre, radius * REACH + 1)
        out = far / np.float32(radius)
        inside = np.clip((1.0 - out) * radius + 0.5, 0.0, 1.0)
        bulb = np.clip((0.6 - out) * radius / (1 + 0.08 * radius) + 0.5, 0.0, 1.0)
        bowl = inside * 0.55 * np.clip(1.0 - 0.8 * out**2, 0.0, 1.0)
        halo = 0.2 * np.exp(-((out / 1.25) ** 2)) + 0.05 * np.exp(-((out / 2.2) ** 2))
        halo *= np.clip(1.0 - (out / REACH) ** 2, 0.0, 1.0)
        deep = colour ** np.float32(1.7)
        warm = (colour + deep) / 2
        # More than the screen can show: dimmed it has the lamp's full colour, at the top it pales.
        core = bulb[..., None] * (1.4 * warm + 0.12 * np.exp(-((out / 0.4) ** 2))[..., None])
        light = core + (bowl * (1.0 - bulb))[..., None] * warm + halo[..., None] * deep
        return Glow(rows, columns, light.astype(np.float32))

    def paint(self, levels: Sequence[float] | Floats) -> Image.Image:
        """The rig with its lamps at drive 0..1, in the order of the rig; drive counts as linear light.

        Raises:
            ValueError: another number of levels than lamps (our own mistake, never the player's).
        """
        if len(levels) != len(self._glows):
            raise ValueError(f"{len(levels)} levels for {len(self._glows)} lamps")
        light = self._dark.copy()
        for glow, level in zip(self._glows, levels, strict=True):
            if level > 0.0:
                light[glow.rows, glow.columns] += glow.light * np.float32(min(1.0, level))
        return as_image(light)


def rig_picture(
    rig: Rig, levels: Sequence[float] | Floats, size: tuple[int, int] = (960, 540)
) -> Image.Image:
    """The rig to scale as the audience sees it, lamps glowing in their colours.

    Args:
        levels: drive 0..1 of every lamp, in the order of the rig; see `lamp_levels`.
        size: width and height in pixels.
    """
    return RigPainter(rig, size).paint(levels)
