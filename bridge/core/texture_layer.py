"""Knows: one texture being seen: since when, how fast, how strong, and the steps of a sequence.

Must never know: which key or chord called it, other layers.

Cycles come from the time since the last change of speed or tempo, never from adding up per frame.
"""

from __future__ import annotations

import math
from collections.abc import Mapping as ReadOnly

import numpy as np

from bridge.core.beats import Beats
from bridge.core.mixing import Indices
from bridge.core.texture_draw import Shown
from bridge.core.voice import Voice
from bridge.values.numbers import Floats
from bridge.values.texture import Texture


class Cycles:
    """Counts a texture's cycles from `stamp` on, in seconds or in beats."""

    __slots__ = ("_beats", "_from", "_rate", "_since", "per_beat")

    def __init__(self, texture: Texture, speed: float, beats: Beats, stamp: float) -> None:
        self._beats = beats
        self._from = 0.0
        self.adopt(texture, speed, stamp, 0.0)

    def adopt(self, texture: Texture, speed: float, stamp: float, reached: float) -> None:
        """Run as `texture` says from `stamp` on, from the cycle `reached`."""
        self.per_beat = texture.beats > 0.0
        each = 1.0 / texture.beats if self.per_beat else texture.hz
        self._rate = speed * (-each if texture.backwards else each)
        self._since = self._beats.at(stamp) if self.per_beat else stamp
        self._from = reached

    def resume(self, texture: Texture, speed: float, stamp: float, reached: float) -> None:
        """As `adopt` after a bad end: what goes by the beat begins on a beat, at or before `reached`."""
        if texture.beats > 0.0 and math.isfinite(reached * texture.beats):
            reached = math.floor(reached * texture.beats) / texture.beats
        self.adopt(texture, speed, stamp, reached)

    @property
    def moving(self) -> bool:
        """True if time has a bearing on it."""
        return self._rate != 0.0

    def at(self, t: float) -> float:
        """Cycles at `t`."""
        now = self._beats.at(t) if self.per_beat else t
        return self._from + (now - self._since) * self._rate


class Steps:
    """The textures of a sequence, one after the other, each fading over from the one before."""

    def __init__(self, shown: Shown, known: ReadOnly[str, Shown], beats: Beats, stamp: float) -> None:
        self._steps = shown.texture.steps
        ends = np.cumsum([step.beats for step in self._steps])
        self._ends = [float(end) for end in ends]
        self._count = len(shown.lamps)
        place = {int(lamp): at for at, lamp in enumerate(shown.lamps)}
        self.parts: dict[str, tuple[Shown, Cycles]] = {}
        self._at: dict[str, tuple[Indices, Indices]] = {}
        for name in dict.fromkeys(step.texture for step in self._steps):
            part = known.get(name)
            if part is None:
                continue
            self.parts[name] = (part, Cycles(part.texture, part.speed, beats, stamp))
            inner = [(n, place[int(lamp)]) for n, lamp in enumerate(part.lamps) if int(lamp) in place]
            theirs, ours = np.array(inner, dtype=np.intp).reshape(-1, 2).T
            self._at[name] = (theirs, ours)

    def levels(self, cycles: float, t: float) -> Floats:
        """Levels 0..1 of the sequence's lamps: `cycles` is how often it has run through."""
        turns = math.floor(cycles)
        beat = (cycles - turns) * self._ends[-1]
        number = next((n for n, end in enumerate(self._ends) if beat < end), len(self._ends) - 1)
        step = self._steps[number]
        out = self._part(step.texture, t)
        inside = beat - (self._ends[number] - step.beats)
        if inside < step.fade:
            share = inside / step.fade
            out *= share
            # The first step of all comes out of the dark.
            if turns > 0 or number > 0:
                out += (1.0 - share) * self._part(self._steps[number - 1].texture, t)
        return out

    def _part(self, name: str, t: float) -> Floats:
        out: Floats = np.zeros(self._count)
        found = self.parts.get(name)
        if found is not None:
            shown, cycles = found
            theirs, ours = self._at[name]
            out[ours] = shown.levels(cycles.at(t), None)[theirs] * shown.strength
        return out


class Layer:
    """A texture from its first light to its last.

    Args:
        shown: the texture. cycles: its time. steps: what a sequence is made of, else None.
        voice: the envelope of its strength.
        centre: metres of the lamp of the key that called it, else None.
        mix: a word of MIXES.
    """

    __slots__ = ("centre", "cycles", "mix", "shown", "steps", "voice")

    def __init__(
        self,
        shown: Shown,
        cycles: Cycles,
        steps: Steps | None,
        voice: Voice,
        centre: tuple[float, float] | None = None,
        mix: str = "",
    ) -> None:
        self.shown, self.cycles, self.steps, self.voice = shown, cycles, steps, voice
        self.centre = centre
        self.mix = mix or shown.texture.mix

    @property
    def moving(self) -> bool:
        """True while time alone changes what it shows."""
        return self.cycles.moving or not self.voice.still or self.steps is not None

    def levels(self, t: float) -> Floats:
        """Levels 0..1 of its lamps at full strength."""
        if self.steps is not None:
            return self.steps.levels(self.cycles.at(t), t)
        return self.shown.levels(self.cycles.at(t), self.centre)

    def hasten(self, name: str, speed: float, stamp: float) -> None:
        """The texture `name` (empty: any) runs at `speed` times its own from `stamp` on, from where it is."""
        mine = [(self.shown, self.cycles), *(self.steps.parts.values() if self.steps else ())]
        for shown, cycles in mine:
            if name in ("", shown.texture.name):
                cycles.adopt(shown.texture, speed, stamp, cycles.at(stamp))
