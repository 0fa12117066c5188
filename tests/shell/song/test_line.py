"""A song's clock as a line: found through jitter, kept through gaps, moved only by what agrees."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.song.line import JUMP, JUMP_READINGS, RATE_MOST, SongLine


def hear(line: SongLine, first: float, last: float, ppm: float, jitter: float, ahead: float = 0.0) -> None:
    """Readings each 50 ms of a song that was at 0 at wall time 0."""
    chance = random.Random(3)
    for n in range(round(first * 20), round(last * 20)):
        wall = n / 20
        line.hear(wall + chance.gauss(0.0, jitter), ahead + wall * (1.0 + ppm * 1e-6))


def test_the_first_reading_is_believed() -> None:
    """One reading gives a place, and the machine's own rate."""
    line = SongLine()
    assert not line.known
    assert line.hear(10.0, 3.0)
    assert line.known
    assert line.rate == 1.0
    assert line.at(12.0) == pytest.approx(5.0)


@pytest.mark.parametrize("ppm", [-1000.0, -200.0, 0.0, 200.0, 1000.0])
def test_place_and_rate_are_found_through_jitter(ppm: float) -> None:
    """After two minutes of readings that are wrong by 4 ms the place is known to 1 ms, the rate to 20 ppm."""
    line = SongLine()
    hear(line, 0.0, 120.0, ppm, 0.004)
    assert line.at(120.0) == pytest.approx(120.0 * (1.0 + ppm * 1e-6), abs=0.001)
    assert line.rate == pytest.approx(1.0 + ppm * 1e-6, abs=2e-5)


def test_readings_no_newer_than_the_last_change_nothing() -> None:
    """The same reading twice, or an older one, is left out and said to be."""
    line = SongLine()
    hear(line, 0.0, 5.0, 100.0, 0.0)
    before = line.at(7.0), line.rate
    assert not line.hear(4.95, 99.0)
    assert not line.hear(1.0, 99.0)
    assert (line.at(7.0), line.rate) == before


def test_a_few_readings_far_off_are_slips() -> None:
    """Fewer than it takes to agree move neither place nor rate."""
    line = SongLine()
    hear(line, 0.0, 30.0, 100.0, 0.001)
    rate = line.rate
    for n in range(JUMP_READINGS - 1):
        line.hear(30.0 + n * 0.05, 40.0 + n * 0.05)
    assert line.rate == rate
    assert line.at(31.0) == pytest.approx(31.0031, abs=0.001)


def test_slips_to_both_sides_are_never_a_jump() -> None:
    """Readings that disagree with each other do not add up."""
    line = SongLine()
    hear(line, 0.0, 30.0, 0.0, 0.0)
    for n in range(100):
        wall = 30.0 + n * 0.05
        line.hear(wall, wall + (0.3 if n % 2 else -0.3))
    assert line.at(36.0) == pytest.approx(36.0, abs=0.001)


def test_readings_that_agree_on_another_place_are_a_jump() -> None:
    """The song is there now; its rate is believed still."""
    line = SongLine()
    hear(line, 0.0, 60.0, 200.0, 0.001)
    rate = line.rate
    for n in range(20):
        wall = 60.0 + n * 0.05
        line.hear(wall, wall * 1.0002 - 5.0)
        assert (line.at(wall) < 56.0) == (n >= JUMP_READINGS - 1)
    assert line.rate == pytest.approx(rate, abs=1e-5)
    assert line.at(61.0) == pytest.approx(61.0 * 1.0002 - 5.0, abs=0.002)


def test_a_step_less_than_a_jump_is_taken_up_in_a_second() -> None:
    """A block of 8 ms that was lost does not wait for the long memory to fade, nor does it bend the rate."""
    line = SongLine()
    hear(line, 0.0, 60.0, 200.0, 0.001)
    rate = line.rate
    for n in range(25):
        wall = 60.0 + n * 0.05
        line.hear(wall, wall * 1.0002 - 0.008)
    assert line.at(61.25) == pytest.approx(61.25 * 1.0002 - 0.008, abs=0.001)
    assert line.rate == pytest.approx(rate, abs=1e-4)


def test_a_forgotten_place_is_taken_from_the_next_reading() -> None:
    """Another song on the same device: any place at once, the rate kept."""
    line = SongLine()
    hear(line, 0.0, 60.0, 200.0, 0.0)
    rate = line.rate
    line.forget_place()
    assert not line.known
    line.hear(61.0, 0.0)
    assert line.at(62.0) == pytest.approx(rate)


@given(
    st.lists(
        st.tuples(st.floats(1e-3, 1e4), st.floats(-1e5, 1e5) | st.floats(-JUMP, JUMP)),
        min_size=1,
        max_size=60,
    )
)
def test_any_readings_leave_a_sane_line(steps: list[tuple[float, float]]) -> None:
    """Place and rate stay finite, and the rate within what a clock can be off."""
    line = SongLine()
    wall = 0.0
    for step, off in steps:
        wall += step
        line.hear(wall, wall + off)
        assert math.isfinite(line.at(wall))
        assert abs(line.rate - 1.0) <= RATE_MOST + 1e-12
