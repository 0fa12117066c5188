"""Why a frame came late."""

from __future__ import annotations

import pytest

from bridge.shell.report.reasons import WORST, Late, Reason, Reasons, reason_of
from bridge.values.beat import Beat

PERIOD = 0.025


@pytest.mark.parametrize(
    ("late", "skipped", "busy", "gap", "reason"),
    [
        (0.004, 0, 0.0, 0.029, Reason.SYSTEM),
        (0.004, 0, 0.0039, 0.029, Reason.OWN),
        (0.010, 0, 0.001, 0.035, Reason.SYSTEM),
        (0.010, 0, 0.006, 0.035, Reason.OWN),
        (0.004, 3, 0.0039, 0.104, Reason.OWN),
        (0.004, 3, 0.0, 0.104, Reason.SYSTEM),
        (0.010, 200, 0.0, 5.035, Reason.AWAY),
        (0.010, 200, 0.009, 5.035, Reason.AWAY),
        (0.010, 199, 0.0, 5.010, Reason.SYSTEM),
    ],
)
def test_the_larger_cause_names_the_reason(
    late: float, skipped: int, busy: float, gap: float, reason: Reason
) -> None:
    """Work that ran on is ours, a late wake is the system's, and over 5 s without a turn is a sleep."""
    beat = Beat(100, late, skipped, busy=busy)
    assert reason_of(beat, late + skipped * PERIOD, gap, PERIOD) is reason


def test_the_worst_are_kept_the_latest_first() -> None:
    """Of many, those that came latest; of equals, the first."""
    reasons = Reasons()
    for number in range(50):
        behind = 0.002 + (number % 10) / 1000.0
        reasons.count(Reason.SYSTEM, 0)
        if reasons.is_among_worst(behind):
            reasons.keep(Late(behind, float(number), 0, Reason.SYSTEM))
    assert [late.t for late in reasons.worst] == [9.0, 19.0, 29.0, 39.0, 49.0, 8.0, 18.0, 28.0]
    assert len(reasons.worst) == WORST
    assert reasons.late == 50


def test_a_sleep_is_not_blamed_on_the_show() -> None:
    """What came late in a sleep of the machine is kept, but counts neither as late nor as the latest."""
    reasons = Reasons()
    reasons.count(Reason.AWAY, 400)
    reasons.keep(Late(10.0, 1.0, 400, Reason.AWAY))
    assert (reasons.late, reasons.skipped, reasons.main, reasons.latest) == (0, 0, None, None)
    reasons.count(Reason.OWN, 2)
    reasons.keep(Late(0.06, 2.0, 2, Reason.OWN))
    assert (reasons.late, reasons.skipped, reasons.main) == (1, 2, Reason.OWN)
    assert reasons.latest is not None
    assert reasons.latest.t == 2.0
    assert reasons.worst[0].reason is Reason.AWAY
