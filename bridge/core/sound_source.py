"""Knows: heard music as a source of light: bands as brightness or as a bar, strokes as flashes and chases.

Must never know: how music is heard, keys, masters, slots.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bridge.core.mixing import Indices
from bridge.core.voice import Voice
from bridge.parts.curves import velocity_table
from bridge.values.mapping import Feel
from bridge.values.numbers import Floats
from bridge.values.sound import Onset, Sound, SoundRule

STALE, GONE = 0.25, 0.75
"""Seconds after the last reading at which its light begins to fade, and is dark."""

MOST_VOICES = 64
"""Flashes of one rule at once; beyond them the oldest ends."""


class Level:
    """A rule whose band lights lamps."""

    def __init__(self, rule: SoundRule) -> None:
        self._band = rule.band
        self._table = np.array(velocity_table(rule.curve, rule.between))
        self._lamps: Indices = np.array(rule.lamps, dtype=np.intp)
        self._from: Floats = np.array([low for low, _ in rule.bar])
        self._way: Floats = np.array([max(1e-9, high - low) for low, high in rule.bar])

    def mix(self, levels: Floats, bands: Sequence[float]) -> None:
        """Raise `levels` (N lamps, in place) to what the band gives."""
        heard = bands[self._band] if self._band < len(bands) else 0.0
        if heard <= 0.0:
            return
        level = float(np.interp(127.0 * min(1.0, heard), np.arange(128), self._table))
        if len(self._from):
            part = np.clip((level - self._from) / self._way, 0.0, 1.0)
            levels[self._lamps] = np.maximum(levels[self._lamps], part)
        else:
            levels[self._lamps] = np.maximum(levels[self._lamps], level)


class Strokes:
    """A rule whose strokes light lamps, all of them or one after the other."""

    def __init__(self, rule: SoundRule) -> None:
        self.rule = rule
        self._table = velocity_table(rule.curve, rule.between)
        self._feel = Feel(rule.attack, rule.decay, 0.0)
        self._next = 0
        self._voices: list[tuple[Indices, Voice]] = []

    def strike(self, strength: float, stamp: float) -> None:
        """A stroke."""
        lamps = self.rule.lamps
        if self.rule.chase:
            lamps = (lamps[self._next % len(lamps)],)
            self._next += 1
        voice = Voice(shot=True)
        voice.strike(self._table[max(1, round(127 * min(1.0, strength)))], self._feel, stamp)
        self._voices = [*self._voices, (np.array(lamps, dtype=np.intp), voice)][-MOST_VOICES:]

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Raise `levels` (N lamps, in place) to what still glows at `t`; True while anything does."""
        for lamps, voice in self._voices:
            level = voice.read(t, early)
            levels[lamps] = np.maximum(levels[lamps], level)
        self._voices = [one for one in self._voices if not one[1].over]
        return bool(self._voices)

    def close(self, stamp: float) -> None:
        """Let go."""
        for _, voice in self._voices:
            voice.close(stamp)


class SoundSource:
    """All that music lights by itself."""

    def __init__(self, rules: Sequence[SoundRule]) -> None:
        self._levels = [Level(rule) for rule in rules if not rule.strokes and rule.lamps]
        self._strokes = [Strokes(rule) for rule in rules if rule.strokes and rule.lamps]
        self.bands: tuple[float, ...] = ()
        self._at = float("-inf")

    def hear(self, sound: Sound) -> bool:
        """New levels; True if they may light anything."""
        self.bands, self._at = sound.bands, sound.stamp
        return bool(self._levels)

    def strike(self, onset: Onset) -> bool:
        """A stroke; True if it lights anything."""
        hit = False
        for strokes in self._strokes:
            if strokes.rule.band == onset.band and onset.strength >= strokes.rule.least:
                strokes.strike(onset.strength, onset.stamp)
                hit = True
        return hit

    def close_all(self, stamp: float) -> None:
        """End all flashes; what is heard goes on lighting."""
        for strokes in self._strokes:
            strokes.close(stamp)

    def adopt(self, old: SoundSource) -> None:
        """Take over what another mapping has heard last; its flashes end with it."""
        self.bands, self._at = old.bands, old._at

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Raise `levels` (N lamps, in place) to what the music gives at `t`; True while that moves."""
        moving = False
        for strokes in self._strokes:
            moving |= strokes.mix(levels, t, early)
        age = t - self._at
        if self._levels and age < GONE:
            fresh = min(1.0, (GONE - age) / (GONE - STALE))
            bands = [fresh * band for band in self.bands]
            for level in self._levels:
                level.mix(levels, bands)
            moving = True
        return moving
