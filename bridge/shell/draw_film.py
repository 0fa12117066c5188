"""Knows: the moving picture of a rig as an animated GIF, written as it comes.

Must never know: clocks, MIDI, where frames come from.

Source: GIF89a specification (1990): header, screen descriptor, graphic control extension, trailer;
the application extension that asks for repeats is common practice.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path
from types import TracebackType

import numpy as np
import numpy.typing as npt
from PIL import GifImagePlugin, Image

from bridge.shell.draw_paced import Paced
from bridge.shell.draw_rig import Floats, RigPainter, shape_of
from bridge.shell.whole_file import whole_file
from bridge.values.frame import Frame
from bridge.values.rig import Rig

RATE = 20
"""Pictures a second: GIF counts in hundredths, and viewers slow down what is faster than two of them."""

MOST_SECONDS = 300.0
"""A film ends here; a longer show belongs in a video, not in a GIF."""

LONGEST_DELAY = 60_000
"""Hundredths of a second one picture may stand (the field holds 65535)."""

WIDE, TALL = 560, 420

CLEAR = 255
"""The index of the palette that means: as it was."""


def _bounds(marks: npt.NDArray[np.bool_]) -> slice:
    """From the first to the last that is set; one place where none is (GIF has no empty picture)."""
    found = np.flatnonzero(marks)
    return slice(int(found[0]), int(found[-1]) + 1) if len(found) else slice(0, 1)


class Film:
    """A film of the rig that takes its frames one by one; only one picture is kept in memory.

    Use it as a context manager; the file has its name once the block ends well. Frames between two
    pictures are joined by maximum, so that a short flash stays visible.

    Args:
        rig: whose frames come.
        path: where to.
        size: width and height in pixels; by default the rig's own shape within 560 x 420.

    Raises:
        DeviceError: the file cannot be written.
    """

    def __init__(self, rig: Rig, path: str | Path, size: tuple[int, int] | None = None) -> None:
        self._rig = rig
        self._painter = RigPainter(rig, size or shape_of(rig, WIDE, TALL), even=True)
        self._opening = whole_file(path)
        self._colours = self._palette()
        self._nearest = self._table()
        self._paced = Paced(rig, Fraction(RATE), self._show)
        self._shown: npt.NDArray[np.uint8] | None = None
        self._waiting: tuple[bytes, int] = (b"", 0)
        self._drawn: Floats | None = None
        self.cut = False
        """True once frames beyond MOST_SECONDS were left out."""

    def __enter__(self) -> Film:
        self._file = self._opening.__enter__()
        width, height = self._painter.size
        self._file.write(b"GIF89a" + struct.pack("<HHBBB", width, height, 0xF7, 0, 0))
        self._file.write(bytes(self._colours.getpalette() or ()).ljust(768, b"\0"))
        self._file.write(b"\x21\xff\x0bNETSCAPE2.0\x03\x01\0\0\0")
        return self

    def _palette(self) -> Image.Image:
        """255 colours for this rig from dark to full, the last kept for what did not change.

        One table for the whole film, so that nothing flickers. Every colour that occurs counts once:
        by area the ground would take them all.
        """
        count = len(self._rig.lamps)
        steps = [self._painter.paint(np.full(count, (n / 15) ** 2)) for n in range(16)]
        pixels = np.concatenate([np.asarray(step.convert("RGBX")).reshape(-1) for step in steps])
        seen = np.unique(pixels.view(np.uint32)).view(np.uint8).reshape(1, -1, 4)
        return Image.fromarray(np.ascontiguousarray(seen[..., :3]), "RGB").quantize(
            255, method=Image.Quantize.MEDIANCUT
        )

    def _table(self) -> npt.NDArray[np.uint8]:
        """For every colour in 64 steps of red, green and blue, the index of the nearest in the palette."""
        steps = np.arange(64, dtype=np.uint8) * 4 + 2
        cube = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(512, 512, 3)
        found = Image.fromarray(cube, "RGB").quantize(palette=self._colours, dither=Image.Dither.NONE)
        return np.asarray(found).reshape(64, 64, 64)

    def add(self, frame: Frame) -> None:
        """One frame of the rig, not before the last one."""
        if frame.t >= MOST_SECONDS:
            self.cut = True
            return
        self._paced.add(frame)

    def _show(self, levels: Floats, ticks: int) -> None:
        """Let levels stand for `ticks`."""
        delay = ticks * (100 // RATE)
        if self._drawn is not None and np.array_equal(self._drawn, levels):
            self._waiting = (self._waiting[0], min(LONGEST_DELAY, self._waiting[1] + delay))
            return
        self._flush()
        self._drawn = levels
        red, green, blue = np.moveaxis(np.asarray(self._painter.paint(levels)) >> 2, -1, 0)
        now = self._nearest[red, green, blue]
        rows, columns = slice(0, now.shape[0]), slice(0, now.shape[1])
        fresh = now
        if self._shown is not None:
            # Only the part that changed is stored, and in it what stays is left clear.
            changed = now != self._shown
            rows, columns = _bounds(changed.any(axis=1)), _bounds(changed.any(axis=0))
            fresh = np.where(changed, now, np.uint8(CLEAR))[rows, columns]
        self._shown = now
        picture = Image.fromarray(np.ascontiguousarray(fresh), "P")
        data = b"".join(GifImagePlugin.getdata(picture, (columns.start, rows.start)))
        self._waiting = (data, delay)

    def _flush(self) -> None:
        data, delay = self._waiting
        if data:
            # Leave each picture in place (disposal 1), and let index CLEAR show it through.
            self._file.write(b"\x21\xf9\x04\x05" + struct.pack("<HBB", delay, CLEAR, 0) + data)
        self._waiting = (b"", 0)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if error is not None:
            self._opening.__exit__(kind, error, trace)
            return
        with ExitStack() as closing:
            closing.push(self._opening)
            self._paced.end()
            self._flush()
            self._file.write(b"\x3b")


def gif(rig: Rig, frames: Iterable[Frame], path: str | Path, size: tuple[int, int] | None = None) -> None:
    """Write a film of the frames; see `Film`.

    Raises:
        DeviceError: the file cannot be written.
    """
    with Film(rig, path, size) as film:
        for frame in frames:
            film.add(frame)
