"""Knows: how sound at one sample rate becomes sound at another, block by block.

Must never know: files, devices, or what the sound is.

Rational resampling: the ratio of the rates in lowest terms is up / down; think of `up - 1` zeros between two
samples, a low pass, and every `down`-th result kept (Crochiere and Rabiner, "Multirate Digital Signal
Processing", 1983, chapter 2). Only results that are kept, and only samples that are not zero, are computed.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from bridge.shell.song.sound_file import Sound

REACH = 48
"""Zero crossings of the sinc on each side: at 44100 Hz flat to 19.4 kHz."""

ATTENUATION = 90.0
"""Decibels by which what lies beyond the band is put down: under the last bit but one of a 16-bit file."""

BETA = 0.1102 * (ATTENUATION - 8.7)
TRANSITION = (ATTENUATION - 7.95) / (2.285 * 2 * REACH * math.pi)
"""Shape of the Kaiser window, and width of the transition in half sample rates: Kaiser's formulas (1974)."""

FINEST = 4096
"""Largest denominator of the ratio. All rates in use are exact; an odd one (44056 to 48000) is at most
1 / FINEST squared off, 0.06 millionths, which is 0.04 ms in ten minutes."""


def low_pass(up: int, down: int) -> npt.NDArray[np.float64]:
    """The filter at `up` times the source's rate: windowed sinc, odd length, sum `up`.

    It ends where the lower of the two rates can no longer tell a tone from its mirror image.
    """
    wide = max(up, down)
    half = REACH * wide
    cut = 1.0 - TRANSITION / 2.0
    x = np.arange(-half, half + 1) / wide
    taps = np.sinc(x * cut) * np.kaiser(2 * half + 1, BETA)
    return np.asarray(taps * (up / taps.sum()), dtype=np.float64)


class Resampler:
    """A stream of sound from one rate to another. The first sample out is the first sample in.

    Args:
        source, target: frames a second, at least 1.
        channels: of the sound.
    """

    def __init__(self, source: int, target: int, channels: int = 2) -> None:
        ratio = Fraction(target, source).limit_denominator(FINEST)
        self._up, self._down = ratio.numerator, ratio.denominator
        self._channels = channels
        self._same = self._up == self._down
        if self._same:
            return
        taps = low_pass(self._up, self._down)
        half = len(taps) // 2
        # Sample j of the source meets result n with the tap half + n * down - j * up: for each phase
        # (n * down) % up the taps that meet samples lie `up` apart. One row of the bank, oldest first.
        self._reach = -(-half // self._up)
        self._width = 2 * self._reach + 1
        spread = np.zeros(self._width * self._up)
        first = self._reach * self._up - half
        spread[first : first + len(taps)] = taps
        bank = np.zeros((self._up, self._width), dtype=np.float32)
        padded = np.concatenate([spread, np.zeros(self._up)])
        for phase in range(self._up):
            bank[phase] = padded[phase : phase + self._width * self._up : self._up][::-1]
        self._bank = bank
        self._held = np.zeros((self._reach, channels), dtype=np.float32)
        # Index, in the source, of the first sample in `_held`; number of the next result.
        self._first = -self._reach
        self._next = 0

    def feed(self, block: Sound) -> Sound:
        """The sound that a block makes possible; what needs later samples waits for them."""
        if self._same:
            return block
        self._held = np.concatenate([self._held, block])
        # Result n needs samples up to floor(n * down / up) + reach.
        last = self._first + len(self._held) - 1 - self._reach
        return self._make(((last + 1) * self._up - 1) // self._down + 1)

    def finish(self) -> Sound:
        """What was still waiting, silence taken for what would follow; nothing may be fed after."""
        if self._same:
            return np.zeros((0, self._channels), dtype=np.float32)
        samples = self._first + len(self._held)
        silence = np.zeros((self._reach, self._channels), dtype=np.float32)
        self._held = np.concatenate([self._held, silence])
        return self._make(-(-samples * self._up // self._down))

    def _make(self, until: int) -> Sound:
        """Results from the next one to `until`, without it; forgets the samples nobody needs any more."""
        if until <= self._next:
            return np.zeros((0, self._channels), dtype=np.float32)
        at = np.arange(self._next, until, dtype=np.int64) * self._down
        rows = self._bank[at % self._up]
        starts = at // self._up - self._reach - self._first
        out = np.empty((len(at), self._channels), dtype=np.float32)
        for channel in range(self._channels):
            windows = np.lib.stride_tricks.sliding_window_view(self._held[:, channel], self._width)
            np.einsum("nt,nt->n", windows[starts], rows, out=out[:, channel])
        self._next = until
        drop = until * self._down // self._up - self._reach - self._first
        if drop > 0:
            self._held = self._held[drop:]
            self._first += drop
        return out
