"""Knows: when something is struck in a sound, in which band and how hard; hop by hop.

Must never know: devices, lamps, beats.

Spectral flux: how much louder each part of the spectrum is than a moment before, on a logarithmic scale,
with a maximum over neighbours so that a trembling tone is no stroke (S. Böck and G. Widmer, "Maximum filter
vibrato suppression for onset detection", DAFx 2013); a stroke is a peak over a threshold that follows the
music (S. Dixon, "Onset detection revisited", DAFx 2006), chosen without looking ahead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bridge.values.numbers import Floats

HOP = 0.005
"""Seconds from one look at the spectrum to the next, about."""

WINDOW = 0.023
"""Seconds of sound in one look, about: short enough to part quick strokes, long enough for bass."""

LOWEST, HIGHEST, PER_OCTAVE = 30.0, 16000.0, 6
"""Hz of the lowest and highest part of the spectrum, and parts in an octave."""

SCALE = 100.0
"""Where the scale turns from linear to logarithmic: 40 dB under the loudest of late."""

QUIET = 0.001
"""Loudness, 1 for a full sine, that counts as loudest at least: the hiss of an empty line is no music."""

LAG = 2
"""Hops between the two spectra that are compared."""

AVERAGE = 0.25
"""Seconds in which the threshold follows the flux."""

OVER, LEAST = 1.5, 0.28
"""A stroke rises to so many times the average, and this much over it."""

GAP = 0.045
"""Seconds between two strokes in one band."""

DELAY = 0.017
"""Seconds from a stroke to the end of the look that shows it best, as measured on songs."""

FIRM = 1.0
"""Flux of a stroke that counts as hard where there were no harder ones."""

FADE = 5.0
"""Seconds in which the hardest stroke, and the loudest sound, of late falls by half."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """Something was struck.

    Args:
        at: seconds since the sound's beginning. band: 0 for the lowest.
        strength: 0..1, measured against the hardest of late in this band.
    """

    at: float
    band: int
    strength: float


class Onsets:
    """Strokes in a stream of sound.

    Args:
        rate: frames a second.
        crossovers: Hz between bands, rising.

    Attributes:
        hop: frames from one look to the next.
    """

    def __init__(self, rate: float, crossovers: Sequence[float]) -> None:
        self.rate = rate
        self.hop = max(16, round(rate * HOP))
        size = 1 << round(np.log2(rate * WINDOW))
        self._window = np.hanning(size)
        self._filters, bands = _filters(rate, size, crossovers)
        rows = [bands == band for band in range(len(crossovers) + 1)]
        self._members: Floats = np.stack([row / max(1, row.sum()) for row in rows])
        self._full = 0.25 * size * np.sqrt(2.0)
        self._loudest = QUIET
        self._held = np.zeros(size, dtype=np.complex128)
        self._fresh = 0
        self._hops = 0
        self._past = [np.zeros(len(self._filters))] * LAG
        count = len(crossovers) + 1
        self._average = np.zeros(count)
        self._flux = [np.zeros(count)] * 3
        self._last = np.full(count, -1.0)
        self._hardest = np.full(count, FIRM)

    def feed(self, block: Floats) -> tuple[list[Stroke], list[tuple[float, Floats]]]:
        """Take the next frames.

        Args:
            block: shape (frames, 2), left and right; any number of frames.

        Returns:
            Strokes, and for a beat follower (moment in seconds, flux of every band) of every hop that ended.
        """
        # Left and right as one complex signal: one transform, and opposite phases do not cancel.
        signal = block[:, 0] + 1j * block[:, 1]
        strokes: list[Stroke] = []
        fluxes: list[tuple[float, Floats]] = []
        at = 0
        while at < len(signal):
            count = min(self.hop - self._fresh, len(signal) - at)
            self._held = np.concatenate([self._held[count:], signal[at : at + count]])
            self._fresh += count
            at += count
            if self._fresh == self.hop:
                self._fresh = 0
                self._hops += 1
                flux = self._look()
                moment = self._hops * self.hop / self.rate
                strokes += self._pick(flux, moment)
                fluxes.append((moment - DELAY, flux))
        return strokes, fluxes

    def _look(self) -> Floats:
        spectrum = np.fft.fft(self._held * self._window)
        power = spectrum.real**2 + spectrum.imag**2
        half = len(power) // 2
        power = power[1:half] + power[:half:-1]
        heard = np.sqrt(self._filters @ power) / self._full
        # What is quiet throughout is still music: measured against its own loudest.
        self._loudest = max(QUIET, float(heard.max()), self._loudest * 0.5 ** (self.hop / self.rate / FADE))
        loud = np.log1p(SCALE / self._loudest * heard)
        old = self._past.pop(0)
        self._past.append(loud)
        wide = old.copy()
        np.maximum(wide[1:], old[:-1], out=wide[1:])
        np.maximum(wide[:-1], old[1:], out=wide[:-1])
        flux: Floats = self._members @ np.maximum(0.0, loud - wide)
        return flux

    def _pick(self, flux: Floats, moment: float) -> list[Stroke]:
        """A peak is known one hop after it."""
        before, peak, _ = self._flux[1], self._flux[2], None
        self._flux = [before, peak, flux]
        seconds = self.hop / self.rate
        threshold = np.maximum(OVER * self._average, self._average + LEAST)
        at = moment - seconds - DELAY
        found = (peak >= before) & (peak > flux) & (peak > threshold) & (at - self._last > GAP)
        self._average += (flux - self._average) * (1.0 - np.exp(-seconds / AVERAGE))
        self._hardest = np.maximum(self._hardest * 0.5 ** (seconds / FADE), FIRM)
        strokes = []
        for band in np.flatnonzero(found):
            self._hardest[band] = max(self._hardest[band], peak[band])
            self._last[band] = at
            strokes.append(Stroke(max(0.0, at), int(band), float(min(1.0, peak[band] / self._hardest[band]))))
        return strokes


def _filters(rate: float, size: int, crossovers: Sequence[float]) -> tuple[Floats, npt.NDArray[np.intp]]:
    """Triangles over the bins of one side of a transform (without the first), and the band of each.

    Returns:
        Shape (parts, size / 2 - 1), each a share of 1 at its peak, and the band of each part.
    """
    bins = np.arange(1, size // 2)
    octaves = np.log2(min(HIGHEST, 0.45 * rate) / LOWEST)
    centres = LOWEST * 2.0 ** (np.arange(int(octaves * PER_OCTAVE) + 3) / PER_OCTAVE)
    # Low down parts are narrower than a bin: one part a bin there.
    places = np.unique(np.round(centres * size / rate))
    places = places[(places >= 1) & (places < size // 2)]
    edges = np.concatenate([[places[0] - 1], places, [places[-1] + 1]])
    rows = [np.interp(bins, edges[i : i + 3], (0.0, 1.0, 0.0)) for i in range(len(places))]
    bands = np.searchsorted(np.asarray(crossovers), places * rate / size)
    return np.array(rows), bands
