"""The frame clock: an absolute schedule, honest lateness, the last good frame, no event lost."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.shell.clock import FakeClock
from bridge.shell.feeds import ListFeed, Waiting
from bridge.shell.loop import LEAD_SECONDS, Loop, offline
from bridge.values.beat import Beat
from bridge.values.events import Control, Event, NoteOff, NoteOn, Picture, PortGone
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from tests.core.builders import each, rig

Turns = list[tuple[Beat, Frame, Sequence[Event]]]


def machine() -> Engine:
    """Four lamps on four keys."""
    return Engine(rig(), Mapping(keys=(each(),)))


def run(clock: FakeClock, events: list[Event], seconds: float, hz: float = 40.0) -> Turns:
    """Everything a loop hands on."""
    turns: Turns = []
    loop = Loop(machine(), [ListFeed(events)], [lambda *turn: turns.append(turn)], clock, hz)
    loop.run(lambda: False, seconds)
    return turns


def test_frame_k_is_the_picture_at_k_over_hz() -> None:
    """Numbers count up from 0, times are k / refresh_hz exactly, for an hour of show."""
    turns = run(FakeClock(100.0), [], 3600.0)
    assert len(turns) == 3600 * 40
    assert all(beat.number == k and frame.t == k / 40 for k, (beat, frame, _) in enumerate(turns))
    assert max(beat.late for beat, _, _ in turns) < 1e-6


def test_live_and_offline_give_the_same_frames() -> None:
    """One engine: a live run over a fake clock equals the offline run byte for byte."""
    events: list[Event] = [
        NoteOn(0.01, "p", 1, 60, 90),
        NoteOff(0.3, "p", 1, 60),
        NoteOn(0.31, "p", 1, 62, 9),
    ]
    live = [frame for _, frame, _ in run(FakeClock(7.0), list(events), 1.0)]
    assert live == [frame for _, frame, _ in offline(machine(), [ListFeed(events)], 40.0, 40)]


def test_a_turn_that_comes_late_says_so_and_does_not_shift_the_next() -> None:
    """Lateness is measured against the schedule and never added up."""
    clock = FakeClock(0.0)
    clock.at(0.499, lambda: clock.spend(0.010))
    late = [beat.late for beat, _, _ in run(clock, [], 2.0)]
    assert max(late) > 0.005
    assert late[-1] < 1e-9


def test_frames_a_stall_has_missed_are_left_out_and_counted() -> None:
    """After a stall of ten periods the loop goes on with the frame that is due, and no event is lost."""
    clock = FakeClock(0.0)
    clock.at(0.499, lambda: clock.spend(0.26))
    events: list[Event] = [NoteOn(0.6, "p", 1, 60, 127)]
    turns = run(clock, events, 2.0)
    assert sum(beat.skipped for beat, _, _ in turns) == 10
    assert [event for _, _, taken in turns for event in taken] == events
    numbers = [beat.number for beat, _, _ in turns]
    assert numbers == sorted(set(numbers))
    assert len(turns) == 70


class Broken(Engine):
    """An engine that fails from one second to two."""

    def advance(self, events: Sequence[Event], t: float, early: bool = False) -> Frame:
        """Fail for a while."""
        if 1.0 <= t < 2.0:
            raise RuntimeError("planted")
        return super().advance(events, t, early)


def test_an_engine_that_fails_costs_no_frame() -> None:
    """Live keeps sending the last good frame, counts, and says why; then it goes on."""
    turns: Turns = []
    engine = Broken(rig(), Mapping(keys=(each(),)))
    feed = ListFeed([NoteOn(0.5, "p", 1, 60, 127), NoteOff(2.5, "p", 1, 60)])
    loop = Loop(engine, [feed], [lambda *turn: turns.append(turn)], FakeClock(), 40.0)
    loop.run(lambda: False, 3.0)
    assert len(turns) == 120
    assert [frame.slot(1, 1) for _, frame, _ in turns] == [0] * 20 + [255] * 80 + [0] * 20
    assert turns[-1][0].errors == 40
    assert loop.last_error == "RuntimeError: planted"


LINE = 0.0013
"""Seconds a line is busy with a packet of 24 slots."""


def run_early(events: list[Event], seconds: float, clock: FakeClock | None = None) -> Turns:
    """What a loop hands on that answers keys at once."""
    turns: Turns = []
    taps = [lambda *turn: turns.append(turn)]
    loop = Loop(machine(), [ListFeed(events)], taps, clock or FakeClock(5.0), 40.0, early=LINE)
    loop.run(lambda: False, seconds)
    return turns


def test_a_key_is_answered_at_once_where_a_line_is_free() -> None:
    """A strike between two frames gives (k, 1) within a poll, lit, at its own time; the next is steady."""
    turns = run_early([NoteOn(0.0351, "p", 1, 60, 127), NoteOff(0.0361, "p", 1, 60)], 0.1)
    seen = [(beat.number, beat.early, frame.slot(1, 1)) for beat, frame, _ in turns]
    assert seen == [(0, 0, 0), (1, 0, 0), (1, 1, 255), (2, 0, 255), (3, 0, 0)]
    assert 0.0351 <= turns[2][1].t <= 0.0351 + 0.0006
    assert [len(taken) for _, _, taken in turns] == [0, 0, 1, 1, 0]


def test_a_key_too_close_to_a_frame_is_answered_by_that_frame() -> None:
    """Just before a frame, or just after the last turn, no early frame disturbs a steady one."""
    turns = run_early([NoteOn(0.0495, "p", 1, 60, 127)], 0.1)
    assert [(beat.number, beat.early) for beat, _, _ in turns] == [(0, 0), (1, 0), (2, 0), (3, 0)]
    turns = run_early([NoteOn(0.0251, "p", 1, 60, 127)], 0.1)
    assert turns[2][0].early == 1
    assert turns[2][1].t >= 0.025 + LINE


def test_only_a_strike_is_worth_an_early_frame() -> None:
    """Letting go, turning a knob and the end of a port wait for the steady frame."""
    others: list[Event] = [NoteOff(0.035, "p", 1, 60), Control(0.036, "p", 1, 1, 90), PortGone(0.037, "p")]
    assert not any(beat.early for beat, _, _ in run_early(others, 0.2))


@given(st.lists(st.tuples(st.floats(0, 0.4), st.integers(58, 64), st.booleans()), max_size=60))
def test_early_frames_keep_their_distance_and_change_no_steady_frame(
    drawn: list[tuple[float, int, bool]],
) -> None:
    """Whatever is played: numbers ascend, the line is free each time, steady frames are as without them."""
    events: list[Event] = [
        NoteOn(stamp, "p", 1, note, 99) if down else NoteOff(stamp, "p", 1, note)
        for stamp, note, down in drawn
    ]
    turns = run_early(list(events), 0.5)
    places = [(beat.number, beat.early) for beat, _, _ in turns]
    assert places == sorted(set(places))
    for (_, before, _), (beat, frame, _) in pairwise(turns):
        if beat.early or frame.t - before.t < 0.025:
            assert frame.t - before.t >= LINE - 1e-9
    steady = [frame for beat, frame, _ in turns if not beat.early]
    assert steady == [frame for _, frame, _ in run(FakeClock(5.0), list(events), 0.5)]
    assert sum(len(taken) for _, _, taken in turns) == len(events)


def test_stop_ends_the_loop_between_frames() -> None:
    """Asked to stop, the loop hands on nothing more."""
    turns: Turns = []
    loop = Loop(machine(), [], [lambda *turn: turns.append(turn)], FakeClock(), 40.0)
    assert loop.run(lambda: len(turns) >= 5) == 5
    assert len(turns) == 5


@given(
    st.lists(st.tuples(st.floats(0, 10), st.integers(0, 2)), max_size=40),
    st.lists(st.floats(0, 12), max_size=12),
)
def test_events_come_in_order_of_stamp_and_none_is_lost(
    drawn: list[tuple[float, int]], until: list[float]
) -> None:
    """Whatever feeds they come from and whenever asked, events are sorted by stamp and handed out once."""
    events = [NoteOn(stamp, str(which), 1, 60, 1) for stamp, which in drawn]
    feeds = [ListFeed([e for e in events if e.port == str(which)]) for which in range(3)]
    waiting = Waiting(feeds)
    out: list[Event] = []
    for t in [*sorted(until), 12.0]:
        taken = waiting.take(t)
        assert all(event.stamp <= t for event in taken)
        out += taken
    assert [event.stamp for event in out] == sorted(event.stamp for event in events)
    assert sorted(map(repr, out)) == sorted(map(repr, events))


def test_an_early_frame_of_a_take_shows_again_at_its_own_moment() -> None:
    """Guards count in time: shown a poll later, a rise they let pass a second after another would be held."""
    lit, dark = b"\xff" + bytes(511), bytes(512)
    pictures: list[Event] = [
        Picture(0.0, (1,), dark),
        Picture(0.0123456, (1,), lit, early=True),
        Picture(0.0181, (1,), dark, early=True),
        Picture(0.0250, (1,), lit),
    ]
    turns = run_early(pictures, 0.1)
    seen = [(beat.number, beat.early, frame.t, frame.slot(1, 1)) for beat, frame, _ in turns]
    assert seen[:4] == [(0, 0, 0.0, 0), (0, 1, 0.0123456, 255), (0, 2, 0.0181, 0), (1, 0, 0.025, 255)]


def test_a_frame_is_made_before_its_moment_and_says_when_that_is() -> None:
    """Outputs have a while to get ready: each frame is handed on early, with the moment k / hz of its own."""
    clock = FakeClock(7.0)
    made: list[float] = []
    moments: list[float] = []
    taps = [lambda *_turn: made.append(clock.now()), lambda beat, *_rest: moments.append(beat.due)]
    loop = Loop(machine(), [], taps, clock, 40.0)
    loop.run(lambda: False, 1.0)
    assert moments == pytest.approx([7.0 + k / 40 for k in range(40)])
    leads = [moment - now for moment, now in zip(moments, made, strict=True)]
    assert leads[1:] == pytest.approx([LEAD_SECONDS] * 39)
