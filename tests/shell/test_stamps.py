"""When a message came, from deltas that may be anything."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.stamps import Stamps

Poll = tuple[list[float], float, float]

gaps = st.floats(0.0, 2.0, allow_subnormal=False)


@st.composite
def polls(draw: st.DrawFn) -> list[Poll]:
    """Polls of a port whose driver says anything at all: (deltas, empty at, now), in order of time."""
    times = list(itertools.accumulate(draw(st.lists(gaps, min_size=2, max_size=20))))
    anything = st.lists(st.floats(), max_size=5) | st.lists(gaps, max_size=5)
    return [(draw(anything), before, now) for before, now in itertools.pairwise(times)]


@given(polls())
def test_stamps_lie_where_the_message_can_have_come(case: list[Poll]) -> None:
    """Whatever a driver says, a stamp is not before the port was empty nor after now; stamps never fall."""
    stamps = Stamps()
    last = -math.inf
    for deltas, empty_at, now in case:
        placed = stamps.place(deltas, empty_at, now)
        assert len(placed) == len(deltas)
        for stamp in placed:
            assert empty_at <= stamp <= now
            assert stamp >= last
            last = stamp


@given(
    st.lists(st.floats(0.0, 0.1), min_size=1, max_size=60),
    st.lists(st.floats(0.001, 0.05), min_size=1, max_size=10),
)
def test_an_honest_driver_is_never_early_nor_later_than_the_poll(
    steps: list[float], pauses: list[float]
) -> None:
    """With true deltas a stamp is at or after the moment it came, and at or before the poll that found it."""
    came = list(itertools.accumulate(steps))
    stamps = Stamps()
    empty_at, now, pause = 0.0, 0.0, itertools.cycle(pauses)
    waiting, before = came, 0.0
    while waiting:
        now += next(pause)
        found = [moment for moment in waiting if moment <= now]
        waiting = waiting[len(found) :]
        deltas = [moment - earlier for earlier, moment in itertools.pairwise([before, *found])]
        before = found[-1] if found else before
        for stamp, moment in zip(stamps.place(deltas, empty_at, now), found, strict=True):
            assert moment - 1e-9 <= stamp <= now
        empty_at = now


def test_one_message_read_at_once_sets_the_clock() -> None:
    """After a message that was read without delay, later ones are exact however long they waited."""
    stamps = Stamps()
    assert stamps.place([0.0], 0.0, 1.0) == [1.0]
    # 2.0 came and was read at once: only now is it known that the first came at 0.9.
    assert stamps.place([1.1], 1.5, 2.0) == [2.0]
    assert stamps.place([0.5, 0.25], 2.4, 3.0) == pytest.approx([2.5, 2.75])


def test_a_chord_read_late_is_stamped_from_its_last_note() -> None:
    """Even a port's first messages keep their distances: the newest cannot have come after now."""
    assert Stamps().place([7.0, 0.01, 0.02], 0.0, 1.0) == pytest.approx([0.97, 0.98, 1.0])


@pytest.mark.parametrize("rate", [0.999, 1.001])
def test_a_driver_that_runs_wrong_does_not_drift_away(rate: float) -> None:
    """A driver's clock 0.1 % off is out by one pause between polls at most, after an hour as well."""
    stamps, pause, moment, now = Stamps(), 0.01, 0.0, 0.0
    while moment < 3600.0:
        moment += 0.333
        empty_at, now = now, math.ceil(moment / pause) * pause
        empty_at = max(empty_at, now - pause)
        (stamp,) = stamps.place([0.333 * rate], empty_at, now)
        assert abs(stamp - moment) <= pause + 1e-9


@pytest.mark.parametrize("lie", [math.nan, math.inf, -math.inf, -5.0, 1e300, 86000.0])
def test_one_lie_is_forgotten(lie: float) -> None:
    """After one impossible delta the next messages are stamped as well as before."""
    stamps = Stamps()
    stamps.place([0.0], 0.0, 1.0)
    assert stamps.place([lie], 1.0, 2.0) == [2.0]
    assert stamps.place([1.0], 2.9, 3.0) == [3.0]
    assert stamps.place([0.5, 0.25], 3.4, 4.0) == pytest.approx([3.5, 3.75])
