"""Clocks: the machine's, and the one that passes an hour in seconds."""

from __future__ import annotations

import itertools
import math
import select
import statistics
import threading
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.clock import Clock, FakeClock, Wake, claim_priority
from bridge.shell.inbox import Inbox
from bridge.values.events import NoteOff, NoteOn


def test_the_clock_counts_like_every_other_process() -> None:
    """`now` is the system's monotonic clock, so that stamps of two processes can be compared."""
    clock = Clock()
    before, now, after = time.perf_counter(), clock.now(), time.perf_counter()
    clock.close()
    assert before <= now <= after


def test_a_wait_never_ends_early() -> None:
    """Without the bell a wait ends at its moment or after it, and the schedule adds up no lateness."""
    clock = Clock()
    start = clock.now()
    late = []
    for k in range(1, 41):
        assert clock.wait(start + k * 0.005) is False
        late.append(clock.now() - (start + k * 0.005))
    clock.close()
    assert min(late) >= 0.0
    # On a loaded machine single turns may be late by much; added-up lateness would raise all that follow.
    assert statistics.median(late) < 0.005


@pytest.mark.parametrize("moment", [-1.0, 0.0, -math.inf])
def test_a_moment_that_has_passed_is_not_waited_for(moment: float) -> None:
    """Waiting for the past returns at once, and still hears the bell."""
    clock = Clock()
    assert clock.wait(clock.now() + moment) is False
    clock.wake.ring()
    assert clock.wait(clock.now() + moment) is True
    clock.close()


def test_the_bell_ends_a_wait_without_end() -> None:
    """A ring from another thread ends a wait for ever."""
    clock = Clock()
    ringer = threading.Thread(target=clock.wake.ring)
    ringer.start()
    assert clock.wait(math.inf) is True
    ringer.join()
    clock.close()


def test_a_wait_listens_to_the_bell_it_is_given() -> None:
    """A bell handed to `wait` takes the place of the clock's own, which stays rung."""
    clock, other = Clock(), Wake()
    clock.wake.ring()
    other.ring()
    assert clock.wait(math.inf, other) is True
    assert clock.wait(clock.now(), other) is False
    assert clock.wait(math.inf) is True
    clock.close()
    other.close()


def test_rings_before_a_wait_count_once() -> None:
    """However often it was rung, the bell ends one wait; a flood of rings blocks nobody."""
    wake = Wake()
    for _ in range(200_000):
        wake.ring()
    assert wake.heard() is True
    assert wake.heard() is False
    wake.close()


def test_the_bell_is_a_descriptor_for_select() -> None:
    """The bell works with the system's `select`, and a closed one rings no more and raises nothing."""
    wake = Wake()
    assert select.select([wake], [], [], 0)[0] == []
    wake.ring()
    assert select.select([wake], [], [], 0)[0] == [wake]
    wake.close()
    wake.close()
    wake.ring()
    assert wake.heard() is False
    assert wake.fileno() == -1


def test_an_hour_passes_in_seconds() -> None:
    """An hour of 40 Hz frames on the fake clock ends at exactly an hour, with every frame in its place."""
    clock = FakeClock()
    for k in range(3600 * 40):
        assert clock.wait(k / 40) is False
        assert clock.now() == k / 40
    clock.wait(3600.0)
    assert clock.now() == 3600.0
    assert clock.waits == 3600 * 40 + 1
    clock.close()


@given(st.lists(st.floats(0.0, 100.0), max_size=20), st.lists(st.floats(0.0, 120.0), min_size=1, max_size=20))
def test_what_is_planned_happens_at_its_moment(plan: list[float], waits: list[float]) -> None:
    """Planned things run in order of time, each at its moment, none before the wait reaches it."""
    clock = FakeClock()
    ran: list[tuple[float, float]] = []
    for moment in plan:
        clock.at(moment, lambda moment=moment: ran.append((moment, clock.now())))
    reached = 0.0
    for until in waits:
        assert clock.wait(until) is False
        reached = max(reached, until)
        assert clock.now() == reached
        assert [moment for moment, _ in ran] == sorted(moment for moment in plan if moment <= reached)
    assert all(moment == now for moment, now in ran)
    clock.close()


@given(
    st.lists(
        st.tuples(st.sampled_from(["wait", "spend"]), st.floats(-10.0, 1e6, allow_nan=False)), max_size=30
    )
)
def test_fake_time_never_goes_back(steps: list[tuple[str, float]]) -> None:
    """Neither waiting for the past nor work of negative length sets the clock back."""
    clock = FakeClock(5.0)
    seen = [clock.now()]
    for step, amount in steps:
        clock.wait(amount) if step == "wait" else clock.spend(amount)
        seen.append(clock.now())
    clock.close()
    assert all(earlier <= later for earlier, later in itertools.pairwise(seen))


def test_a_planned_event_wakes_the_fake_clock() -> None:
    """A key planned for 12.5 s ends the wait there, as a live one would, and the wait can go on."""
    clock = FakeClock()
    inbox = Inbox(wake=clock.wake)
    clock.at(12.5, lambda: inbox.put(NoteOn(12.5, "keys", 1, 60, 100)))
    clock.at(12.5, lambda: inbox.put(NoteOff(12.5, "keys", 1, 60)))
    assert clock.wait(20.0) is True
    assert clock.now() == 12.5
    assert [type(event) for event in inbox.take_until(12.5)] == [NoteOn]
    assert clock.wait(20.0) is True
    assert [type(event) for event in inbox.take_until(12.5)] == [NoteOff]
    assert clock.wait(20.0) is False
    assert clock.now() == 20.0
    clock.close()


def test_work_takes_time_and_what_came_meanwhile_is_late() -> None:
    """What was planned while somebody worked happens at the next wait, at the time it is by then."""
    clock = FakeClock()
    ran: list[float] = []
    clock.at(1.0, lambda: ran.append(clock.now()))
    clock.spend(3.0)
    assert ran == []
    clock.wait(2.0)
    assert ran == [3.0]
    assert clock.now() == 3.0
    clock.close()


def test_a_fake_wait_that_nothing_could_end_is_refused() -> None:
    """A test that would wait for ever is told so."""
    clock = FakeClock()
    with pytest.raises(ValueError, match="nothing is planned that could end this wait"):
        clock.wait(math.inf)
    clock.close()


def test_priority_is_given_or_the_way_to_it_is_named() -> None:
    """Either the thread has the priority, or the text says how to get it; other threads keep theirs."""
    answers: list[tuple[bool, str]] = []
    thread = threading.Thread(target=lambda: answers.append(claim_priority()))
    thread.start()
    thread.join()
    ((given_, text),) = answers
    assert text.startswith("real-time priority") if given_ else "limits.d" in text or "this system" in text
