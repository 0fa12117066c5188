"""Soft and hard strokes become a curve that gives them the whole light, or a reason why none can."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.calibration import (
    APART,
    HARD,
    SOFT,
    SOFTEST,
    Calibration,
    Strokes,
    bounce,
    calibrate,
    strokes,
)
from bridge.parts.curves import velocity_table

VELOCITIES = st.lists(st.integers(1, 127), min_size=3, max_size=12)


def test_strokes_by_hand() -> None:
    """The usual stroke is the middle one, and one slip at either end is set aside where there are enough."""
    assert strokes([40, 30, 35]) == Strokes(30, 35, 40)
    assert strokes([34, 31, 36, 33, 90, 35, 30, 2]) == Strokes(30, 33, 36)


def test_a_player_by_hand() -> None:
    """Eight soft strokes about 34 and eight hard ones about 104: the curve is drawn through both."""
    found = calibrate([30, 34, 33, 36, 31, 38, 34, 35], [100, 104, 99, 110, 108, 104, 101, 112])
    assert (found.soft, found.hard) == (Strokes(31, 34, 36), Strokes(100, 104, 110))
    assert found.points == ((31.0, 0.1), (34.0, 0.2), (104.0, 0.9), (110.0, 1.0))
    assert (found.split, found.least) == (68, 15)
    table = velocity_table(found.points)
    assert [round(table[velocity], 6) for velocity in (31, 34, 104, 110)] == [0.1, 0.2, 0.9, 1.0]


@given(VELOCITIES, VELOCITIES)
def test_any_strokes_make_a_curve_or_a_reason(soft: list[int], hard: list[int]) -> None:
    """The points are a curve by the rules of the language, through what was measured; else it is said why."""
    if strokes(hard).middle - strokes(soft).middle < APART:
        with pytest.raises(ValueError, match=r"does not measure touch|too near each other"):
            calibrate(soft, hard)
        return
    found = calibrate(soft, hard)
    table = velocity_table(found.points)
    assert table[0] == 0.0
    assert table[127] == 1.0
    assert all(b >= a - 1e-12 for a, b in itertools.pairwise(table))
    assert abs(table[found.hard.middle] - HARD) < 1e-9 or found.hard.middle == 127
    assert SOFTEST - 1e-9 <= table[found.soft.middle] <= SOFT + 1e-9
    assert found.soft.middle <= found.split < found.hard.middle
    assert 1 <= found.least <= found.soft.low


@given(VELOCITIES, VELOCITIES, st.randoms())
def test_the_order_of_strokes_does_not_matter(soft: list[int], hard: list[int], chance: object) -> None:
    """The same strokes in another order make the same curve."""

    def outcome(one: list[int], other: list[int]) -> Calibration | str:
        try:
            return calibrate(one, other)
        except ValueError as error:
            return str(error)

    mixed = [sorted(soft), sorted(hard, reverse=True)]
    chance.shuffle(mixed[0])  # type: ignore[attr-defined]
    assert outcome(soft, hard) == outcome(*mixed)


@pytest.mark.parametrize(
    ("soft", "hard", "reason"),
    [
        ([100] * 8, [100] * 8, "every stroke came at velocity 100: this instrument does not measure touch"),
        ([60] * 8, [66] * 8, "soft strokes came at about 60 and hard ones at about 66: too near each other"),
        (
            [100] * 8,
            [30] * 8,
            "soft strokes came at about 100 and hard ones at about 30: too near each other",
        ),
        ([60, 61], [90] * 8, "2 strokes are too few to measure; 3 are needed"),
    ],
)
def test_what_cannot_be_measured_is_said(soft: list[int], hard: list[int], reason: str) -> None:
    """A pad without touch, a player who does not vary, the wrong way round, too few strokes."""
    with pytest.raises(ValueError, match=reason):
        calibrate(soft, hard)


def test_a_hardest_stroke_of_127_needs_no_point() -> None:
    """Where hard strokes are at the top already, the curve's own end at 127 serves."""
    found = calibrate([20] * 8, [127] * 8)
    assert found.points == ((20.0, 0.1),)
    assert velocity_table(found.points)[127] == 1.0


@pytest.mark.parametrize(("gaps", "milliseconds"), [([], 0), ([0.004], 10), ([0.012, 0.0301], 40)])
def test_bounces(gaps: list[float], milliseconds: int) -> None:
    """What a pad must be deaf for, in tens of milliseconds over the longest bounce."""
    assert bounce(gaps) == milliseconds
