"""Knows: how to ask librosa, where it is installed, for the beats of a whole sound file.

Must never know: which beats are better, where beats are kept, lamps.

Only the program that analyses a file ahead may ask: librosa takes seconds and some 200 MB to load.
"""

from __future__ import annotations

import functools
import importlib
import importlib.metadata
import os
import warnings

import numpy as np
import numpy.typing as npt

from bridge.shell.song.sound_file import SoundFile

Mono = npt.NDArray[np.float32]

RATE = 22050
"""Frames a second at which librosa's finder was tuned."""

PIECE = 1.0
"""Seconds read at a time."""

LONGEST = 900.0
"""Seconds of sound it is asked about: it holds the whole spectrum at once, some 20 MB a minute."""


@functools.cache
def version() -> str:
    """Which librosa is installed; empty for none. Loads nothing."""
    try:
        return importlib.metadata.version("librosa")
    except importlib.metadata.PackageNotFoundError:
        return ""


def beats_by_librosa(path: str | os.PathLike[str]) -> list[float]:
    """Seconds of each beat (D. Ellis, "Beat tracking by dynamic programming", J. New Music Research 2007).

    Returns:
        Rising seconds; none where librosa is missing, the file very long, or where it cannot tell: it is an
        adviser, and never needed.

    Raises:
        FileError, DeviceError: as `SoundFile`.
    """
    if not version():
        return []
    sound, rate = _mono(path)
    if not len(sound):
        return []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            librosa = importlib.import_module("librosa")
            if rate != RATE:
                sound = librosa.resample(sound, orig_sr=rate, target_sr=RATE)
            _, beats = librosa.beat.beat_track(y=sound, sr=RATE, units="time")
    except Exception:
        # Whatever is wrong with it (a half installation, a Python it does not know yet), our beats will do.
        return []
    return [float(at) for at in np.atleast_1d(beats)]


def _mono(path: str | os.PathLike[str]) -> tuple[Mono, float]:
    """Left and right together, and the rate; nothing of a file that is too long."""
    file = SoundFile(path)
    pieces: list[Mono] = []
    try:
        if file.length > LONGEST:
            return np.zeros(0, dtype=np.float32), file.rate
        while len(block := file.read(round(PIECE * file.rate))):
            pieces.append(block.mean(axis=1, dtype=np.float32))
    finally:
        file.close()
    return (np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.float32)), file.rate
