"""Knows: films, read by PyAV frame by frame; what is missing where PyAV is not installed.

Must never know: lamps, mappings, single pictures.

Matroska, WebM and MP4 say how long they are, so one that is cut off is an error; AVI does not (`cut_short`).

The file is handed over open, and only its own bytes can be read: a film cannot make the decoder fetch
another file or an address.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from bridge.parts.sampling import Bytes
from bridge.shell.pictures.images import Frame, shape, too_large
from bridge.shell.pictures.limits import MOST_FRAME, MOST_SECONDS, PictureError

CONTAINERS = (
    *("mov", "mp4", "matroska", "webm", "avi", "mpegts", "mpeg", "ogg", "flv", "asf", "mxf"),
    *("h264", "hevc", "m4v", "mpegvideo", "ivf", "nut", "yuv4mpegpipe"),
)
"""Only what holds frames itself: no list of other files, and no text that is drawn as a picture."""

MISSING = (0.25, 0.03)
"""Seconds, and share of the stated length, that may lack at the end before a film counts as cut off."""

OPTIONS = {"protocol_whitelist": "pipe", "format_whitelist": ",".join(CONTAINERS)}

USUAL_GAP = 0.04
"""Seconds of the last frame of a film that has no other."""


class Film:
    """An open film.

    Raises:
        PictureError: it is broken, too large, has no pictures, or PyAV is missing.
    """

    def __init__(self, path: Path) -> None:
        try:
            import av
        except ImportError:
            raise PictureError(
                "this is no picture, and films need PyAV, which is not installed",
                "pip install av, or give a PNG, JPEG, GIF or WebP",
            ) from None
        self._file = path.open("rb")
        self.moves = True
        self.length = 0.0
        """Seconds of all of it, known once the last frame was read."""
        self._box: Any = None
        try:
            self._open(av)
        except PictureError:
            self.close()
            raise
        except Exception as error:
            # A decoder raises what it likes at bytes that are not its own.
            self.close()
            raise _unreadable(error) from error

    def _open(self, av: Any) -> None:
        self._box = av.open(self._file, options=OPTIONS)
        streams = self._box.streams.video
        if not streams:
            raise PictureError("there is no picture in this film", "give one that has a video track")
        self._stream = streams[0]
        self._stream.thread_type = "AUTO"
        self.size = (int(self._stream.width or 0), int(self._stream.height or 0))
        if self.size[0] * self.size[1] > MOST_FRAME:
            raise too_large(f"a film of {shape(self.size)}", MOST_FRAME)
        stated, base = self._stream.duration, self._stream.time_base
        if stated and base:
            self._stated = float(stated * base)
        else:
            self._stated = float(self._box.duration or 0) / 1_000_000
        if self._stated > MOST_SECONDS:
            raise too_long(self._stated)

    def close(self) -> None:
        """Let go of the file."""
        if self._box is not None:
            self._box.close()
        self._file.close()

    def frames(self) -> Iterator[Frame]:
        """The frames at the times they have; of two at one time the first.

        Raises:
            PictureError: it is broken, cut off, or has no frame.
        """
        first, last, gap = math.nan, -1.0, USUAL_GAP
        try:
            for frame in self._box.decode(self._stream):
                time = float(frame.time) if frame.time is not None else last + gap
                first = time if math.isnan(first) else first
                start = time - first
                if start <= last:
                    continue
                if start > MOST_SECONDS:
                    raise too_long(start)
                gap = start - last if last >= 0.0 else gap
                if frame.width * frame.height > MOST_FRAME:
                    raise too_large(f"a film of {shape((frame.width, frame.height))}", MOST_FRAME)
                pixels: Bytes = np.asarray(frame.to_ndarray(format="rgb24"))
                yield start, pixels
                last = start
        except (PictureError, GeneratorExit):
            raise
        except Exception as error:
            raise _unreadable(error) from error
        if last < 0.0:
            raise PictureError("there is no frame in this film", "give another")
        self.length = last + gap
        if self.length < self._stated * (1.0 - MISSING[1]) - MISSING[0]:
            what = f"the film is cut off: of {self._stated:.1f} s only {self.length:.1f} s can be read"
            raise PictureError(what, "copy or save it again")
        self.length = self._stated if self._stated > last else self.length


def too_long(seconds: float) -> PictureError:
    """What is said of a film that is too long."""
    what = f"{seconds:.0f} s are too long for a film"
    return PictureError(what, f"at most {MOST_SECONDS:.0f} s; cut out what you need")


def _unreadable(error: Exception) -> PictureError:
    reason = " ".join(str(getattr(error, "strerror", "") or error).split())[:100] or type(error).__name__
    return PictureError(f"this is neither a picture nor a film that can be read ({reason})", "give another")
