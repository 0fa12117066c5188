"""Exact numbers of shows that never took place."""

from __future__ import annotations

import tracemalloc

import pytest

from bridge.shell.report import ShowReport
from bridge.shell.report.reasons import FAILED, WORST, Reason
from bridge.values.beat import Beat, OutputState
from tests.shell.report.shows import START, Stage, note, rough, steady


def test_a_steady_show() -> None:
    """A minute at 40 Hz: 2400 frames at 40 a second, none late, every key within the limit."""
    report = steady(60.0).report
    assert (report.frames, report.early, report.skipped, report.failed) == (2400, 0, 0, 0)
    assert report.rate == pytest.approx(40.0, abs=0.001)
    assert report.lates.late == 0
    assert report.lateness.count == 2400
    assert report.lateness.worst < 0.0002
    assert report.evenness.count == 2399
    assert (report.all_notes, report.busiest) == (120, 2)
    (log,) = report.outputs
    assert (log.steady.count, log.over, log.missed) == (120, 0, 0)
    assert log.up_seconds == log.seconds > 59.9


def test_late_frames_have_reason_place_and_song() -> None:
    """A frame late by our own work and one left out by the system, each with its time in show and song."""
    stage = Stage()
    for _ in range(480):
        stage.turn()
    stage.turn(0.003, busy=0.0029)
    for _ in range(19):
        stage.turn()
    stage.turn(0.004, skipped=3)
    lates = stage.report.lates
    assert lates.turns == {Reason.OWN: 1, Reason.SYSTEM: 1, Reason.AWAY: 0}
    assert lates.left_out == {Reason.OWN: 0, Reason.SYSTEM: 3, Reason.AWAY: 0}
    first, second = lates.worst
    assert (first.t, first.behind, first.skipped) == (503 / 40, pytest.approx(0.079), 3)
    assert (first.song, first.song_at) == ("Harbour lights", pytest.approx(2.575))
    assert (second.t, second.behind, second.reason) == (12.0, 0.003, Reason.OWN)
    assert stage.report.skipped == 3
    assert stage.report.worst.values[12] == pytest.approx(0.079)


def test_a_sleep_counts_apart() -> None:
    """A jump of 30 s is neither unevenness nor lateness, and the rate is that of the time awake."""
    stage = Stage()
    for k in range(800):
        stage.turn(skipped=1200 if k == 400 else 0)
    report = stage.report
    assert report.lates.turns[Reason.AWAY] == 1
    assert report.away == pytest.approx(30.0, abs=0.001)
    assert report.rate == pytest.approx(40.0, abs=0.01)
    assert report.lateness.worst < 0.001
    assert report.evenness.worst < 0.001
    assert report.outputs[0].evenness.worst < 0.001
    assert report.span == pytest.approx(799 / 40 + 30.0)


def test_the_song_is_asked_for_the_worst_alone() -> None:
    """Asking costs time: only frames that are kept ask, and a steady show never does."""
    stage = steady(20.0)
    assert stage.asked == []
    for _ in range(100):
        stage.turn(0.002)
    assert len(stage.asked) == WORST


def test_a_key_counts_from_its_stroke() -> None:
    """Struck 7 ms before the moment of a frame whose packet left 0.3 ms after it: 7.3 ms."""
    stage = Stage(wire=0.0002)
    stage.turn()
    stage.turn(0.0001, notes=[0.025 - 0.007])
    stage.early(0.010, [0.035 - 0.0004])
    (log,) = stage.report.outputs
    assert log.steady.worst == pytest.approx(0.0073)
    assert log.early.worst == pytest.approx(0.0006)
    assert (stage.report.early, stage.report.frames) == (1, 2)


def test_failed_turns_and_lost_events_are_counted() -> None:
    """Turns that kept the frame before, with the first few of their times, and what the inbox dropped."""
    stage = Stage()
    for k in range(100):
        stage.turn(error=k % 10 == 0)
    assert stage.report.failed == 10
    assert stage.report.failed_at == [0.0, 0.25, 0.5, 0.75, 1.0][:FAILED]
    stage.report.turn(Beat(100, 0.0, dropped=7), 2.5, START + 2.5)
    assert stage.report.dropped == 7


def test_guards_and_loads() -> None:
    """How long each guard held back and how much at most; the highest current of each supply."""
    stage = Stage()
    for k in range(400):
        stage.turn(held=(0.0, 0.1 if 100 <= k < 140 else 0.0, 0.3 if k == 200 else 0.0))
        stage.report.loads([k / 40.0, 3.0])
    assert stage.report.held_seconds == pytest.approx([0.0, 1.0, 0.025])
    assert stage.report.held_most == [0.0, 0.1, 0.3]
    assert stage.report.amps == [pytest.approx(9.975), 3.0]


def test_notes_are_counted_by_the_second() -> None:
    """The busiest second, and beside a late frame the notes of its second or the one before."""
    stage = Stage(10.0)
    for k in range(40):
        stage.turn(0.002 if k == 21 else 0.0, notes=[k / 10.0] * (3 if 10 <= k < 20 else 0))
    assert (stage.report.all_notes, stage.report.busiest) == (30, 30)
    assert stage.report.notes.values == [0.0, 30.0]
    assert stage.report.lates.worst[0].notes == 30


def test_a_show_without_a_frame_or_an_output() -> None:
    """Nothing is counted, nothing divides by nothing."""
    report = ShowReport(40.0)
    assert (report.rate, report.span, report.frames) == (0.0, 0.0, 0)
    report.turn(Beat(0, 0.0), 0.0, START, [note(0.0)])
    assert (report.rate, report.frames, report.all_notes) == (0.0, 1, 1)


def test_memory_stays_bounded() -> None:
    """After its first ten minutes a show grows by less than 40 kB in ten hours, whatever goes wrong in it."""
    stage = rough(600.0)
    report, gone = stage.report, OutputState("", "down", "no route")
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for _ in range(40_000):
        stage.states = [gone, stage.states[1]] if stage.k % 7 else [OutputState("", "up"), stage.states[1]]
        stage.turn(0.002, skipped=35, busy=0.001, notes=[stage.k / 40.0] * 2, error=True)
    grown = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert report.span > 36_000.0 - 600.0
    assert grown < 40_000


def test_outputs_and_guards_may_be_told_in_batches() -> None:
    """Told of after every sixteen turns, keys, packets, evenness and the share of time up are the same."""
    each, batch = Stage(), Stage()
    up = OutputState("", "up")
    told: list[tuple[float, float]] = []
    for k in range(16 * 25):
        struck = [k / 40.0 - 0.003] if k % 10 == 0 else []
        each.turn(notes=struck, held=(0.0, 0.1, 0.0))
        begun = START + k / 40.0 + 0.0001
        batch.report.turn(Beat(k, 0.0001), k / 40.0, begun, [note(stamp) for stamp in struck])
        told.append((k / 40.0, begun + each.wire))
        if k % 16 == 15:
            batch.report.sent(0, told, up)
            batch.report.hold((0.0, 0.1, 0.0))
            told = []
    one, other = each.report.outputs[0], batch.report.outputs[0]
    assert other.steady.count == one.steady.count == 40
    assert other.steady.worst == one.steady.worst
    assert other.evenness.count == one.evenness.count
    assert (other.over, other.missed) == (0, 0)
    assert other.up_seconds == other.seconds == pytest.approx(one.seconds, abs=0.4)
    assert batch.report.held_seconds == pytest.approx(each.report.held_seconds, abs=0.4)
