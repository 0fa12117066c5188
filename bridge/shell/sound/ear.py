"""Knows: how sound becomes readings: bands followed, strokes, beats, each with the second it belongs to.

Must never know: files, devices, processes, lamps.
"""

from __future__ import annotations

import numpy as np

from bridge.parts.bands import STILL, loudness, make_bands
from bridge.parts.beats import FRAME, BeatFollower
from bridge.parts.follow import Following, follow, start
from bridge.parts.onsets import Onsets
from bridge.values.numbers import Floats
from bridge.values.sound import BeatHeard, Hearing, Onset, Sound

Reading = Sound | Onset | BeatHeard

HOP = 0.01
"""Seconds from one reading of the levels to the next, about: a frame at 100 Hz."""

LEAST_SURE = 0.25
"""Share of belief from which on beats are told."""


class Ear:
    """Hears one stream of sound.

    Args:
        rate: frames a second.
        hearing: bands and how levels follow.
        source: given to every reading.

    Attributes:
        seconds: of sound heard so far. loud: root mean square of the newest hop, 0..1.
        bpm, sure: tempo, and how sure it is.
    """

    def __init__(self, rate: float, hearing: Hearing, source: str) -> None:
        self._rate, self._source = rate, source
        self.hop = max(16, round(rate * HOP))
        self._bands = make_bands(rate, hearing.crossovers, STILL)
        self._memory = self._bands.start()
        self._how = Following(hearing.attack, hearing.release, hearing.gain, hearing.ceiling, hearing.gate)
        self._state = start(self._bands.count, self._how)
        self._named = len(hearing.crossovers) + 1
        self._gate = 10.0 ** (hearing.gate / 20.0)
        self._onsets = Onsets(rate, self._bands.crossovers)
        self._beats: BeatFollower | None = BeatFollower()
        self._step, self._struck = 0, 0.0
        self._beating, self._told = False, -1.0
        self._held: Floats = np.zeros((0, 2))
        self._frames = 0
        self.loud = 0.0

    @property
    def seconds(self) -> float:
        """Seconds of sound heard so far."""
        return self._frames / self._rate

    @property
    def bpm(self) -> float:
        """Beats a minute, 0 where there is no beat."""
        return self._beats.bpm if self._beats and self._beating else 0.0

    @property
    def sure(self) -> float:
        """How sure the beat is, 0..1."""
        return self._beats.sure if self._beats else 0.0

    @property
    def follows(self) -> bool:
        """True while beats are told."""
        return self._beats is not None

    def leave_beats(self) -> float:
        """Tell no more beats; the second of the last that was told, and a little."""
        self._beats = None
        return self._told + 0.1

    def hear(self, block: Floats) -> list[Reading]:
        """Take the next frames, shape (frames, 2), any number; readings in the order of finding.

        Stamps are seconds of the stream; a beat may lie a little ahead.
        """
        # An input may give anything; one number without measure would be the loudest for minutes.
        block = np.clip(np.nan_to_num(np.asarray(block, dtype=np.float64), nan=0.0), -1.0, 1.0)
        self._held = np.concatenate([self._held, block])
        out: list[Reading] = []
        while len(self._held) >= self.hop:
            piece, self._held = self._held[: self.hop], self._held[self.hop :]
            self._frames += self.hop
            out += self._hop(piece)
        return out

    def _hop(self, piece: Floats) -> list[Reading]:
        self._memory, bands = self._bands.split(self._memory, piece)
        loud = loudness(bands)
        # All bands together, which is the sound without its offset.
        self.loud = float(np.sqrt(np.mean(np.square(bands.sum(axis=0)))))
        self._state = follow(self._state, loud, self.hop / self._rate, self._how)
        levels = [round(float(level), 4) for level in self._state.levels]
        levels += [0.0] * (self._named - len(levels))
        out: list[Reading] = [Sound(self.seconds, self._source, tuple(levels))]
        strokes, fluxes = self._onsets.feed(piece)
        # What the gate shuts out is no stroke either: the crackle of a line at rest.
        open_ = self.loud >= self._gate
        if open_:
            out += [Onset(float(s.at), self._source, s.band, round(s.strength, 4)) for s in strokes]
        for moment, flux in fluxes:
            out += self._beat(moment, float(flux.sum()) if open_ else 0.0)
        return out

    def _beat(self, moment: float, struck: float) -> list[Reading]:
        beats = self._beats
        if beats is None:
            return []
        self._struck = max(self._struck, struck)
        if moment < (self._step + 1) * FRAME:
            return []
        self._step += 1
        found = beats.feed(self._step * FRAME, self._struck)
        self._struck = 0.0
        if found is not None and found.sure >= LEAST_SURE:
            self._beating, self._told = True, found.at
            return [BeatHeard(float(found.at), self._source, round(found.bpm, 3), round(found.sure, 3))]
        if self._beating and beats.sure == 0.0:
            self._beating = False
            return [BeatHeard(self.seconds, self._source, 0.0, 0.0)]
        return []
