"""What is counted of one output."""

from __future__ import annotations

import pytest

from bridge.shell.report.output_log import PENDING, SPELLS, OutputLog
from bridge.values.beat import OutputState

UP = OutputState("", "up")
DOWN = OutputState("", "down", "no route; check the cable")


def test_a_key_counts_to_the_first_packet_that_shows_it() -> None:
    """From its stroke to the packet of the frame that took it, or of a later one if that never left."""
    log = OutputLog("sacn", 40.0)
    log.struck(0.025, 100.010)
    log.sent([(0.0, 100.001)])
    assert log.steady.count == 0
    log.sent([(0.025, 100.026)])
    assert log.steady.worst == pytest.approx(0.016)
    log.struck(0.050, 100.030)
    log.sent([(0.075, 100.076)])
    assert (log.steady.count, log.over) == (2, 1)
    assert log.steady.worst == pytest.approx(0.046)


def test_a_period_and_a_millisecond_are_the_limit() -> None:
    """At 40 Hz 26 ms; an output with its own 25 Hz may take one of its periods more."""
    assert OutputLog("a", 40.0).limit == pytest.approx(0.026)
    assert OutputLog("a", 40.0, 25.0).limit == pytest.approx(0.066)
    assert OutputLog("a", 40.0, 40.0).limit == pytest.approx(0.026)
    log = OutputLog("a", 40.0)
    log.struck(0.0, 0.0)
    log.struck(0.0, 0.001)
    log.sent([(0.0, 0.0265)])
    assert log.over == 1


def test_early_packets_are_counted_apart() -> None:
    """A packet whose time is no frame's is early; it is no step of the steady ones."""
    log = OutputLog("a", 40.0)
    log.struck(0.0313, 10.031)
    log.sent([(0.025, 10.025), (0.0313, 10.0315), (0.050, 10.0503)])
    assert (log.early.count, log.steady.count, log.packets) == (1, 0, 3)
    assert log.early.worst == pytest.approx(0.0005)
    assert log.evenness.count == 1
    assert log.evenness.worst == pytest.approx(0.0003)


@pytest.mark.parametrize(("hz", "own"), [(44.0, 0.0), (40.0, 25.0), (30.0, 60.0)])
def test_evenness_is_against_the_outputs_own_period(hz: float, own: float) -> None:
    """Packets just a period apart are off by nothing, after a day too."""
    log = OutputLog("a", hz, own)
    first = int(86_400 * hz)
    log.sent((k / hz, number * log.period) for number, k in enumerate(range(first, first + 50)))
    assert log.evenness.count == 49
    assert log.evenness.worst < 1e-9


def test_ups_and_downs_are_kept_with_their_reason() -> None:
    """The share of time up, the time it was not and why; keys of that time are missed, not late."""
    log = OutputLog("a", 40.0)
    for k in range(400):
        down = 100 <= k < 140
        if k == 120:
            log.struck(3.0, 3.0)
        log.sent([] if down else [(k / 40, k / 40)])
        log.look(k / 40, k / 40, DOWN if down else UP)
    assert log.up_seconds / log.seconds == pytest.approx(0.9, abs=0.001)
    assert [(one.word, one.begin, one.end, one.note) for one in log.spells] == [
        ("down", 2.5, 3.5, "no route; check the cable")
    ]
    assert (log.missed, log.steady.count, log.troubles) == (1, 0, 1)
    # The gap is no unevenness: it is told as the time it was.
    assert log.evenness.worst < 1e-9
    assert log.states.values == [0.0, 0.0, 2.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]


def test_one_that_flaps_is_bounded() -> None:
    """Only the first times are kept, all are counted."""
    log = OutputLog("a", 40.0)
    for k in range(1000):
        log.look(k / 40, k / 40, DOWN if k % 2 else UP)
    assert (len(log.spells), log.troubles) == (SPELLS, 500)


def test_one_that_stalls_is_bounded() -> None:
    """Up but sending nothing: so many keys wait, the others count as missed."""
    log = OutputLog("a", 40.0)
    for number in range(PENDING + 10):
        log.struck(number / 40, number / 40)
        log.look(number / 40, number / 40, UP)
    assert log.missed == 10
    log.sent([(1e6, 1e6)])
    assert log.steady.count == PENDING
