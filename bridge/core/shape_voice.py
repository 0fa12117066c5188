"""Knows: one chord shape being shown: a picture or a chase under an envelope.

Must never know: which chord called it.
"""

from __future__ import annotations

import numpy as np

from bridge.core.beats import Beats
from bridge.core.mixing import Indices
from bridge.core.strides import Strides
from bridge.core.voice import Voice
from bridge.values.mapping import Feel
from bridge.values.numbers import Floats
from bridge.values.rig import Lamps

SAME = 1e-9
"""How early a step may come, in seconds or steps: the moments of a frame and of a step are rounded apart."""


class ShapeVoice:
    """A shape from its first light to its last.

    Args:
        picture: (lamp, level) of the shape where it now stands.
        chase: lamps lit one after the other instead; `step` seconds each.
        beats: where `step` counts beats instead, and the chase goes with what rules them.
    """

    def __init__(
        self,
        picture: tuple[tuple[int, float], ...],
        chase: Lamps = (),
        step: float = 0.125,
        beats: Beats | None = None,
    ) -> None:
        self.voice = Voice()
        self.lamps: Indices = np.array([lamp for lamp, _ in picture], dtype=np.intp)
        self._weights: Floats = np.array([level for _, level in picture])
        self._chase = chase
        self._step = max(step, 0.001)
        self._beats, self._strides = beats, Strides(0.0)
        self._steps = 0
        self._begun: list[float] = []
        """When the newest steps of a chase in beats began, as many as may still be seen."""

    def strike(self, level: float, feel: Feel, stamp: float) -> None:
        """Show it from `stamp` on."""
        self.voice.strike(level, feel, stamp)
        self._strides, self._steps, self._begun = Strides(stamp), 0, []
        self.step_until(stamp)

    def step_until(self, t: float) -> None:
        """Go on to `t`: every change of the beat asks for that before it."""
        if self._beats is None:
            return
        while self._beats.heir is not None:
            self._beats = self._beats.heir
        while (moment := self._strides.due(self._beats, t + SAME, self._step)) is not None:
            self._steps += 1
            self._begun.append(moment)
            del self._begun[: -len(self._chase) - 1]

    def split(self, shared: Indices) -> ShapeVoice:
        """A copy of its own for the lamps in `shared`, with the same envelope; this one keeps the others."""
        keep = np.isin(self.lamps, shared)
        twin = ShapeVoice(())
        twin.lamps, twin._weights = self.lamps[keep], self._weights[keep]
        mine, theirs = self.voice, twin.voice
        for slot in Voice.__slots__:
            setattr(theirs, slot, getattr(mine, slot))
        self.lamps, self._weights = self.lamps[~keep], self._weights[~keep]
        return twin

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Raise `levels` (N lamps, in place) to the shape at `t`; True while it moves."""
        burst = self.voice.burst > 0.0
        level = self.voice.read(t, early)
        if self._chase:
            for back, since in enumerate(self._since(t)):
                self._fall(levels, (self._steps - 1 - back) % len(self._chase), since, level)
            return not self.voice.over
        if len(self.lamps):
            levels[self.lamps] = np.maximum(levels[self.lamps], self._weights * level)
        return burst or not self.voice.still

    def _since(self, t: float) -> list[float]:
        """Seconds since each step of a chase that may still be seen ended: the one that runs first, 0."""
        if self._beats is not None:
            self.step_until(t)
            ended = [0.0, *(t - moment for moment in reversed(self._begun))]
            return ended[: min(len(self._chase), self._steps)]
        dt = max(0.0, t - self.voice.t0)
        self._steps = 1 + int(dt / self._step + SAME)
        return [dt - (self._steps - back) * self._step for back in range(min(len(self._chase), self._steps))]

    def _fall(self, levels: Floats, place: int, since: float, level: float) -> None:
        """A lamp is full in its step, then falls by the feel's release until its turn comes again."""
        release = self.voice.feel.release
        share = 1.0 if since <= 0.0 else (1.0 - since / release if since < release else 0.0)
        if share > 0.0:
            lamp = self._chase[place]
            levels[lamp] = max(levels[lamp], level * share)


class TextureVoice(ShapeVoice):
    """The envelope of a texture that a chord chose. The textures read it: a voice is read once a frame."""

    def mix(self, _levels: Floats, _t: float, _early: bool = False) -> bool:
        """True while it moves."""
        return self.voice.burst > 0.0 or not self.voice.still
