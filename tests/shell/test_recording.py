"""Recording while a show goes on: started and ended at will, never in the way."""

from __future__ import annotations

from pathlib import Path

from bridge.core.engine import Engine
from bridge.shell.feeds import ListFeed
from bridge.shell.loop import offline
from bridge.shell.recording import Recording
from bridge.shell.takes.reader import Take
from bridge.values.events import Control, NoteOff, NoteOn
from bridge.values.mapping import Mapping, SetRule
from bridge.wire.take_header import TakeHeader
from tests.core.builders import control, each, rig


class Counts:
    """A guard that begins to hold back when told."""

    held = (0.0, 0)


def test_takes_begin_and_end_at_will(tmp_path: Path) -> None:
    """Two takes of one show: each has its own part, the second a free name, and knows what stood before."""
    guard = Counts()
    header = TakeHeader(40.0, (1,), title="evening")
    recording = Recording(tmp_path / "a.take", header, {"flash": guard}, lambda: "today")
    engine = Engine(rig(), Mapping(keys=(each(),), sets=(SetRule(control(7), "master"),)))
    events = [Control(0.1, "p", 1, 7, 64), NoteOn(0.5, "p", 1, 60, 127), NoteOff(1.5, "p", 1, 60)]
    for beat, frame, taken in offline(engine, [ListFeed(events)], 40.0, 120):
        if beat.number in (10, 90):
            recording.start(frame.t)
            assert recording.on
        if beat.number == 30:
            guard.held = (0.25, 1)
        recording.tap(beat, frame, taken)
        if beat.number in (50, 110):
            recording.stop()
    recording.close()
    assert sorted(path.name for path in recording.done) == ["a-2.take", "a.take"]
    with Take.open(tmp_path / "a.take") as take:
        assert take.complete
        assert [frame.slot(1, 1) for _, _, _, frame in take.frames()] == [0] * 10 + [129] * 31
        assert (take.header.begins_at, take.header.made) == (0.25, "today")
        assert [(remark.kind, remark.data) for remark in take.remarks()] == [("flash guard", 0.25)]
        assert Control(0.0, "p", 1, 7, 64) in [event for _, _, event in take.events()]
    assert "recorded:" in recording.line


def test_starting_twice_is_one_take(tmp_path: Path) -> None:
    """A second start changes nothing; toggling ends it."""
    recording = Recording(tmp_path / "a.take", TakeHeader(40.0, (1,)), {}, lambda: "")
    recording.toggle(0.0)
    recording.start(1.0)
    recording.toggle(2.0)
    recording.close()
    assert [path.name for path in tmp_path.glob("*.take")] == ["a.take"]
