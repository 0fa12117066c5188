"""Knows: one chord shape being shown: a picture or a chase under an envelope.

Must never know: which chord called it.
"""

from __future__ import annotations

import numpy as np

from bridge.core.mixing import Indices
from bridge.core.voice import Voice
from bridge.values.mapping import Feel
from bridge.values.numbers import Floats
from bridge.values.rig import Lamps


class ShapeVoice:
    """A shape from its first light to its last.

    Args:
        picture: (lamp, level) of the shape where it now stands.
        chase: lamps lit one after the other instead; `step` seconds each.
    """

    def __init__(
        self, picture: tuple[tuple[int, float], ...], chase: Lamps = (), step: float = 0.125
    ) -> None:
        self.voice = Voice()
        self.lamps: Indices = np.array([lamp for lamp, _ in picture], dtype=np.intp)
        self._weights: Floats = np.array([level for _, level in picture])
        self._chase = chase
        self._step = max(step, 0.001)

    def strike(self, level: float, feel: Feel, stamp: float) -> None:
        """Show it from `stamp` on."""
        self.voice.strike(level, feel, stamp)

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
            self._mix_chase(levels, t, level)
            return not self.voice.over
        if len(self.lamps):
            levels[self.lamps] = np.maximum(levels[self.lamps], self._weights * level)
        return burst or not self.voice.still

    def _mix_chase(self, levels: Floats, t: float, level: float) -> None:
        """Each lamp full in its step, then falling by the feel's release until its turn comes again."""
        count, release = len(self._chase), self.voice.feel.release
        dt = max(0.0, t - self.voice.t0)
        now = int(dt / self._step + 1e-9)
        for back in range(min(count, now + 1)):
            lamp = self._chase[(now - back) % count]
            since = dt - (now - back + 1) * self._step
            share = 1.0 if since <= 0.0 else (1.0 - since / release if since < release else 0.0)
            if share > 0.0:
                levels[lamp] = max(levels[lamp], level * share)


class TextureVoice(ShapeVoice):
    """The envelope of a texture that a chord chose. The textures read it: a voice is read once a frame."""

    def mix(self, _levels: Floats, _t: float, _early: bool = False) -> bool:
        """True while it moves."""
        return self.voice.burst > 0.0 or not self.voice.still
