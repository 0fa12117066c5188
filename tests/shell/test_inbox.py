"""The waiting room for events: order, bounds, and what may never be lost."""

from __future__ import annotations

import math
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from bridge.shell.clock import Wake
from bridge.shell.inbox import Inbox
from bridge.values.events import Control, Do, Event, NewMapping, NoteOff, NoteOn, PortGone, must_keep

stamps = st.floats(-1.0, 5.0) | st.sampled_from([0.0, 1.0, math.inf])
losable = st.builds(NoteOn, stamps, st.just("keys"), st.just(1), st.integers(0, 127), st.integers(1, 127))
kept = st.one_of(
    st.builds(NoteOff, stamps, st.just("keys"), st.just(1), st.integers(0, 127)),
    st.builds(PortGone, stamps, st.just("keys")),
    st.builds(Do, stamps, st.just("release_all")),
    st.builds(NewMapping, stamps, st.just("a mapping")),
    st.builds(Control, stamps, st.just("keys"), st.just(1), st.just(64), st.just(0)),
)
ROOM = 3


class AsIfUnbounded(RuleBasedStateMachine):
    """An inbox beside a plain list that does what the inbox promises."""

    def __init__(self) -> None:
        super().__init__()
        self.inbox = Inbox(ROOM)
        self.waiting: list[Event] = []
        self.lost = 0

    @rule(event=losable | kept)
    def put(self, event: Event) -> None:
        full = sum(not must_keep(one) for one in self.waiting) >= ROOM
        let_in = must_keep(event) or not full
        assert self.inbox.put(event) is let_in
        if let_in:
            self.waiting.append(event)
        else:
            self.lost += 1

    @rule(t=stamps)
    def take(self, t: float) -> None:
        due = sorted((one for one in self.waiting if one.stamp <= t), key=lambda one: one.stamp)
        assert self.inbox.take_until(t) == due
        self.waiting = [one for one in self.waiting if one.stamp > t]

    @invariant()
    def counts(self) -> None:
        assert len(self.inbox) == len(self.waiting)
        assert self.inbox.dropped == self.lost


TestInboxAsIfUnbounded = AsIfUnbounded.TestCase
"""By stamp, then arrival; only what may be lost is lost, only when full, and it is counted."""


@given(st.lists(losable, min_size=ROOM, max_size=20), st.lists(kept, max_size=20))
def test_what_must_be_kept_comes_through_any_crowd(crowd: list[Event], keep: list[Event]) -> None:
    """However full the room, a note-off, a pedal, an action or a vanished port is never dropped."""
    inbox = Inbox(ROOM)
    for event in crowd:
        inbox.put(event)
    assert [inbox.put(event) for event in keep] == [True] * len(keep)
    came = [event for event in inbox.take_until(math.inf) if must_keep(event)]
    assert came == sorted(keep, key=lambda event: event.stamp)
    assert inbox.dropped == len(crowd) - ROOM


def test_equal_stamps_keep_the_order_of_arrival() -> None:
    """A key let go and struck again at one moment stays in that order, though events do not compare."""
    inbox = Inbox()
    events = [NoteOff(1.0, "b", 1, 9), NoteOn(1.0, "a", 1, 9, 1), NoteOff(1.0, "a", 1, 9), PortGone(1.0, "a")]
    for event in events:
        inbox.put(event)
    assert inbox.take(1.0) == events


def test_every_event_that_comes_in_rings_the_bell() -> None:
    """The loop wakes for what came in, and not for what was dropped."""
    wake = Wake()
    inbox = Inbox(1, wake)
    inbox.put(NoteOn(0.0, "keys", 1, 60, 1))
    assert wake.heard() is True
    inbox.put(NoteOn(0.0, "keys", 1, 61, 1))
    assert (wake.heard(), inbox.dropped) == (False, 1)
    inbox.put(NoteOff(0.0, "keys", 1, 60))
    assert wake.heard() is True
    wake.close()


def test_no_thread_loses_an_event_to_another() -> None:
    """Four threads put 2,000 events each while one takes: all come out once, each thread's in its order."""
    inbox = Inbox(100_000)
    many, each = 4, 2000

    def put(channel: int) -> None:
        for number in range(each):
            inbox.put(NoteOn(float(number), "keys", channel, number % 128, 1))

    threads = [threading.Thread(target=put, args=(channel,)) for channel in range(1, many + 1)]
    for thread in threads:
        thread.start()
    out: list[Event] = []
    while any(thread.is_alive() for thread in threads):
        out += inbox.take_until(math.inf)
    out += inbox.take_until(math.inf)
    assert len(out) == many * each
    assert len(inbox) == inbox.dropped == 0
    for channel in range(1, many + 1):
        assert [event.stamp for event in out if event.channel == channel] == [float(n) for n in range(each)]


def test_a_room_for_nobody_is_refused() -> None:
    """An inbox without room is our own mistake and says so."""
    with pytest.raises(ValueError, match="room for at least one event, not 0"):
        Inbox(0)
