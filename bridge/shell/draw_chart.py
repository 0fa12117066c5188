"""Knows: the time chart: a row for each lamp or slot, brightness along a time axis.

Must never know: rigs' wiring, MIDI, how frames were made.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from bridge.parts.colours import rgb
from bridge.shell.draw_light import FAINT, GROUND, INK, RULE, Light, font, to_light, to_srgb
from bridge.shell.draw_peaks import Bytes, Peaks, resample
from bridge.shell.whole_file import whole_file

WIDTH = 1400
"""Pixels of the plot itself, whatever the length."""

TALLEST = 2700
"""Most pixels the rows may take together; what does not fit shares rows."""

STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200)
"""Seconds between marks that read well."""

RESTING = (18, 27, 52)
"""A row where nothing is lit, sRGB."""


def _short(label: str) -> str:
    return label if len(label) <= 32 else label[:31] + "…"


def time_chart(
    times: Sequence[float] | npt.NDArray[np.float64],
    slots: Bytes,
    labels: Sequence[str],
    path: str | Path,
    *,
    colours: Sequence[str] = (),
    title: str = "",
) -> None:
    """Write a PNG of values over time.

    Args:
        times: seconds of each frame, ascending.
        slots: uint8 array of shape (frames, columns).
        labels: a name for each column, drawn at its row; the first row is on top.
        colours: a colour's name for each column; white where none is given.

    Raises:
        DeviceError: the file cannot be written.
    """
    chart = Chart(labels, path, colours=colours, title=title)
    for t, row in zip(times, slots, strict=True):
        chart.add(float(t), row)
    chart.save()


class Chart:
    """A time chart that takes its frames one by one, in memory that does not grow with the length."""

    def __init__(
        self, labels: Sequence[str], path: str | Path, *, colours: Sequence[str] = (), title: str = ""
    ) -> None:
        self._path, self._title = path, title
        self._peaks = Peaks(len(labels), WIDTH)
        lights = [to_light(rgb(colours[n] if n < len(colours) else "white")) for n in range(len(labels))]
        # Some 900 rows of three pixels fit; with more columns, neighbours share a row, the brightest shown.
        self._share = max(1, -(-len(labels) * 3 // TALLEST))
        self._labels = [_short(labels[n]) for n in range(0, len(labels), self._share)]
        self._lights: Light = np.array(lights[:: self._share], dtype=np.float32).reshape(-1, 3)
        self._height = max(3, min(24, TALLEST // max(1, len(self._labels))))

    def add(self, t: float, values: Bytes) -> None:
        """One frame at `t` seconds: values 0..255, one per column."""
        self._peaks.add(t, values)

    def save(self) -> None:
        """Write the picture.

        Raises:
            DeviceError: the file cannot be written.
        """
        picture = self.picture()
        with whole_file(self._path) as file:
            picture.save(file, "PNG", optimize=False)

    def picture(self) -> Image.Image:
        """The chart of what was added so far."""
        name_size = min(14, max(11, self._height - 6))
        names = font(name_size)
        left = 28 + round(max((names.getlength(label) for label in self._labels), default=0.0))
        top, right, bottom = (64 if self._title else 24), 40, 52
        body = self._body()
        image = Image.new("RGB", (left + WIDTH + right, top + body.height + bottom), GROUND)
        image.paste(body, (left, top))
        pen = ImageDraw.Draw(image)
        if self._title:
            pen.text((left, 20), self._title, font=font(22), fill=INK)
        every = max(1, -(-(name_size + 5) // self._height))
        for row in range(0, len(self._labels), every):
            middle = top + row * self._height + self._height / 2
            pen.text((left - 12, middle), self._labels[row], font=names, fill=INK, anchor="rm")
        floor = top + body.height + 6
        for x, label in self._marks():
            pen.line((left + x, floor, left + x, floor + 6), fill=FAINT)
            pen.text((left + x, floor + 10), label, font=font(14), fill=INK, anchor="ma")
        return image

    def _span(self) -> tuple[float, float]:
        starts, _ = self._peaks.read()
        begin = float(starts[0]) if len(starts) else 0.0
        return begin, max(self._peaks.end, begin + 1e-3)

    def _marks(self) -> list[tuple[float, str]]:
        """Pixels from the left, and what stands there: seconds at round steps."""
        begin, end = self._span()
        step = next((step for step in STEPS if (end - begin) / step <= 14), STEPS[-1])
        while (end - begin) / step > 14:
            step *= 2
        digits = max(0, -int(np.floor(np.log10(step))))
        numbers = range(int(np.ceil(begin / step - 1e-6)), int(np.floor(end / step + 1e-6)) + 1)
        return [
            ((n * step - begin) / (end - begin) * (WIDTH - 1), f"{n * step:.{digits}f} s") for n in numbers
        ]

    def _body(self) -> Image.Image:
        """The rows alone: light on a resting ground with faint lines at the marks."""
        rows, high = len(self._labels), self._height
        base = np.empty((WIDTH, 3), dtype=np.float32)
        base[:] = to_light(RESTING)
        for x, _ in self._marks():
            base[min(WIDTH - 1, round(x))] = to_light(RULE)
        starts, bins = self._peaks.read()
        light = np.repeat(base[None, :, :], max(1, rows), axis=0)
        if rows and len(starts):
            shown = resample(starts, bins, self._span()[1], WIDTH).T
            shown = np.maximum.reduceat(shown, np.arange(0, len(shown), self._share), axis=0)
            # Drive counts as linear light, as on the picture of the rig.
            light += (shown[:, :, None] / np.float32(255.0)) * self._lights[:, None, :]
        full = np.repeat(to_srgb(light), high, axis=0)
        if high >= 6:
            full[high - 1 :: high] = GROUND
        return Image.fromarray(full, "RGB")
