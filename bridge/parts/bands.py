"""Knows: how sound is split into bands that sum flat again, hop by hop.

Must never know: devices, lamps, how loud a band should look.

Crossovers of fourth order after S. H. Linkwitz, "Active Crossover Networks for Noncoincident Drivers" (J.
Audio Eng. Soc. 24, 1976): two Butterworth filters of second order in a row, 24 dB an octave, whose low and
high sides add up to an all-pass. Bands that a later crossover does not split pass that all-pass too, so
that any number of bands adds up flat. Digital by the bilinear transform, warped to be exact at the
crossover. The usual three bands and where they part are common practice, not a standard.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.values.numbers import Floats

CROSSOVERS = (250.0, 2500.0)
"""Hz between bass, middle and treble."""

BLOCK = 128
"""Most frames worked on at a time; a power of two."""

STILL = 4.0
"""Hz under which the ear hears nothing: many inputs stand a little off zero, which is no bass. At 20 Hz that
costs 0.2 dB."""

QUIET = 1e-30
"""Memories below this are taken for 0: sums of numbers too small for the processor's quick path are slow."""

_Section = tuple[float, float, float, float, float]
"""b0, b1, b2, a1, a2 of one filter of second order."""


def low_pass(hz: float, rate: float) -> _Section:
    """Butterworth low pass of second order."""
    k, gain = _warped(hz, rate)
    return k * k * gain, 2 * k * k * gain, k * k * gain, *_poles(k, gain)


def high_pass(hz: float, rate: float) -> _Section:
    """Butterworth high pass of second order."""
    k, gain = _warped(hz, rate)
    return gain, -2 * gain, gain, *_poles(k, gain)


def all_pass(hz: float, rate: float) -> _Section:
    """What a crossover's two sides add up to: all frequencies at the same loudness, later in phase."""
    k, gain = _warped(hz, rate)
    a1, a2 = _poles(k, gain)
    return a2, a1, 1.0, a1, a2


def leave_offset(hz: float, rate: float) -> _Section:
    """High pass of first order, written as one of second order: what stands still goes."""
    k = math.tan(math.pi * hz / rate)
    return 1.0 / (1.0 + k), -1.0 / (1.0 + k), 0.0, (k - 1.0) / (k + 1.0), 0.0


def _warped(hz: float, rate: float) -> tuple[float, float]:
    k = math.tan(math.pi * hz / rate)
    return k, 1.0 / (1.0 + math.sqrt(2.0) * k + k * k)


def _poles(k: float, gain: float) -> tuple[float, float]:
    return 2.0 * (k * k - 1.0) * gain, (1.0 - math.sqrt(2.0) * k + k * k) * gain


@dataclass(frozen=True, slots=True)
class Bands:
    """A splitter for one sample rate.

    The filters are worked out as matrices: from (memory, frames in) to (memory, frames out), one for each
    number of frames that is a power of two, so that numpy does in one product what a loop over frames would.

    Attributes:
        crossovers: Hz, rising. rate: frames a second.
    """

    rate: float
    crossovers: tuple[float, ...]
    _memory: int
    _steps: dict[int, Floats]

    @property
    def count(self) -> int:
        """Bands: one more than crossovers."""
        return len(self.crossovers) + 1

    def start(self, channels: int = 2) -> Floats:
        """The memory before the first frame: silence."""
        return np.zeros((self.count, self._memory, channels))

    def split(self, memory: Floats, block: Floats) -> tuple[Floats, Floats]:
        """Split the next frames.

        Args:
            memory: what `start` or the last `split` gave.
            block: shape (frames, channels); any number of frames.

        Returns:
            The memory after it, and the bands, shape (bands, frames, channels), from the lowest up.
        """
        frames, channels = block.shape
        out = np.empty((self.count, frames, channels))
        at = 0
        while at < frames:
            size = min(BLOCK, 1 << ((frames - at).bit_length() - 1))
            piece = np.broadcast_to(block[at : at + size], (self.count, size, channels))
            both = self._steps[size] @ np.concatenate([memory, piece], axis=1)
            memory, out[:, at : at + size] = both[:, : self._memory], both[:, self._memory :]
            at += size
        return np.where(np.abs(memory) < QUIET, 0.0, memory), out


def make_bands(rate: float, crossovers: Sequence[float] = CROSSOVERS, still: float = 0.0) -> Bands:
    """A splitter.

    Args:
        rate: frames a second.
        crossovers: Hz, rising, over 0; those at or above 0.45 of the rate are left out.
        still: Hz under which the lowest band falls off, 6 dB an octave; 0 lets it hear all, an offset too.

    Raises:
        ValueError: crossovers that do not rise, or are not over 0.
    """
    if any(low >= high for low, high in zip((0.0, *crossovers), crossovers, strict=False)):
        raise ValueError(f"crossovers must rise from over 0: {crossovers}")
    kept = tuple(hz for hz in crossovers if hz < 0.45 * rate)
    chains = [_chain(band, kept, rate) for band in range(len(kept) + 1)]
    if still:
        chains[0].append(leave_offset(still, rate))
    longest = max(1, *(len(chain) for chain in chains))
    chains = [chain + [(1.0, 0.0, 0.0, 0.0, 0.0)] * (longest - len(chain)) for chain in chains]
    return Bands(rate, kept, 2 * longest, _steps(np.array(chains)))


def _chain(band: int, crossovers: Sequence[float], rate: float) -> list[_Section]:
    """The filters of one band, in a row."""
    chain: list[_Section] = []
    for hz in crossovers[:band]:
        chain += [high_pass(hz, rate)] * 2
    if band < len(crossovers):
        chain += [low_pass(crossovers[band], rate)] * 2
    return chain + [all_pass(hz, rate) for hz in crossovers[band + 1 :]]


def _steps(chains: Floats) -> dict[int, Floats]:
    """For each power of two the matrices from (memory, frames in) to (memory, frames out), of every band.

    Found by sending each unit, of memory and of input, through the filters (direct form II transposed).

    Args:
        chains: shape (bands, sections, 5).
    """
    bands, sections, _ = chains.shape
    memory = 2 * sections
    width = memory + BLOCK
    state = np.zeros((bands, memory, width))
    state[:, np.arange(memory), np.arange(memory)] = 1.0
    outs = np.zeros((bands, BLOCK, width))
    steps: dict[int, Floats] = {}
    for n in range(BLOCK):
        signal = np.zeros((bands, width))
        signal[:, memory + n] = 1.0
        for s in range(sections):
            b0, b1, b2, a1, a2 = (chains[:, s, i, None] for i in range(5))
            out = b0 * signal + state[:, 2 * s]
            state[:, 2 * s] = b1 * signal - a1 * out + state[:, 2 * s + 1]
            state[:, 2 * s + 1] = b2 * signal - a2 * out
            signal = out
        outs[:, n] = signal
        size = n + 1
        if size & n == 0:
            used = memory + size
            steps[size] = np.concatenate([state[:, :, :used], outs[:, :size, :used]], axis=1)
    return steps


def loudness(bands: Floats) -> Floats:
    """Root mean square of each band over frames and channels: 0.707 for a full sine on both sides."""
    mean: Floats = np.sqrt(np.mean(bands * bands, axis=(1, 2)))
    return mean
