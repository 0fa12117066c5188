"""Knows: the moving picture of a rig as an MP4, by PyAV where it is installed.

Must never know: takes, clocks, MIDI.

Source: H.264 in MP4 (ISO/IEC 14496-10 and -14), which every browser and workstation plays.
"""

from __future__ import annotations

import importlib
from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np

from bridge.shell.draw import RigPainter
from bridge.shell.draw_paced import Paced
from bridge.shell.draw_rig import Floats, shape_of
from bridge.shell.whole_file import whole_file
from bridge.values.errors import DeviceError
from bridge.values.frame import Frame
from bridge.values.rig import Rig

WIDE, TALL = 1280, 720
CODECS = ("libx264", "h264", "libopenh264", "mpeg4")
"""Tried in this order; which of them a build of PyAV has differs."""


def _even(size: tuple[int, int]) -> tuple[int, int]:
    """Colour is kept at half the size, so both sides must be even."""
    return size[0] // 2 * 2, size[1] // 2 * 2


class Video:
    """A video of the rig that takes its frames one by one, each shown until the next.

    Use it as a context manager; the file has its name once the block ends well.

    Args:
        rig: whose frames come.
        path: where to.
        rate: pictures a second; frames between two of them are joined by maximum, so that a flash stays.
        size: width and height in pixels; by default the rig's own shape within 1280 x 720.

    Raises:
        DeviceError: PyAV is missing, or the file cannot be written.
    """

    def __init__(self, rig: Rig, path: str | Path, rate: float, size: tuple[int, int] | None = None) -> None:
        try:
            self._av: Any = importlib.import_module("av")
        except ImportError as error:
            raise DeviceError(
                "a video needs PyAV, which is not installed", "get it with: pip install av"
            ) from error
        self._rate = Fraction(rate).limit_denominator(1000)
        self._painter = RigPainter(rig, _even(size or shape_of(rig, WIDE, TALL)))
        self._opening = whole_file(path)
        self._path = path
        self._paced = Paced(rig, self._rate, self._show)
        self._picture: Any = None
        self._drawn: Any = None

    def __enter__(self) -> Video:
        file = self._opening.__enter__()
        try:
            self._box = self._av.open(file, "w", format="mp4")
            self._stream = self._codec()
        except BaseException as error:
            self._opening.__exit__(type(error), error, error.__traceback__)
            raise
        return self

    def _codec(self) -> Any:
        for name in CODECS:
            try:
                stream = self._box.add_stream(name, rate=self._rate)
            except (ValueError, self._av.error.FFmpegError):
                continue
            stream.width, stream.height = self._painter.size
            stream.pix_fmt = "yuv420p"
            return stream
        raise DeviceError("this PyAV can write no video", f"it needs one of {', '.join(CODECS)}")

    def add(self, frame: Frame) -> None:
        """One frame of the rig, not before the last one; the first is the beginning of the video."""
        self._paced.add(frame)

    def _show(self, levels: Floats, ticks: int) -> None:
        if self._drawn is None or not np.array_equal(self._drawn, levels):
            self._picture = self._painter.paint(levels)
            self._drawn = levels
        for _ in range(ticks):
            self._encode(self._av.VideoFrame.from_image(self._picture))

    def _encode(self, picture: Any) -> None:
        try:
            for packet in self._stream.encode(picture):
                self._box.mux(packet)
        except self._av.error.FFmpegError as error:
            raise DeviceError(f"cannot write {self._path}: {error}") from error

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if error is not None:
            self._opening.__exit__(kind, error, trace)
            return
        with ExitStack() as closing:
            closing.push(self._opening)
            self._paced.end()
            self._encode(None)
            self._box.close()
