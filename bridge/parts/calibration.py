"""Knows: how hard a player's soft and hard strokes are -> the touch curve that gives them the whole light.

Must never know: which keyboard, which rules, what a curve lights, or how strokes were asked for.

Velocities are 1..127, levels 0..1. What a soft and what a hard stroke shall give is our choice: a fifth and
nine tenths, so that there is light below the one and above the other. Medians and the second of either end
are taken rather than means and extremes, since one slip in eight strokes is usual (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SOFTEST, SOFT, HARD, HARDEST = 0.1, 0.2, 0.9, 1.0
"""Levels of the softest and the usual soft stroke, the usual hard and the hardest one."""

APART = 12
"""Steps by which soft and hard strokes must differ at least, or no curve can tell them apart."""

FEWEST = 3
"""Strokes of each kind that are needed."""

BOUNCE = 0.08
"""Seconds within which the same pad sounding again is no second stroke: hands play at most 12 a second."""


@dataclass(frozen=True, slots=True)
class Strokes:
    """What strokes of one kind were like: velocities 1..127, with one slip at either end set aside."""

    low: int
    middle: int
    high: int


@dataclass(frozen=True, slots=True)
class Calibration:
    """What was measured, and what would fit it.

    Args:
        points: (velocity, level) of a touch curve, both rising.
        split: the hardest velocity that still counts as soft, for rules with a velocity window.
        least: velocities below this are touches, not strokes; 1 where nothing needs shutting out.
    """

    soft: Strokes
    hard: Strokes
    points: tuple[tuple[float, float], ...]
    split: int
    least: int


def strokes(velocities: Sequence[int]) -> Strokes:
    """The usual stroke among several, and their range.

    Raises:
        ValueError: fewer than FEWEST.
    """
    if len(velocities) < FEWEST:
        raise ValueError(f"{len(velocities)} strokes are too few to measure; {FEWEST} are needed")
    order = sorted(velocities)
    spare = 1 if len(order) >= 6 else 0
    return Strokes(order[spare], order[(len(order) - 1) // 2], order[-1 - spare])


def calibrate(soft: Sequence[int], hard: Sequence[int]) -> Calibration:
    """The curve for a player whose soft and hard strokes have these velocities.

    Raises:
        ValueError: no curve helps; says why.
    """
    gentle, strong = strokes(soft), strokes(hard)
    if len({*soft, *hard}) == 1:
        raise ValueError(f"every stroke came at velocity {soft[0]}: this instrument does not measure touch")
    if strong.middle - gentle.middle < APART:
        raise ValueError(
            f"soft strokes came at about {gentle.middle} and hard ones at about {strong.middle}: "
            "too near each other to be told apart"
        )
    points: list[tuple[float, float]] = []
    for velocity, level in (
        (gentle.low, SOFTEST),
        (gentle.middle, SOFT),
        (strong.middle, HARD),
        (strong.high, HARDEST),
    ):
        # Every curve has level 1 at 127, so a point there could only contradict it.
        if velocity < 127 and (not points or velocity > points[-1][0]):
            points.append((float(velocity), level))
    split = (max(gentle.high, gentle.middle) + min(strong.low, strong.middle)) // 2
    split = min(max(split, gentle.middle), strong.middle - 1)
    return Calibration(gentle, strong, tuple(points), split, max(1, gentle.low // 2))


def bounce(gaps: Sequence[float]) -> int:
    """Milliseconds, in tens, after which the same pad may count again, for gaps (seconds) that were bounces.

    0 where nothing bounced.
    """
    return (int(max(gaps) * 1000) // 10 + 1) * 10 if gaps else 0
