"""Knows: how frames of pixels become levels of lamps: areas, linear light, responses; a bounded memory.

Must never know: formats, mappings, what plays a film.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from functools import partial
from typing import Protocol

import numpy as np

from bridge.parts.sampling import (
    Bytes,
    Indices,
    area_means,
    areas,
    box_weights,
    gauss_blurred,
    gauss_weights,
    light,
)
from bridge.shell.pictures.images import Frame
from bridge.shell.pictures.kept import keep
from bridge.shell.pictures.layout import Laid, Plan, Share, lay, level_tables
from bridge.shell.pictures.limits import MOST_FRAMES, MOST_LEVELS, SLOWEST, PictureError
from bridge.values.numbers import Floats, half_up_array
from bridge.values.texture import STEPS_OF_LEVEL, Film, Still

FINEST = 1024
"""Pixels of the longer side: of what is larger each few pixels are joined first, in linear light."""

FINEST_MOVED = 512
"""Of a picture that is moved: its tables stay in memory while it is played."""

STRIP = 64
"""Rows turned to light at once, so that they stay in the processor's cache."""

DENSE = 0.25
"""Where lamps look at more pixels in all than this share of the picture has, tables of sums are cheaper."""

WIDE = 4.0
"""Pixels of a Gaussian's radius that are enough: where it is wider, pixels are joined first."""


class Source(Protocol):
    """Frames, and the length in seconds once they were read."""

    length: float

    def frames(self) -> Iterable[Frame]:
        """Seconds and pixels, in order."""


class Eyes:
    """The lamps that take the same share of red, green and blue, over a picture of one size."""

    def __init__(self, share: Share, members: Indices, laid: Laid, area: str, size: tuple[int, int]) -> None:
        self.share, self.members = share, members
        self._size, self._by = size, (1, 1)
        middles = laid.middles[members]
        self._boxes: Floats | None = None
        if area == "box" and self._covered(laid, len(members)) > DENSE:
            half = np.maximum(laid.radius, 1e-6)
            sides = np.stack(
                [
                    middles[:, 0] - half[0],
                    middles[:, 0] + half[0],
                    middles[:, 1] - half[1],
                    middles[:, 1] + half[1],
                ]
            )
            sides[:2] = np.clip(sides[:2], 0.0, size[0])
            sides[2:] = np.clip(sides[2:], 0.0, size[1])
            self._seen = (sides[1] > sides[0]) & (sides[3] > sides[2])
            # Where nothing is seen any area will do: it counts for nothing.
            sides[:, ~self._seen] = np.array([[0.0], [1.0], [0.0], [1.0]])
            self._boxes = sides
            return
        if area == "box":
            self._weights = box_weights(middles, laid.radius, size)
            return
        across, down = (max(1, min(int(r / WIDE), n)) for r, n in zip(laid.radius, size, strict=True))
        self._by = (across, down)
        radius = (laid.radius[0] / across, laid.radius[1] / down)
        self._weights = gauss_weights(middles / self._by, radius, (size[0] // across, size[1] // down))

    def _covered(self, laid: Laid, count: int) -> float:
        each = (2 * laid.radius[0] + 1) * (2 * laid.radius[1] + 1)
        return count * each / (self._size[0] * self._size[1])

    def of_pixels(self, image: Bytes) -> Floats:
        """The mean light of each, of sRGB codes of shape (H, W, 3 or 4)."""
        if self._boxes is not None or self._by != (1, 1):
            return self.of_light(_light(image, self.share))
        weights = self._weights
        seen = _light(image.reshape(-1, image.shape[-1])[weights.pixels], self.share)
        seen *= weights.shares
        out: Floats = np.add.reduceat(seen, weights.begins)
        return out

    def of_light(self, plane: Floats) -> Floats:
        """The mean light of each, of light of shape (H, W)."""
        if self._boxes is None:
            return self._weights.means(joined(plane, self._by).reshape(-1))
        which = np.zeros(len(self.members), dtype=np.intp)
        out = area_means(areas(plane)[None], which, self._boxes, (0.0, 0.0))
        out *= self._seen
        return out


def _light(image: Bytes, share: Share) -> Floats:
    """Light 0..1 of pixels; what is clear shows black."""
    out = light(image[..., :3], share)
    if image.shape[-1] == 4:
        out *= image[..., 3] / 255.0
    return out


def joined(plane: Floats, by: tuple[int, int]) -> Floats:
    """Light of shape (H, W) with each `by` pixels (across, down) made one; what is left over is cut off."""
    if by == (1, 1):
        return plane
    height, width = plane.shape[0] // by[1], plane.shape[1] // by[0]
    whole = plane[: height * by[1], : width * by[0]]
    out: Floats = whole.reshape(height, by[1], width, by[0]).mean(axis=(1, 3))
    return out


def groups(plan: Plan) -> dict[Share, Indices]:
    """Which lamps take the same share of the colours."""
    found: dict[Share, list[int]] = {}
    for number, each in enumerate(plan.shares):
        found.setdefault(each, []).append(number)
    return {each: np.array(members, dtype=np.intp) for each, members in found.items()}


class Levels:
    """Light of lamps -> the levels that give it, as a film keeps them."""

    def __init__(self, plan: Plan) -> None:
        self._tables, self._rows = level_tables(plan.responses)
        self._cells = self._tables.shape[1] - 1
        self._plain = set(plan.responses) == {"linear"}

    def of(self, seen: Floats) -> np.typing.NDArray[np.uint16]:
        """Levels in 65535 steps of light 0..1, one for each lamp."""
        level = np.clip(seen, 0.0, 1.0)
        if not self._plain:
            place = level * self._cells
            cell = np.minimum(place.astype(np.intp), self._cells - 1)
            low = self._tables[self._rows, cell]
            level = low + (place - cell) * (self._tables[self._rows, cell + 1] - low)
        return half_up_array(level * STEPS_OF_LEVEL).astype(np.uint16)

    @property
    def tables(self) -> tuple[Floats, Indices]:
        """The tables and the row of each lamp."""
        return self._tables, self._rows


def film_of(source: Source, plan: Plan) -> Film:
    """A film as the lamps see it, decoded to its end.

    Raises:
        PictureError: it is broken, has too many frames, or takes too long.
    """
    levels, begun = Levels(plan), time.monotonic()
    starts: list[float] = []
    rows: list[np.typing.NDArray[np.uint16]] = []
    eyes: list[Eyes] = []
    size, by = (0, 0), 1
    seen: Floats = np.zeros(len(plan.at))
    for start, image in source.frames():
        if (image.shape[1], image.shape[0]) != size:
            size = (image.shape[1], image.shape[0])
            by = joining(size, FINEST)
            eyes = _eyes(plan, (size[0] // by, size[1] // by))
        for group in eyes:
            if by == 1:
                seen[group.members] = group.of_pixels(image)
            else:
                plane = reduced(partial(_cut, image), group.share, by)
                seen[group.members] = group.of_light(plane)
        starts.append(start)
        rows.append(levels.of(seen))
        if len(rows) > min(MOST_FRAMES, MOST_LEVELS // max(1, len(plan.at))):
            raise PictureError(f"more than {len(rows) - 1} frames are too many", "make it shorter")
        if time.monotonic() - begun > SLOWEST:
            what = f"it is not decoded after {SLOWEST:.0f} s, with {start:.0f} s of it done"
            raise PictureError(what, "make it smaller; 320 pixels across are plenty for lamps")
    return Film(tuple(starts), source.length, keep(np.array(rows)), plan.blend)


Strips = Callable[[int], Iterable[Bytes]]
"""Pixels from the top down, so many rows at once."""


def _cut(image: Bytes, rows: int) -> Iterable[Bytes]:
    return (image[top : top + rows] for top in range(0, len(image), rows))


def joining(size: tuple[int, int], finest: int) -> int:
    """How many pixels each way become one so that neither side has more than `finest`."""
    return min(max(1, math.ceil(max(size) / finest)), *size)


def reduced(strips: Strips, share: Share, by: int) -> Floats:
    """The light of a picture, each `by` x `by` pixels made one; what is left over is cut off."""
    rows = max(1, STRIP // by) * by
    parts = [joined(_light(strip, share), (by, by)) for strip in strips(rows)]
    return np.concatenate(parts)


def _eyes(plan: Plan, size: tuple[int, int]) -> list[Eyes]:
    laid = lay(plan, size)
    return [Eyes(share, members, laid, plan.area, size) for share, members in groups(plan).items()]


def picture_of(strips: Strips, size: tuple[int, int], plan: Plan) -> Film | Still:
    """A picture as the lamps see it: a film of one frame, or tables where it is to be moved over them."""
    by = joining(size, FINEST_MOVED if plan.moves else FINEST)
    small = (size[0] // by, size[1] // by)
    if plan.moves:
        planes = {share: reduced(strips, share, by) for share in groups(plan)}
        return _still(planes, lay(plan, small), plan)
    seen: Floats = np.zeros(len(plan.at))
    for group in _eyes(plan, small):
        seen[group.members] = group.of_light(reduced(strips, group.share, by))
    return Film((0.0,), 1.0, Levels(plan).of(seen)[None], plan.blend)


def _still(planes: dict[Share, Floats], laid: Laid, plan: Plan) -> Still:
    half = np.maximum(laid.radius, 1e-6)
    if plan.area == "gauss":
        # Once blurred, the pixel a lamp stands on has all the light around it.
        planes = {share: gauss_blurred(plane, laid.radius) for share, plane in planes.items()}
        half = np.array([0.5, 0.5])
    x, y = laid.middles.T
    boxes = np.stack([x - half[0], x + half[0], y - half[1], y + half[1]])
    which = np.zeros(len(plan.at), dtype=np.intp)
    for number, members in enumerate(groups(plan).values()):
        which[members] = number
    tables, rows = Levels(plan).tables
    return Still(np.array([areas(plane) for plane in planes.values()]), which, boxes, tables, rows)
