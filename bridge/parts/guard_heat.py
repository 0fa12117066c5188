"""Knows: how warm each lamp is by its own words, and how to ease it back before it stands too long.

Must never know: where a drive came from, lamp names, watts, frames, outputs or a clock.

A lamp says two numbers: the seconds at full that it may stand, `full`, and the seconds of rest that it
then needs, `rest`. Its heat is 0 when it is cold and 1 at its limit; at drive d

    d(heat)/dt = d / full - (1 - d) / rest,   never below 0,

so full drive takes it from 0 to 1 in exactly `full` seconds, and rest from 1 to 0 in exactly `rest`. The
drive that it can stand for ever is full / (full + rest). Between two frames the drive stands still, so
each step is exact whatever its length; 25 Hz and 40 Hz differ by one frame's change.

From heat 0.8 on, the most that may pass falls in a straight line from 1 to that lasting drive at heat 1,
so at full the light begins to ease at 0.8 of `full` and nears the lasting drive without ever passing the
limit. The model is a planning aid of ours, not a measurement: no figure of it replaces a thermal cut-out.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from bridge.values.numbers import Floats, half_up_array

EASE: Final = 0.8
"""Heat 0..1 from which a lamp is eased back. Our choice."""

MOST: Final = 2.0
"""Heat never counts above this, so a lamp that was let stand (`warn`) needs at most twice its rest."""

AHEAD_S: Final = 0.05
"""Seconds that a drive may stand before the guard is asked again: one frame at 20 Hz, so even a lamp with a
fraction of a second at full stays within its limit at any faster rate."""


class HeatGuard:
    """Limits the seconds at full of the lamps that have a limit.

    Args:
        heat: for each lamp (seconds at full it may stand, seconds of rest it then needs), or None; a rest
            of 0 is no limit.
        steps: slot steps of each lamp, 255 or 65535, shape (N,).
        mode: `limit`, or `warn` to let everything pass and only tell.

    Raises:
        ValueError: seconds at full that are not above 0, or a rest below 0.
    """

    def __init__(self, heat: Sequence[tuple[float, float] | None], steps: Floats, mode: str = "warn") -> None:
        if any(pair is not None and (pair[0] <= 0.0 or pair[1] < 0.0) for pair in heat):
            raise ValueError("heat needs seconds at full above 0 and seconds of rest of 0 or more")
        self._limits = mode == "limit"
        limited = [(i, *pair) for i, pair in enumerate(heat) if pair is not None and pair[1] > 0.0]
        self._count = len(heat)
        self._lamps = np.array([i for i, _, _ in limited], dtype=np.intp)
        full: Floats = np.array([f for _, f, _ in limited])
        rest: Floats = np.array([r for _, _, r in limited])
        self._steps = np.asarray(steps, dtype=np.float64)[self._lamps]
        self._warming = 1.0 / full
        self._cooling = 1.0 / rest
        self._gain = (self._warming + self._cooling) / self._steps
        self._lasting = full / (full + rest)
        self._lasting_steps: Floats = np.floor(self._lasting * self._steps)
        # Below this heat nothing is held back, whatever is asked.
        self._careful: Floats = np.minimum(EASE, 1.0 - AHEAD_S * self._warming)
        self._heat: Floats = np.zeros(len(limited))
        self._rate: Floats = np.zeros(len(limited))
        self._t = 0.0
        self._now = 0.0
        self._times = 0
        self._settled = True

    @property
    def settled(self) -> bool:
        """True while every limited lamp has a drive that it can stand for ever, and none is held back."""
        return self._settled

    @property
    def held(self) -> tuple[float, int]:
        """The largest share 0..1 of a lamp's drive held back now, and how often holding has begun.

        In `warn` mode: what would have been held back.
        """
        return self._now, self._times

    @property
    def heat(self) -> Floats:
        """Heat of each lamp at the last frame, 1 at its limit, 0 for lamps without one; shape (N,)."""
        out: Floats = np.zeros(self._count)
        out[self._lamps] = self._heat
        return out

    def apply(self, drive: Floats, t: float) -> Floats:
        """The drive that may go out at `t` seconds; `drive` itself where nothing is held back.

        Args:
            drive: 0..1 of each lamp, shape (N,).
            t: seconds since the show began, never less than before.
        """
        if len(self._lamps) == 0:
            return drive
        self._heat += self._rate * (t - self._t)
        np.clip(self._heat, 0.0, MOST, out=self._heat)
        self._t = t
        asked = half_up_array(drive[self._lamps] * self._steps)
        passed = asked
        if (self._heat > self._careful).any():
            passed = np.minimum(asked, self._cap())
        held = passed < asked
        now = float((1.0 - passed[held] / asked[held]).max()) if held.any() else 0.0
        if now > 0.0 and self._now == 0.0:
            self._times += 1
        self._now = now
        goes = passed if self._limits else asked
        self._rate = goes * self._gain - self._cooling
        self._settled = now == 0.0 and bool((goes <= self._lasting_steps).all())
        if now == 0.0 or not self._limits:
            return drive
        out = drive.copy()
        out[self._lamps[held]] = passed[held] / self._steps[held]
        return out

    def _cap(self) -> Floats:
        """The most slot steps that may pass now: a function of the heat alone, never rising with it."""
        share = 1.0 - (self._heat - EASE) / (1.0 - EASE) * (1.0 - self._lasting)
        # A lamp whose seconds at full are few could pass its limit within one frame: look one ahead.
        room = (1.0 - self._heat) / AHEAD_S + self._cooling
        np.minimum(share, room / (self._gain * self._steps), out=share)
        cap: Floats = np.floor(np.clip(share, 0.0, 1.0) * self._steps)
        return cap
