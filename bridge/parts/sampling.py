"""Knows: the light of an image around each lamp: means over boxes and Gaussians, in linear light.

Must never know: files, films, rigs, levels of the moment.

An image has its rows from the top down; a place in it is in pixels, x from the left edge and y from the top
edge, so that the middle of the first pixel is (0.5, 0.5). What lies outside an image counts for nothing: an
area over its edge takes the mean of the part inside.

Sources: sRGB transfer IEC 61966-2-1; luminance ITU-R BT.709-6 item 3.2; the table of sums after F. Crow,
"Summed-area tables for texture mapping", Proc. SIGGRAPH 1984.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bridge.values.numbers import Floats

Bytes = npt.NDArray[np.uint8]
Indices = npt.NDArray[np.intp]

BT709 = (0.2126, 0.7152, 0.0722)
"""Luminance of linear red, green and blue."""

TRUNCATE = 4.0
"""A Gaussian ends at so many of its radii."""

SLIVER = 1e-9
"""Half the side of an area without extent, in pixels."""


def linear(signal: Floats) -> Floats:
    """sRGB signal 0..1 as linear light 0..1."""
    out: Floats = np.where(signal <= 0.04045, signal / 12.92, ((signal + 0.055) / 1.055) ** 2.4)
    return out


LINEAR: Floats = linear(np.arange(256) / 255.0)
"""Linear light of an 8-bit sRGB code."""


def light(image: Bytes, share: Sequence[float]) -> Floats:
    """How much light of a colour each pixel has.

    Args:
        image: sRGB codes, uint8 of shape (..., 3).
        share: weights of linear red, green and blue that add up to 1: BT709, or the share of a lamp's colour.

    Returns:
        Linear light 0..1 of shape (...).
    """
    out: Floats = np.zeros(image.shape[:-1])
    for channel, weight in enumerate(share):
        if weight:
            # No code is outside the table; told to wrap, numpy need not look.
            out += (LINEAR * weight).take(image[..., channel], mode="wrap")
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """Which pixels each of N lamps looks at, and how much each counts.

    Args:
        pixels: flat indices into an image, lamp after lamp. shares: weights; those of a lamp add up to 1.
        begins: where in them each lamp begins.
    """

    pixels: Indices
    shares: Floats
    begins: Indices

    def means(self, flat: Floats) -> Floats:
        """The mean around each lamp of an image given as its H * W pixels in a row."""
        out: Floats = np.add.reduceat(flat[self.pixels] * self.shares, self.begins)
        return out

    def of_image(self, image: Bytes, share: Sequence[float]) -> Floats:
        """The mean light of a colour around each lamp, of sRGB codes of shape (H, W, 3)."""
        seen = light(image.reshape(-1, 3)[self.pixels], share)
        seen *= self.shares
        out: Floats = np.add.reduceat(seen, self.begins)
        return out


def box_weights(places: Floats, half: tuple[float, float], size: tuple[int, int]) -> Weights:
    """Weights of boxes, each pixel by the part of it that is covered.

    Args:
        places: the middles, shape (N, 2), N at least 1. half: half width and half height. size: width and
            height of the image.
    """
    across = [_covered(x, half[0], size[0]) for x in places[:, 0]]
    down = [_covered(y, half[1], size[1]) for y in places[:, 1]]
    return _product(across, down, size[0])


def gauss_weights(places: Floats, radius: tuple[float, float], size: tuple[int, int]) -> Weights:
    """Weights of Gaussians with a standard deviation of `radius` pixels each way; arguments as above."""
    across = [_bell(x, radius[0], size[0]) for x in places[:, 0]]
    down = [_bell(y, radius[1], size[1]) for y in places[:, 1]]
    return _product(across, down, size[0])


Line = tuple[Indices, Floats]
"""Pixels along one axis and their weights; none for what lies outside."""


def _covered(middle: float, half: float, size: int) -> Line:
    half = max(half, SLIVER)
    low, high = max(0.0, middle - half), min(float(size), middle + half)
    if high <= low:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    pixels = np.arange(math.floor(low), math.ceil(high), dtype=np.intp)
    shares = np.minimum(pixels + 1.0, high) - np.maximum(pixels, low)
    return pixels, shares / shares.sum()


def _bell(middle: float, radius: float, size: int) -> Line:
    radius = max(radius, 1e-3)
    reach = TRUNCATE * radius + 0.5
    low, high = max(0, math.floor(middle - reach)), min(size, math.ceil(middle + reach))
    # A lamp beyond the edge sees nothing, as with a box of the same radius.
    if high <= low or middle < -radius or middle > size + radius:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    pixels = np.arange(low, high, dtype=np.intp)
    apart = (pixels + 0.5 - middle) / radius
    # Against underflow where the nearest pixel is many radii off.
    apart *= apart
    shares = np.exp(-0.5 * (apart - apart.min()))
    return pixels, shares / shares.sum()


def _product(across: Sequence[Line], down: Sequence[Line], width: int) -> Weights:
    pixels, shares, counts = [], [], []
    for (columns, wide), (rows, high) in zip(across, down, strict=True):
        if len(columns) and len(rows):
            pixels.append((rows[:, None] * width + columns[None, :]).reshape(-1))
            shares.append((high[:, None] * wide[None, :]).reshape(-1))
        else:
            # A lamp that looks past the image still needs an entry to be summed.
            pixels.append(np.zeros(1, dtype=np.intp))
            shares.append(np.zeros(1))
        counts.append(len(pixels[-1]))
    begins = np.cumsum([0, *counts[:-1]]).astype(np.intp)
    return Weights(np.concatenate(pixels), np.concatenate(shares), begins)


def gauss_blurred(plane: Floats, radii: tuple[float, float]) -> Floats:
    """An image (H, W) that repeats at its edges, blurred by a Gaussian of `radii` pixels across and down."""
    for axis, radius in ((0, radii[1]), (1, radii[0])):
        size = plane.shape[axis]
        reach = math.ceil(TRUNCATE * radius)
        at = np.arange(-reach, reach + 1)
        # A bell wider than the picture goes round it: what falls on one pixel is added up first.
        bell = np.bincount(at % size, np.exp(-0.5 * (at / max(radius, 1e-3)) ** 2), size)
        whole = float(bell.sum())
        out: Floats = np.zeros_like(plane)
        for shift in np.flatnonzero(bell):
            out += (float(bell[shift]) / whole) * np.roll(plane, int(shift), axis=axis)
        plane = out
    return plane


def areas(plane: Floats) -> Floats:
    """The table of sums of an image (H, W): shape (H + 1, W + 1), the light above and left of each corner."""
    out: Floats = np.zeros((plane.shape[0] + 1, plane.shape[1] + 1))
    np.cumsum(np.cumsum(plane, axis=0), axis=1, out=out[1:, 1:])
    return out


def area_means(tables: Floats, which: Indices, boxes: Floats, shift: tuple[float, float]) -> Floats:
    """The mean light in each lamp's box over a picture that repeats for ever and is moved.

    Exact for any fraction of a pixel: between corners a table of sums is bilinear.

    Args:
        tables: shape (K, H + 1, W + 1). which: the table of each of N lamps.
        boxes: shape (4, N): left, right, top, bottom in pixels, each over the one before.
        shift: pixels by which the picture has moved to the right and down.

    Returns:
        N means.
    """
    _, rows, columns = tables.shape
    flat = tables.reshape(-1)
    base = which * (rows * columns)
    left, right = _corner(boxes[0] - shift[0], columns - 1), _corner(boxes[1] - shift[0], columns - 1)
    top, bottom = _corner(boxes[2] - shift[1], rows - 1), _corner(boxes[3] - shift[1], rows - 1)
    out = _sum_to(flat, base, right, bottom, columns, rows)
    out -= _sum_to(flat, base, left, bottom, columns, rows)
    out -= _sum_to(flat, base, right, top, columns, rows)
    out += _sum_to(flat, base, left, top, columns, rows)
    out /= (boxes[1] - boxes[0]) * (boxes[3] - boxes[2])
    return np.clip(out, 0.0, 1.0, out=out)


Corner = tuple[Floats, Indices, Floats]
"""Whole pictures before a place, whole pixels in the picture it lies in, and the rest."""


def _corner(at: Floats, size: int) -> Corner:
    turns = np.floor(at / size)
    inside = np.minimum(np.maximum(at - turns * size, 0.0), float(size))
    whole = np.minimum(inside.astype(np.intp), size - 1)
    return turns, whole, inside - whole


def _sum_to(flat: Floats, base: Indices, x: Corner, y: Corner, columns: int, rows: int) -> Floats:
    """The sum from the origin to a corner anywhere in the plane that the picture tiles."""
    (xt, xw, xf), (yt, yw, yf) = x, y
    at = base + yw * columns + xw
    upper = flat[at]
    upper += xf * (flat[at + 1] - upper)
    at += columns
    out: Floats = flat[at]
    out += xf * (flat[at + 1] - out)
    out -= upper
    out *= yf
    out += upper
    # What whole tiles to the left and above add: the full widths of this row, and so on.
    edge = base + yw * columns + (columns - 1)
    row = flat[edge]
    row += yf * (flat[edge + columns] - row)
    edge = base + (rows - 1) * columns + xw
    column = flat[edge]
    column += xf * (flat[edge + 1] - column)
    out += xt * row
    out += yt * column
    out += xt * yt * flat[base + rows * columns - 1]
    return out
