"""Knows: the picture of what was heard: a row for each band, its strokes, and the beats through all of them.

Must never know: how anything was heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from bridge.shell.draw_light import FAINT, GROUND, INK, RULE, font
from bridge.shell.sound.ear import Reading
from bridge.shell.whole_file import whole_file
from bridge.values.sound import BeatHeard, Onset, Sound

WIDTH, ROW, GAP = 1400, 110, 14
"""Pixels of the plot, of a band's row, and between two rows."""

LEFT, TOP, RIGHT, BOTTOM = 140, 96, 40, 56

LEGEND = "height: how loud, as lamps would follow it; lozenge: a stroke, the larger the harder; line: a beat"

LAMPS = ((255, 176, 77), (255, 236, 196), (150, 200, 255))
"""What the lowest, the middle and the highest band are drawn in: from warm to cold."""

BEAT = (96, 112, 156)
FAINT_INK = (150, 158, 180)
STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300)


def draw_sound(
    readings: Sequence[Reading],
    bands: Sequence[str],
    path: str | Path,
    title: str = "",
    spans: Sequence[str] = (),
) -> None:
    """Write a PNG of readings.

    Args:
        readings: in any order. bands: names from the lowest up. spans: what each band hears, in words.

    Raises:
        DeviceError: the file cannot be written.
    """
    image = picture(readings, bands, title, spans)
    with whole_file(path) as file:
        image.save(file, "PNG")


def picture(
    readings: Sequence[Reading], bands: Sequence[str], title: str = "", spans: Sequence[str] = ()
) -> Image.Image:
    """The picture itself; the highest band is on top."""
    sounds = [one for one in readings if isinstance(one, Sound)]
    begin = min((one.stamp for one in sounds), default=0.0)
    end = max(max((one.stamp for one in sounds), default=1.0), begin + 0.5)
    count = len(bands)
    height = TOP + count * (ROW + GAP) + BOTTOM
    image = Image.new("RGB", (LEFT + WIDTH + RIGHT, height), GROUND)
    pen = ImageDraw.Draw(image)
    pen.text((LEFT, 20), title, font=font(22), fill=INK)
    pen.text((LEFT, 54), LEGEND, font=font(14), fill=FAINT_INK)

    def place(t: float) -> float:
        return LEFT + (t - begin) / (end - begin) * (WIDTH - 1)

    floor = height - BOTTOM
    for one in readings:
        if isinstance(one, BeatHeard) and one.bpm and begin <= one.stamp <= end:
            pen.line((place(one.stamp), TOP - 8, place(one.stamp), floor), fill=BEAT)
    for band in range(count):
        low = TOP + (count - band) * (ROW + GAP) - GAP
        lamp = _lamp(band, count)
        pen.text((LEFT - 14, low - ROW / 2), bands[band], font=font(16), fill=INK, anchor="rm")
        if band < len(spans):
            pen.text((LEFT - 14, low - ROW / 2 + 20), spans[band], font=font(12), fill=FAINT_INK, anchor="rm")
        pen.line((LEFT, low, LEFT + WIDTH, low), fill=RULE)
        _level(image, _peaks(sounds, band, begin, end), low, lamp)
        for one in readings:
            if isinstance(one, Onset) and one.band == band and begin <= one.stamp <= end:
                _stroke(pen, place(one.stamp), low - ROW, one.strength)
    _marks(pen, begin, end, floor)
    return image


def _lamp(band: int, count: int) -> tuple[int, int, int]:
    at = band / max(1, count - 1) * (len(LAMPS) - 1)
    low = min(len(LAMPS) - 2, int(at))
    a, b = LAMPS[low], LAMPS[low + 1]
    r, g, blue = (round(x + (y - x) * (at - low)) for x, y in zip(a, b, strict=True))
    return r, g, blue


def _peaks(sounds: Sequence[Sound], band: int, begin: float, end: float) -> npt.NDArray[np.float64]:
    """The highest level in each pixel; what lies between two readings is drawn like the one before."""
    out = np.full(WIDTH, -1.0)
    for one in sounds:
        x = int((one.stamp - begin) / (end - begin) * (WIDTH - 1))
        if band < len(one.bands):
            out[x] = max(out[x], one.bands[band])
    for x in range(1, WIDTH):
        if out[x] < 0.0:
            out[x] = out[x - 1]
    shown: npt.NDArray[np.float64] = np.clip(out, 0.0, 1.0)
    return shown


def _level(image: Image.Image, levels: npt.NDArray[np.float64], low: int, lamp: tuple[int, int, int]) -> None:
    pen = ImageDraw.Draw(image)
    dim = tuple(round(0.45 * part + 0.55 * back) for part, back in zip(lamp, GROUND, strict=True))
    tops = [low - level * (ROW - 12) for level in levels]
    for x, top in enumerate(tops):
        if top < low:
            pen.line((LEFT + x, top, LEFT + x, low - 1), fill=dim)
    pen.line([(LEFT + x, top) for x, top in enumerate(tops)], fill=lamp)


def _stroke(pen: ImageDraw.ImageDraw, x: float, top: float, strength: float) -> None:
    """A lozenge, larger for a harder stroke."""
    size = 2.0 + 5.0 * strength
    middle = top + 5
    pen.polygon([(x, middle - size), (x + size, middle), (x, middle + size), (x - size, middle)], fill=INK)


def _marks(pen: ImageDraw.ImageDraw, begin: float, end: float, floor: int) -> None:
    step = next((step for step in STEPS if (end - begin) / step <= 14), STEPS[-1])
    for n in range(int(np.ceil(begin / step)), int(end / step) + 1):
        x = LEFT + (n * step - begin) / (end - begin) * (WIDTH - 1)
        pen.line((x, floor, x, floor + 6), fill=FAINT)
        pen.text((x, floor + 10), f"{n * step:g} s", font=font(14), fill=INK, anchor="ma")
