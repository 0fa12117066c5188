"""Knows: how an audio file is opened and read as two channels of sound, and what is wrong with it.

Must never know: devices, threads, or when a sample is heard.

Read by soundfile (libsndfile): WAV, FLAC, OGG, MP3, AIFF and more.
"""

from __future__ import annotations

import importlib
import os
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from bridge.values.errors import DeviceError, FileError, Problem

Sound = npt.NDArray[np.float32]
"""Samples -1..1 of shape (frames, channels)."""

RIGHT = "give a WAV, FLAC, OGG or MP3 file"

SLOWEST, FASTEST = 1_000, 1_000_000
"""Frames a second a file may have; a header that says otherwise is broken."""

RUN_UP = 1.0
"""Seconds read and thrown away after a seek: an MP3 frame needs up to nine frames before it (its bit
reservoir), and libsndfile 1.2.2 was seen to give silence until then; from half a second on it was exact."""

GUESSED = 0.2
"""Seconds by which a file may be shorter than it says: an MP3 file without a table of frames only guesses."""


class SoundFile:
    """An audio file open for reading.

    Args:
        path: the file.

    Attributes:
        rate: frames a second.
        length: seconds.
        trouble: why reading ended before the end; empty where it did not.

    Raises:
        FileError: there is no such file, or it holds no sound that can be read.
        DeviceError: the library that reads audio files is missing.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self._name = os.fspath(path)
        self._library = soundfile()
        self.trouble = ""
        _must_be_a_file(Path(path))
        try:
            self._file = _unsought(self._library)(self._name)
        except (self._library.LibsndfileError, OSError, TypeError) as error:
            # TypeError: a name that ends in .raw, which says nothing of what is in it.
            raise _flawed(self._name, f"this cannot be read as sound ({_short(error)})") from error
        self.rate = int(self._file.samplerate)
        if not SLOWEST <= self.rate <= FASTEST:
            self._file.close()
            raise _flawed(self._name, f"its sample rate of {self.rate} Hz cannot be played")
        self.length = float(self._file.frames / self.rate)
        self._at = 0
        if self.length <= 0.0:
            self._file.close()
            raise _flawed(self._name, "there is no sound in this file")

    def seek(self, seconds: float) -> float:
        """Go to a second, at most the end; the second gone to, which a frame begins."""
        frame = min(int(self._file.frames), max(0, round(seconds * self.rate)))
        if frame == self._at:
            return frame / self.rate
        self._at = frame
        before = max(0, frame - round(RUN_UP * self.rate))
        try:
            self._file.seek(before)
            if frame > before:
                self._file.read(frame - before, dtype="float32")
        except (self._library.LibsndfileError, RuntimeError) as error:
            self.trouble = f"{self._name} cannot be played from {seconds:.1f} s ({_short(error)})"
        return frame / self.rate

    def read(self, frames: int) -> Sound:
        """The next frames as left and right; fewer at the end, none after it, and none after a failure."""
        if self.trouble:
            return np.zeros((0, 2), dtype=np.float32)
        try:
            block = self._file.read(frames, dtype="float32", always_2d=True)
        except (self._library.LibsndfileError, RuntimeError, MemoryError) as error:
            self.trouble = f"{self._name} cannot be read any further ({_short(error)})"
            return np.zeros((0, 2), dtype=np.float32)
        self._at += len(block)
        if len(block) < frames and self._at < self._file.frames - GUESSED * self.rate:
            self.trouble = f"{self._name} is cut off at {self._at / self.rate:.1f} of {self.length:.1f} s"
        return to_stereo(block)

    def close(self) -> None:
        """Give the file back; safe to call twice."""
        self._file.close()


def length_of(path: str | os.PathLike[str]) -> float:
    """Seconds of sound in a file.

    Raises:
        FileError, DeviceError: as `SoundFile`.
    """
    file = SoundFile(path)
    file.close()
    return file.length


def to_stereo(block: Sound) -> Sound:
    """Left and right of any number of channels, within -1..1 and without NaN.

    One channel goes to both sides. From the third on channels are taken for centre, bass and surround and go
    to both sides 3 dB down; the sum is then made quiet enough for all of them to be loud at once.
    """
    channels = block.shape[1]
    if channels == 1:
        out = np.repeat(block, 2, axis=1)
    elif channels == 2:
        out = block
    else:
        # What a file of floats may hold adds up to no number; that is seen to below, and is no news.
        with np.errstate(over="ignore", invalid="ignore"):
            rest = block[:, 2:].sum(axis=1, keepdims=True) * np.float32(0.7071)
            out = (block[:, :2] + rest) / np.float32(1.0 + 0.7071 * (channels - 2))
    # Files of floats may hold anything, and some decoders overshoot.
    return np.clip(np.nan_to_num(out, nan=0.0, posinf=1.0, neginf=-1.0), -1.0, 1.0)


def soundfile() -> Any:
    """The module soundfile, imported when first needed: it loads a library of the system.

    Raises:
        DeviceError: it is not there, or its library is not.
    """
    try:
        return importlib.import_module("soundfile")
    except ImportError as error:
        raise DeviceError("soundfile is not installed", "run 'pip install soundfile'") from error
    except OSError as error:
        remedy = "run 'sudo apt install libsndfile1', or 'pip install --force-reinstall soundfile'"
        raise DeviceError(f"the library libsndfile does not load ({error})", remedy) from error


def _unsought(module: Any) -> Any:
    """A soundfile.SoundFile that reads straight on.

    The class itself seeks to where it already is after each read, which makes an MP3 decoder begin anew:
    read in blocks of 2048 frames, all but the first few were silent (soundfile 0.14, libsndfile 1.2.2).
    """
    return type("Unsought", (module.SoundFile,), {"seekable": lambda _self: False})


def _must_be_a_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise _flawed(str(path), "this is a folder")
        if not path.exists():
            raise FileError([Problem(0, 0, "there is no such file", "check its name", repr(str(path))[1:-1])])
        if not path.is_file():
            # A pipe would hold the reader for ever.
            raise _flawed(str(path), "this is not a plain file")
        with path.open("rb"):
            pass
    except (OSError, ValueError) as error:
        raise _flawed(str(path), f"this cannot be read: {_short(error)}") from error


def _flawed(name: str, what: str) -> FileError:
    return FileError([Problem(0, 0, what, RIGHT, name)])


def _short(error: BaseException) -> str:
    """An error's words without its file's name and full stop."""
    text = str(getattr(error, "strerror", None) or getattr(error, "error_string", None) or error)
    return text.strip().rstrip(".") or type(error).__name__
