"""Knows: where the beat is in music that is heard, and how fast it goes, as the music comes.

Must never know: spectra, devices, lamps; it is handed one number a hop, how much is struck now.

A hidden Markov model whose states are a tempo and a place within the beat, filtered forwards, so that no look
ahead is needed (N. Whiteley, A. Cemgil and S. Godsill, "Bayesian modelling of temporal structure in musical
audio", ISMIR 2006; states as in F. Krebs, S. Böck and G. Widmer, "An efficient state-space model for joint
tempo and meter tracking", ISMIR 2015). That people tap nearest to two beats a second weighs the tempi (D.
Moelants, "Preferred tempo reconsidered", ICMPC 2002).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bridge.values.numbers import Floats

Whole = npt.NDArray[np.intp]

FRAME = 0.01
"""Seconds of one step of the model."""

SLOWEST, FASTEST = 55.0, 200.0
"""Beats a minute that are looked for."""

STIFF = 80.0
"""How little the tempo changes from beat to beat."""

BUMP = 0.018
"""Seconds by which a stroke may be off its place (one standard deviation)."""

PLACES = ((0.0, 1.0), (0.5, 0.5), (0.25, 0.3), (0.75, 0.3), (1 / 3, 0.3), (2 / 3, 0.3))
"""Places within a beat, and how hard a stroke is expected there; silence counts against the beat alone."""

TRUST = 5.0
"""How much one step's strokes change belief."""

USUAL, WIDE = 116.0, 0.55
"""Beats a minute that people tap most, and how far they stray, in octaves."""

WEIGHT = 0.03
"""How much each step heeds that."""

RECENT = 4.0
"""Seconds in which the loudest of late falls by half."""

NEAR = 0.03
"""Tempi that differ by this share say the same."""

REST = 4.0
"""Seconds without any stroke after which there is no beat any more."""

STRUCK = 0.02
"""What counts as a stroke at all, on the scale of `struck`."""

LEAD = 0.06
"""Seconds ahead at which a beat is told: what the sound and its analysis take, and a frame."""


@dataclass(frozen=True, slots=True)
class Found:
    """A beat to come.

    Args:
        at: seconds of the sound. bpm: tempo. sure: 0..1, how much of all belief agrees.
    """

    at: float
    bpm: float
    sure: float


class _Model:
    """The states (a length of beat, a place within it), how they follow each other and what they expect."""

    def __init__(self) -> None:
        first, last = math.floor(60 / FASTEST / FRAME), math.ceil(60 / SLOWEST / FRAME)
        self.lengths: Whole = np.arange(first, last + 1, dtype=np.intp)
        self.starts: Whole = np.concatenate([[0], np.cumsum(self.lengths)[:-1]])
        self.ends: Whole = self.starts + self.lengths - 1
        place = np.concatenate([np.arange(n) for n in self.lengths])
        self.length: Whole = np.repeat(self.lengths, self.lengths)
        self.share: Floats = place / self.length
        self.expected, self.missed, self.kind = _kinds(self.share, self.length)
        ratio = self.lengths[None, :] / self.lengths[:, None]
        change = np.exp(-STIFF * np.abs(ratio - 1.0))
        self.change: Floats = change / change.sum(axis=1, keepdims=True)
        octaves = np.log2(60 / FRAME / self.length / USUAL)
        self.taste: Floats = -0.5 * (octaves / WIDE) ** 2

    def fits(self, act: float) -> Floats:
        """How well a stroke of 0..1 fits each kind of state, as a logarithm."""
        over = np.maximum(0.0, act - self.expected)
        under = np.maximum(0.0, self.expected - act)
        fits: Floats = -TRUST * (over * over + self.missed * under * under)
        return fits


class BeatFollower:
    """Follows the beat of one stream.

    Attributes:
        bpm: beats a minute; 0 before anything was heard. sure: 0..1.
    """

    def __init__(self) -> None:
        self._model = model = _Model()
        start = np.exp(model.taste) / model.length
        self._belief: Floats = start / start.sum()
        self._usual: Floats = np.exp(WEIGHT * model.taste)
        self._loudest = 0.0
        self._still = REST
        self._next = -math.inf
        self.bpm = 0.0
        self.sure = 0.0

    def feed(self, moment: float, struck: float) -> Found | None:
        """One step: what was struck in the hundredth of a second that ends at `moment`.

        Args:
            moment: seconds of the sound; FRAME more with each call.
            struck: the mean flux of all bands, 0 or more; its scale matters only for what counts as silence.

        Returns:
            The next beat once it is near, told once.
        """
        self._still = 0.0 if struck > STRUCK else self._still + FRAME
        if self._still > REST:
            self.sure = 0.0
            return None
        self._loudest = max(struck, self._loudest * 0.5 ** (FRAME / RECENT), 1e-9)
        act = struck / self._loudest
        belief, model = self._belief, self._model
        moved = np.empty_like(belief)
        moved[1:] = belief[:-1]
        moved[model.starts] = belief[model.ends] @ model.change
        moved *= np.exp(model.fits(act))[model.kind]
        moved *= self._usual
        total = moved.sum()
        self._belief = moved / total
        return self._tell(moment)

    def _tell(self, moment: float) -> Found | None:
        best = int(np.argmax(self._belief))
        length = self._model.length[best]
        near = np.abs(self._model.length - length) <= 1 + NEAR * length
        agree = self._belief * near
        self.sure = float(agree.sum())
        # Between whole steps: the mean of what agrees.
        frames = float((agree * self._model.length).sum()) / self.sure
        self.bpm = 60.0 / FRAME / frames
        left = (1.0 - self._model.share[best]) * frames * FRAME
        at = moment + left
        if left <= LEAD and at - self._next > 0.5 * frames * FRAME:
            self._next = at
            return Found(at, self.bpm, self.sure)
        return None


def whole(struck: Floats) -> list[tuple[float, float]]:
    """The beats of a whole piece, looking ahead and back (A. Viterbi, 1967).

    Args:
        struck: what was struck in each hundredth of a second, 0 or more.

    Returns:
        (second, beats a minute) of each beat.
    """
    if len(struck) < 2 or struck.max() <= STRUCK:
        return []
    model = _Model()
    with np.errstate(divide="ignore"):
        change = np.log(model.change)
    best = model.taste - np.log(model.length)
    usual = WEIGHT * model.taste
    came = np.zeros((len(struck), len(model.lengths)), dtype=np.int16)
    rows = np.arange(len(model.lengths))
    loudest = 0.0
    for n, now in enumerate(struck):
        loudest = max(float(now), loudest * 0.5 ** (FRAME / RECENT), 1e-9)
        over = best[model.ends][:, None] + change
        came[n] = over.argmax(axis=0)
        best[1:] = best[:-1].copy()
        best[model.starts] = over[came[n], rows]
        best += usual + model.fits(float(now) / loudest)[model.kind]
    state = int(best.argmax())
    tempo = int(np.searchsorted(model.starts, state, side="right")) - 1
    n = len(struck) - 1 - (state - int(model.starts[tempo]))
    starts: list[int] = []
    while n >= 0:
        starts.append(n)
        tempo = int(came[n, tempo])
        n -= int(model.lengths[tempo])
    moments = [(n + 1) * FRAME for n in reversed(starts)]
    return [(at, _tempo(moments, i)) for i, at in enumerate(moments)]


def _tempo(moments: list[float], i: int) -> float:
    """Beats a minute around a beat."""
    low, high = max(0, i - 4), min(len(moments) - 1, i + 4)
    return 60.0 * (high - low) / (moments[high] - moments[low]) if high > low else 0.0


def _kinds(share: Floats, length: Whole) -> tuple[Floats, Floats, Whole]:
    """For each kind of state how hard a stroke is expected and how much silence counts; each state's kind."""
    expected = np.zeros(len(share))
    missed = np.zeros(len(share))
    for place, hard in PLACES:
        off = np.abs(share - place)
        off = np.minimum(off, 1.0 - off) * length * FRAME
        near = np.exp(-0.5 * (off / BUMP) ** 2)
        expected = np.maximum(expected, hard * near)
        if place == 0.0:
            missed = np.where(off < FRAME, near, 0.0)
    both, kind = np.unique(np.round(np.stack([expected, missed]), 2), axis=1, return_inverse=True)
    return both[0], both[1], np.asarray(kind, dtype=np.intp)
