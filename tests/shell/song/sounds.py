"""Sounds made for tests: tones, and ramps whose every sample says which one it is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from bridge.shell.song.sound_file import Sound


def tone(hz: float, rate: int, seconds: float, level: float = 0.5) -> Sound:
    """A sine on both channels."""
    t = np.arange(round(rate * seconds)) / rate
    one = level * np.sin(2.0 * np.pi * hz * t)
    return np.repeat(one[:, None], 2, axis=1).astype(np.float32)


def ramp(rate: int, seconds: float) -> Sound:
    """Sample n is n / 2**20 on the left and its negative on the right: exact in 24 bits and in a float."""
    n = np.arange(round(rate * seconds), dtype=np.float32) / np.float32(2**20)
    return np.stack([n, -n], axis=1)


def write(path: Path, sound: Sound, rate: int, subtype: str | None = None) -> Path:
    """A file of the kind that the name ends in."""
    soundfile.write(path, sound, rate, subtype=subtype)
    return path
