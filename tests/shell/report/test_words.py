"""How numbers and shows are said."""

from __future__ import annotations

import pytest

from bridge.shell.report import ShowReport
from bridge.shell.report.words import clock, headline, is_steady, length, ms, percent, verdict
from bridge.values.beat import OutputState
from tests.shell.report.shows import Stage, steady


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.0, "0.00 ms"), (0.00005, "0.05 ms"), (0.0032, "3.2 ms"), (0.12, "120 ms"), (2.54, "2.5 s")],
)
def test_a_short_time(seconds: float, said: str) -> None:
    """As many digits as mean something."""
    assert ms(seconds) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(2.5, "2.5 s"), (59.96, "1 min"), (200.0, "3 min 20 s"), (7500.0, "2 h 5 min"), (86_400.0, "24 h")],
)
def test_a_length(seconds: float, said: str) -> None:
    """Seconds, minutes, hours."""
    assert length(seconds) == said


@pytest.mark.parametrize(
    ("t", "tenths", "said"),
    [(7.0, False, "0:07"), (725.99, False, "12:05"), (3723.0, False, "1:02:03"), (7.32, True, "0:07.3")],
)
def test_a_moment_of_the_show(t: float, tenths: bool, said: str) -> None:
    """Minutes and seconds, hours where there are any; never rounded up to a moment that has not come."""
    assert clock(t, tenths) == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.99999, "99.9 %"),
        (0.00001, "less than 0.01 %"),
        (0.0123, "1.2 %"),
        (0.5, "50 %"),
    ],
)
def test_a_share(share: float, said: str) -> None:
    """What is not whole is never said to be."""
    assert percent(share) == said


def test_a_steady_show_is_called_so() -> None:
    """Nothing late: one sentence, with length, frames and rate below it."""
    report = steady(60.0).report
    assert verdict(report) == ["Steady: every frame came within 1 ms of its moment."]
    assert headline(report) == "1 min, 2,400 frames, 40.00 a second of 40 wanted, none left out."


def test_a_rare_late_frame_is_still_steady() -> None:
    """One in a thousand may come late; more, or one left out, is not steady and says what helps."""
    stage = steady(60.0)
    stage.turn(0.0034)
    assert is_steady(stage.report)
    assert verdict(stage.report) == [
        "Steady: 1 frame came over 1 ms late (0.042 %), the latest by 3.4 ms at 1:00; none was left out."
    ]
    stage.turn(0.002, skipped=1, busy=0.0019)
    assert not is_steady(stage.report)
    (said,) = verdict(stage.report)
    assert said.startswith(
        "Not steady: 2 frames came over 1 ms late and 1 was left out, the latest by 27.0 ms"
    )
    assert "Mostly our own work took too long" in said


def test_trouble_is_told_each_in_a_sentence() -> None:
    """A sleep, failed turns, and outputs that were down or never up."""
    stage = Stage(outputs=("sacn", "serial"))
    down = OutputState("", "down", "no such device")
    for k in range(400):
        stage.states = [down if 100 <= k < 200 else OutputState("", "up"), down]
        stage.turn(skipped=400 if k == 300 else 0, error=k == 5)
    assert verdict(stage.report) == [
        "Steady: every frame came within 1 ms of its moment.",
        "The machine slept or stood still once, for 10.0 s in all: switch its sleep off for the evening.",
        "1 turn failed in our own program and kept the frame before: please report it.",
        "sacn was not up for 2.5 s.",
        "serial was never up.",
    ]
    assert "400 left out (400 of them while the machine slept)" in headline(stage.report)


def test_a_show_that_never_began() -> None:
    """No frame: it says so and judges nothing."""
    report = ShowReport(40.0)
    assert headline(report) == "The show ended before its first frame."
    assert verdict(report) == ["There is nothing to judge."]
