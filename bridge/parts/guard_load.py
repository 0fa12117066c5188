"""Knows: how to keep the current of every supply and every decoder within its budget, from this very frame.

Must never know: where a drive came from, lamp names, volts, frames, outputs or a clock.

The law: where the lamps of a supply ask for more amps than it may give, all of them are scaled by one
share, so that their ratios stay (to a slot step); the sum never passes the budget in any frame. The share
falls at once and comes back smoothly, with a time constant of a third of a second.

The memory is the share held back of each supply and decoder. It is fed by nothing but sums over the
budget, so it stays empty on frames that fit: a replay of guarded frames passes a fresh guard unchanged.

Current is taken as proportional to drive (pulse-width dimming: the average over a cycle). The peak, with
every lamp in the on part of its cycle at once, is the connected load; no drive can lower that one: see
`bridge/parts/electrical.py`. Fuses and wires protect, this guard does not: it is a program.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from bridge.values.numbers import Floats, half_up_array

RECOVERY_S: Final = 1.0 / 3.0
"""Time constant in seconds with which a share comes back: 95 % after one second. Our choice."""

# A sum of floats is off in its last digits: a load that is just the budget passes.
_NOISE: Final = 1e-11

_FORGET: Final = 1e-3
"""A share held back below this is none: a quarter of a step of 8 bits."""


class _Feed:
    """The lamps that hang on one kind of source, each source with its budget and its memory."""

    def __init__(self, amps_per_step: Floats, source: npt.ArrayLike, budgets: Sequence[float]) -> None:
        count = len(budgets)
        index = np.asarray(source, dtype=np.intp)
        # A lamp that hangs on nothing counts towards one last source without a limit.
        self.index = np.where(index < 0, count, index)
        self.amps_per_step = amps_per_step
        self.budget: Floats = np.append(np.asarray(budgets, dtype=np.float64), np.inf)
        self.over: Floats = self.budget * (1.0 + _NOISE)
        self.back: Floats = np.zeros(count + 1)

    def sums(self, values: Floats) -> Floats:
        """Amps of each source, shape (sources + 1,), for whole slot values."""
        weights = values * self.amps_per_step
        got: Floats = np.bincount(self.index, weights, len(self.budget)).astype(np.float64, copy=False)
        return got


class LoadGuard:
    """Scales the lamps of an overloaded supply or decoder together.

    Args:
        amps: amps of each lamp at full drive, shape (N,).
        steps: slot steps of each lamp, 255 or 65535, shape (N,).
        supply: for each lamp the index of its supply, -1 for none.
        supply_amps: for each supply the amps it may give, headroom already taken off.
        decoder: for each lamp the index of its decoder, -1 for none; None where no decoder has a budget.
        decoder_amps: for each decoder the amps it may carry.
        slot_amps: for each lamp the amps its slot of the decoder may carry, inf for no limit.
        mode: `limit`, or `warn` to let everything pass and only tell.

    A lamp may hang on one supply and one decoder; decoders act first, so a supply counts what is left.
    """

    def __init__(
        self,
        amps: Floats,
        steps: Floats,
        supply: npt.ArrayLike,
        supply_amps: Sequence[float],
        decoder: npt.ArrayLike | None = None,
        decoder_amps: Sequence[float] = (),
        slot_amps: Floats | None = None,
        mode: str = "limit",
    ) -> None:
        self._limits = mode == "limit"
        self._steps = np.asarray(steps, dtype=np.float64)
        per_step = np.asarray(amps, dtype=np.float64) / self._steps
        decoders = _Feed(per_step, np.full(len(per_step), -1) if decoder is None else decoder, decoder_amps)
        supplies = _Feed(per_step, supply, supply_amps)
        self._supplies = supplies
        # What cannot pass its budget with every lamp at full needs no look at each frame.
        self._feeds = [f for f in (decoders, supplies) if (f.sums(self._steps) > f.over).any()]
        self._top: Floats | None = None
        if slot_amps is not None:
            room = np.full(len(per_step), np.inf)
            np.divide(np.asarray(slot_amps) * (1.0 + _NOISE), per_step, out=room, where=per_step > 0.0)
            top = np.minimum(np.floor(room), self._steps)
            self._top = top if (top < self._steps).any() else None
        self._idle = not self._feeds and self._top is None
        self._t = -math.inf
        self._last: Floats = np.zeros(len(per_step))
        self._now = 0.0
        self._times = 0

    @property
    def settled(self) -> bool:
        """True while nothing is held back."""
        return self._now == 0.0

    @property
    def held(self) -> tuple[float, int]:
        """The largest share 0..1 of a lamp's drive held back now, and how often holding has begun.

        In `warn` mode: what would have been held back.
        """
        return self._now, self._times

    @property
    def supply_load(self) -> Floats:
        """Amps of each supply in the last frame, shape (supplies,)."""
        return self._supplies.sums(half_up_array(self._last * self._steps))[:-1]

    def apply(self, drive: Floats, t: float) -> Floats:
        """The drive that may go out at `t` seconds; `drive` itself where nothing is held back.

        Args:
            drive: 0..1 of each lamp, shape (N,).
            t: seconds since the show began, never less than before.
        """
        self._last = drive
        if self._idle:
            return drive
        asked = half_up_array(drive * self._steps)
        passed = asked
        if self._top is not None and (asked > self._top).any():
            passed = np.minimum(asked, self._top)
        decay = math.exp((self._t - t) / RECOVERY_S)
        self._t = t
        for feed in self._feeds:
            passed = self._scale(feed, passed, decay)
        if passed is asked:
            self._tell(0.0)
            return drive
        held = passed < asked
        self._tell(float((1.0 - passed[held] / asked[held]).max(initial=0.0)))
        if not self._limits or self._now == 0.0:
            return drive
        self._last = np.where(held, passed / self._steps, drive)
        return self._last

    def _scale(self, feed: _Feed, values: Floats, decay: float) -> Floats:
        """Slot values with every source of `feed` within its budget; `values` itself where all is well."""
        sums = feed.sums(values)
        over = sums > feed.over
        if over.any():
            share = np.ones(len(sums))
            np.divide(feed.budget, sums, out=share, where=over)
            needed = 1.0 - share
        elif feed.back.any():
            needed = np.zeros(len(sums))
        else:
            return values
        back = feed.back * decay if self._limits else np.zeros(len(sums))
        back[back < _FORGET] = 0.0
        feed.back = np.maximum(back, needed)
        if not feed.back.any():
            return values
        # Rounded down, so that rounding can pass no budget.
        scaled: Floats = np.floor(values * (1.0 - feed.back)[feed.index])
        return scaled

    def _tell(self, now: float) -> None:
        if now > 0.0 and self._now == 0.0:
            self._times += 1
        self._now = now
