"""Knows: sound files made for tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

RATE = 48000


def beat_sound(seconds: float, bpm: float = 120.0) -> np.ndarray:
    """A low thump on each beat and a high tick half way, from second 0.5 on; shape (frames, 2)."""
    out = np.zeros(round(seconds * RATE))
    t = np.arange(round(0.1 * RATE)) / RATE
    thump = 0.7 * np.sin(2 * np.pi * 70 * t) * np.exp(-t / 0.04)
    tick = 0.2 * np.sin(2 * np.pi * 8000 * t) * np.exp(-t / 0.01)
    at, n = 0.5, 0
    while at < seconds - 0.2:
        sound = thump if n % 2 == 0 else tick
        out[round(at * RATE) :][: len(sound)] += sound
        at, n = at + 30.0 / bpm, n + 1
    return np.stack([out, out], axis=1)


def write(path: Path, sound: np.ndarray) -> Path:
    """The sound as a WAV file."""
    soundfile.write(path, sound, RATE)
    return path
