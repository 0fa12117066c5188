"""Knows: where the beat is by the ticks of a MIDI clock, some of them late, early or lost; transport.

Must never know: ports, lamps, who sends the clock.

Source: MIDI 1.0 Detailed Specification (document 4.2): 24 clocks a quarter note; the first clock after start
is beat 0, after continue the place where it stopped; song position counts sixteenths, 6 clocks each.

The loop is a Kalman filter of time and period of a tick (R. E. Kalman, 1960). What one tick means is often
not clear at once: a gap of two periods is a lost tick, or a sender that now goes at half the tempo. So a few
readings are kept side by side, and the next ticks decide (multiple hypothesis tracking, D. B. Reid, 1979).
"""

from __future__ import annotations

import math
from typing import NamedTuple

TICKS = 24
"""A quarter note."""

SLOWEST, FASTEST = 10.0, 400.0
"""Beats a minute that a clock can mean."""

JITTER = 0.0018
"""Seconds by which a tick is usually off (one standard deviation)."""

WANDER = 0.002
"""Share by which the period wanders from tick to tick: a hand on the tempo knob."""

LOST, STRAY, GAP = math.log(0.05), math.log(1e-4), math.log(1e-3)
"""How likely it is that a tick was lost, that one strays far, that many were lost in a row."""

BENT, LEAPT = math.log(2e-3), math.log(2e-4)
"""How likely it is that the tempo changes by some percent at a tick, or to any other."""

BEND = 0.12
"""Share by which a tempo that changes by some percent may change."""

KEPT = 12
"""Readings kept side by side."""

DOUBT = 12.0
"""A reading this much less likely than the best, as a logarithm, is dropped."""

FIRST_DOUBT = 0.15
"""Share by which a period known from two ticks alone may be wrong."""

SILENT = 2.0
"""Seconds without a tick after which the clock counts as gone."""


class _Reading(NamedTuple):
    """One way to understand the ticks so far.

    Args:
        weight: logarithm of how likely. number: of the newest tick, lost ones counted.
        at: the tick's true moment. period: seconds. pp, pr, rr: covariance of both.
    """

    weight: float
    number: int
    at: float
    period: float
    pp: float
    pr: float
    rr: float


class Pulse:
    """The beat of one MIDI clock.

    Attributes:
        running: True between start or continue and stop; also for a clock that never says either.
    """

    def __init__(self) -> None:
        self._readings: list[_Reading] = []
        self._last: float | None = None
        self._origin = 0
        """Number of the tick that is the song's beginning."""
        self._begin: int | None = 0
        """Place in ticks at which the next tick begins."""
        self._held = 0.0
        self.running = True

    @property
    def known(self) -> bool:
        """True once two ticks have come, so that there is a tempo."""
        return bool(self._readings)

    @property
    def bpm(self) -> float:
        """Beats a minute; 0 while not known."""
        return 60.0 / (TICKS * self._readings[0].period) if self._readings else 0.0

    def here(self, t: float) -> bool:
        """True while the clock ticks: two seconds of silence, or eight periods, and it counts as gone."""
        if self._last is None or not self._readings:
            return False
        return t - self._last < max(SILENT, 8.0 * self._readings[0].period)

    def beat(self, t: float) -> float:
        """The place in quarter notes at `t`, 0 at the song's beginning; goes on through gaps."""
        if not self.running or self._begin is not None or not self._readings:
            return self._held / TICKS
        best = self._readings[0]
        return (best.number - self._origin + (t - best.at) / best.period) / TICKS

    def start(self) -> None:
        """The next tick is beat 0."""
        self._begin, self.running = 0, True
        self._held = 0.0

    def go_on(self) -> None:
        """The next tick is where the song stopped, or where `place` has put it; else it runs on."""
        if not self.running:
            self._begin, self.running = round(self._held), True

    def stop(self, t: float) -> None:
        """The song stands."""
        if self.running:
            self._held = max(0.0, self.beat(t) * TICKS)
        self.running = False

    def place(self, sixteenths: int) -> None:
        """The song goes on elsewhere: with the next tick where it runs, with continue where it stands."""
        self._held = sixteenths * 6.0
        if self.running:
            self._begin = sixteenths * 6

    def tick(self, t: float) -> None:
        """A clock came at `t` seconds."""
        if self._last is None or t - self._last > SILENT:
            # Nothing that came before tells of this: begin anew, the place kept.
            if self._readings and self.running and self._begin is None:
                self._begin = round(self.beat(t) * TICKS)
            self._readings = []
        elif not self._readings:
            self._first(t)
        else:
            self._next(t)
        self._last = t
        if self.running and self._begin is not None:
            number = self._readings[0].number if self._readings else 0
            self._origin, self._held, self._begin = number - self._begin, float(self._begin), None

    def _first(self, t: float) -> None:
        assert self._last is not None
        gap = t - self._last
        self._readings = [_begun(0.0, n, t, gap / n, LOST * (n - 1)) for n in (1, 2, 3) if _can_be(gap / n)]

    def _next(self, t: float) -> None:
        assert self._last is not None
        gap = t - self._last
        found: list[_Reading] = []
        for reading in self._readings:
            found += _understood(reading, t, gap)
        if not found:
            return
        best = max(found, key=_weight)
        # Of two readings that say the same, the likelier one.
        told: dict[tuple[int, int], _Reading] = {}
        for one in sorted(found, key=_weight, reverse=True):
            if one.weight < best.weight - DOUBT or len(told) == KEPT:
                break
            told.setdefault(
                (one.number, round(one.period * 4e4)), one._replace(weight=one.weight - best.weight)
            )
        self._readings = list(told.values())


def _weight(reading: _Reading) -> float:
    return reading.weight


def _can_be(period: float) -> bool:
    # A clock at either end must not fail by the last bit of a sum.
    return 0.999 * 60.0 / (TICKS * FASTEST) <= period <= 1.001 * 60.0 / (TICKS * SLOWEST)


def _begun(weight: float, number: int, t: float, period: float, prior: float) -> _Reading:
    """A reading of two ticks alone."""
    doubt = (FIRST_DOUBT * period) ** 2 + 2 * JITTER**2
    return _Reading(weight + prior, number, t, period, JITTER**2, JITTER**2, doubt)


def _understood(old: _Reading, t: float, gap: float) -> list[_Reading]:
    """What a tick at `t` can mean: the next one, one after some that were lost, a stray, a new tempo."""
    likely = max(1, round((t - old.at) / old.period))
    found = [_taken(old, t, n, LOST * (n - 1)) for n in {1, 2, likely - 1, likely, likely + 1} if 1 <= n < 9]
    if likely >= 4:
        found += [_taken(old, t, n, GAP) for n in (likely - 1, likely, likely + 1)]
    off = abs(t - old.at - likely * old.period)
    if off * off < old.pp + JITTER**2 and likely == 1:
        return found
    bent = old._replace(rr=old.rr + (BEND * old.period) ** 2)
    found += [_taken(bent, t, n, BENT + LOST * (n - 1)) for n in (1, 2)]
    # Anything from now to a period's end is as likely for what follows no rule.
    even = -math.log(0.01 + old.period)
    found.append(
        old._replace(
            weight=old.weight + STRAY + even,
            number=old.number + 1,
            at=old.at + old.period,
            pp=old.pp + 2 * old.pr + old.rr + JITTER**2,
            pr=old.pr + old.rr,
            rr=old.rr + (WANDER * old.period) ** 2,
        )
    )
    return found + [
        _begun(old.weight + even, old.number + n, t, gap / n, LEAPT + LOST * (n - 1))
        for n in (1, 2)
        if _can_be(gap / n)
    ]


def _taken(old: _Reading, t: float, n: int, prior: float) -> _Reading:
    """The tick is the n-th after the newest."""
    wander = (WANDER * old.period) ** 2 * n
    pp = old.pp + 2 * n * old.pr + n * n * old.rr
    pr, rr = old.pr + n * old.rr, old.rr + wander
    off = t - (old.at + n * old.period)
    total = pp + JITTER**2
    weight = old.weight + prior - 0.5 * (off * off / total + math.log(total))
    share_at, share_period = pp / total, pr / total
    return _Reading(
        weight,
        old.number + n,
        old.at + n * old.period + share_at * off,
        min(0.25, max(0.006, old.period + share_period * off)),
        pp * (1.0 - share_at),
        pr * (1.0 - share_at),
        max(1e-14, rr - share_period * pr),
    )
