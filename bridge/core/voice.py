"""Knows: one key's light on one rule: an envelope that starts, holds and ends, in closed form.

Must never know: which lamps it lights, other voices, or the frame rate.

The level at time t comes from the times of strike and release alone, never from adding up per frame.
"""

from __future__ import annotations

from math import inf

from bridge.values.mapping import Feel


class Voice:
    """An envelope on its way.

    `gate` is open while a key, a pedal or a latch (or a shot still running) holds it. `still` says that the
    level will not change until something happens; `over` that it is dark for good. `burst` is the highest
    level of a note that began and ended since the last reading, so that it still shows once.

    Args:
        shot: attack and decay run out whatever the key does.
        min_on: seconds that a strike lights at least; a release before that waits.
    """

    __slots__ = (
        "burst",
        "closes",
        "feel",
        "fresh",
        "gate",
        "min_on",
        "off_level",
        "over",
        "peak",
        "shot",
        "start",
        "still",
        "t0",
        "t_off",
    )

    def __init__(self, shot: bool = False, min_on: float = 0.0) -> None:
        self.shot, self.min_on = shot, min_on
        self.feel = Feel()
        self.gate = False
        self.start = self.peak = self.t0 = self.t_off = self.off_level = self.burst = 0.0
        self.closes = inf
        self.fresh = self.still = False
        self.over = True

    def strike(self, peak: float, feel: Feel, stamp: float) -> None:
        """Start, or start again from the level it has at `stamp`: a struck lamp never drops first."""
        if self.gate and self.fresh:
            self.burst = max(self.burst, self._reached(stamp))
        self.start = 0.0 if self.over else self._at(stamp)
        self.peak, self.feel, self.t0 = peak, feel, stamp
        self.closes = inf
        self.gate = self.fresh = True
        self.over = self.still = False

    def close(self, stamp: float) -> None:
        """Let go at `stamp`: release from wherever the level is, once `min_on` has passed."""
        if self.gate:
            # It may have ended by itself before that, and no frame has looked since.
            self._at(stamp)
        if not self.gate:
            return
        if stamp < self.t0 + self.min_on:
            self.close_at(self.t0 + self.min_on)
        else:
            self._close(stamp)

    def end(self, stamp: float) -> None:
        """Let go at `stamp` whatever `min_on` says."""
        if self.gate:
            self._close(stamp)

    def close_at(self, moment: float) -> None:
        """Let go by itself at a moment to come."""
        self.closes = min(self.closes, moment)
        self.still = False

    def _close(self, stamp: float) -> None:
        # It may have closed by itself before, in a moment that no frame has looked at.
        stamp = min(stamp, self._end)
        if self.fresh:
            self.burst = max(self.burst, self._reached(stamp))
        self.off_level = self._held(stamp - self.t0)
        self.t_off = stamp
        self.closes = inf
        self.gate = self.still = False

    @property
    def _end(self) -> float:
        """When it closes by itself, infinity for never."""
        run = self.t0 + self.feel.attack + self.feel.decay
        return min(self.closes, run) if self.shot else self.closes

    @property
    def stands(self) -> bool:
        """True while it is held and nothing has told it to end."""
        return self.gate and not self.shot and self.closes == inf

    @property
    def holds(self) -> float:
        """The level at which it stands once it has risen and decayed."""
        return self.peak * self.feel.sustain

    def rises(self, t: float) -> float:
        """Seconds from `t` until it has risen; 0 where it has."""
        return max(0.0, self.t0 + self.feel.attack - t)

    def read(self, t: float, early: bool = False) -> float:
        """The level 0..1 to show at `t`, once per frame.

        Args:
            early: for a frame that not every output sends; what must show once is kept for the steady one.
        """
        level = self._at(t)
        if self.burst > 0.0:
            level = max(level, self.burst)
            self.over = self.still = False
            if not early:
                self.burst = 0.0
        self.fresh &= early
        return level

    def _at(self, t: float) -> float:
        feel = self.feel
        if self.gate:
            end = self._end
            if t < end:
                self.still = t - self.t0 >= feel.attack + feel.decay and end == inf
                return self._held(t - self.t0)
            self._close(end)
        dt = t - self.t_off
        if dt < 0.0:
            # A late event: it happened before the release that came first.
            return self.off_level
        if dt >= feel.release:
            self.over = self.still = True
            return 0.0
        return self.off_level * (1.0 - dt / feel.release)

    def _reached(self, stamp: float) -> float:
        """The highest level between the strike and `stamp`."""
        dt = stamp - self.t0
        return self.peak if dt >= self.feel.attack else max(self.start, self._held(dt))

    def _held(self, dt: float) -> float:
        """The level with the gate open, `dt` seconds after the strike."""
        feel = self.feel
        if dt < 0.0:
            # A late event: it happened before the strike that came first.
            return self.start
        if dt < feel.attack:
            return self.start + (self.peak - self.start) * dt / feel.attack
        dt -= feel.attack
        if dt < feel.decay:
            return self.peak * (1.0 - (1.0 - feel.sustain) * dt / feel.decay)
        return self.peak * feel.sustain
