"""The recorder: what is tapped is in the file, the show never waits, what fails is said and harms nobody."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import LATE, Recorder
from bridge.values.beat import Beat
from bridge.values.errors import DeviceError
from bridge.values.events import Control, Event, NewMapping, NoteOn, RealTime
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from bridge.wire.take_header import Remark, TakeHeader
from tests.shell.takes.child import HEADER, HZ, events, frame


def wait_for(condition: Callable[[], object], seconds: float = 5.0) -> None:
    """Wait until something is true."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it never came true"
        time.sleep(0.002)


def tap(recorder: Recorder, first: int, last: int, skipped: int = 0) -> None:
    """Tap frames first..last-1; before the first, some numbers were left out."""
    for k in range(first, last):
        recorder.tap(Beat(k, 0.0, skipped if k == first else 0), frame(k), events(k))


def test_what_was_tapped_is_there(tmp_path: Path) -> None:
    """Header, frames, events, times and remarks are read as they were given, from a take that ended well."""
    recorder = Recorder(tmp_path / "a.take", HEADER, every=0.01)
    tap(recorder, 0, 30)
    wait_for(lambda: recorder.written >= 30)
    recorder.remark("guard flash", {"lamps": 3})
    recorder.remark("output", ["sacn", "down"], k=7)
    tap(recorder, 30, 57)
    recorder.close()
    recorder.close()
    assert recorder.failed == ""
    assert recorder.path == tmp_path / "a.take"
    with Take(recorder.path) as take:
        assert take.header == HEADER
        assert [(k, j, t) for k, j, t, _ in take.frames()] == [(k, 0, k / HZ) for k in range(57)]
        assert all(shown == frame(k) for k, _, _, shown in take.frames())
        assert list(take.events()) == [(k, 0, event) for k in range(57) for event in events(k)]
        assert list(take.remarks()) == [
            Remark(29, "guard flash", {"lamps": 3}),
            Remark(7, "output", ["sacn", "down"]),
        ]
        assert take.complete
        assert take.gaps == ()
        assert take.ends == 57 / HZ
        assert take.reach == "1.425 s, ended as it should"


def test_left_out_and_early_frames(tmp_path: Path) -> None:
    """Numbers the clock left out are known as such, and an early frame keeps its number and its moment."""
    recorder = Recorder(tmp_path / "a.take", HEADER)
    tap(recorder, 0, 3)
    early = [Frame(2.4 / HZ, (1,), frame(90).slots), Frame(2.7 / HZ, (1,), frame(2).slots)]
    for shown in early:
        recorder.tap(Beat(2, 0.0), shown, [RealTime(shown.t, "p", "start")])
    tap(recorder, 8, 10, skipped=5)
    recorder.close()
    with Take(recorder.path) as take:
        numbers = [(k, j) for k, j, _, _ in take.frames()]
        assert numbers == [(0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (8, 0), (9, 0)]
        assert [shown for _, j, _, shown in take.frames() if j] == early
        assert list(take.skipped()) == [(3, 5)]
        assert take.gaps == ()
        assert [(k, j) for k, j, event in take.events() if isinstance(event, RealTime)] == [(2, 1), (2, 2)]


def test_begun_in_the_middle_of_a_show(tmp_path: Path) -> None:
    """A recording that begins at frame 400 is a take from 0 on, and begins with what stood then."""
    standing = [Control(3.0, "port", 1, 21, 90)]
    recorder = Recorder(tmp_path / "a.take", HEADER, before=standing)
    for k in range(400, 440):
        recorder.tap(Beat(k, 0.0), frame(k), [NoteOn(k / HZ - 0.01, "port", 1, 60, 9)] if k == 404 else [])
    recorder.remark("late", k=404)
    recorder.close()
    with Take(recorder.path) as take:
        assert [(k, t) for k, _, t, _ in take.frames()] == [(k, k / HZ) for k in range(40)]
        assert all(np.array_equal(shown.slots, frame(k + 400).slots) for k, _, _, shown in take.frames())
        (first, second) = list(take.events())
        assert first == (0, 0, Control(0.0, "port", 1, 21, 90))
        assert second[0] == 4
        assert second[2].stamp == pytest.approx(0.09)
        assert [remark.k for remark in take.remarks()] == [4]


def test_a_new_mapping_brings_its_text(tmp_path: Path) -> None:
    """A mapping that came into force is kept as text; one whose text nobody gave is known to be missing."""
    recorder = Recorder(tmp_path / "a.take", HEADER)
    told, carried, unknown = Mapping("told"), Mapping("carried"), Mapping("unknown")
    recorder.know(told, "mapping: told\n" * 2000)
    events: list[Event] = [
        NewMapping(0.0, told),
        NewMapping(0.0, carried, text="mapping: carried\n"),
        NewMapping(0.0, unknown, keep=False),
        NewMapping(0.0, carried, text="mapping: carried\n"),
    ]
    recorder.tap(Beat(0, 0.0), frame(0), events)
    recorder.close()
    with Take(recorder.path) as take:
        found = [event for _, _, event in take.events() if isinstance(event, NewMapping)]
        assert [take.mapping_text(event.mapping) for event in found] == [
            "mapping: told\n" * 2000,
            "mapping: carried\n",
            None,
            "mapping: carried\n",
        ]
        assert [event.keep for event in found] == [True, True, False, True]
        assert len(take.mapping_texts) == 2


def test_late_turns_are_remarked_on(tmp_path: Path) -> None:
    """A turn that came late enough to matter is noted with its milliseconds; the others are not."""
    recorder = Recorder(tmp_path / "a.take", HEADER)
    for k, late in enumerate((0.0, LATE, LATE * 0.99, 0.0123)):
        recorder.tap(Beat(k, late), frame(k), [])
    recorder.close()
    with Take(recorder.path) as take:
        assert list(take.remarks()) == [Remark(1, "late", 5.0), Remark(3, "late", 12.3)]


def test_nothing_is_written_over(tmp_path: Path) -> None:
    """A name that is taken, by whatever, stays as it is; the take gets the next free name and says so."""
    (tmp_path / "evening.take").write_text("precious")
    (tmp_path / "evening-2.take").mkdir()
    recorder = Recorder(tmp_path / "evening.take", HEADER)
    assert recorder.ready() == recorder.path == tmp_path / "evening-3.take"
    assert recorder.asked == tmp_path / "evening.take"
    tap(recorder, 0, 3)
    recorder.close()
    assert (tmp_path / "evening.take").read_text() == "precious"
    with Take(tmp_path / "evening-3.take") as take:
        assert take.next_k == 3


def test_a_stalled_disk_costs_frames_and_never_the_show(tmp_path: Path) -> None:
    """While nothing is written, taps return, memory is bounded, and frames without room count as lost."""
    recorder = Recorder(tmp_path / "a.take", HEADER, every=3600, room=20)
    recorder.ready()
    tap(recorder, 0, 50)
    assert recorder.waiting <= 20 + sum(1 for k in range(20, 50) if events(k))
    assert recorder.dropped == 30
    recorder.close()
    with Take(recorder.path) as take:
        assert [k for k, *_ in take.frames()] == list(range(20))
        assert list(take.events()) == [(k, 0, event) for k in range(50) for event in events(k)]
        assert take.lost == 30
        assert [str(gap) for gap in take.gaps] == ["frames from 0.500 s to 1.250 s are lost"]
        assert take.ends == 50 / HZ
    assert recorder.failed == ""


def test_after_a_stall_it_goes_on(tmp_path: Path) -> None:
    """Frames after a stall are there again, and what lies between is a gap that says why."""
    recorder = Recorder(tmp_path / "a.take", HEADER, every=0.01, room=10**6)
    tap(recorder, 0, 10)
    tap(recorder, 30, 40)
    recorder.close()
    with Take(recorder.path) as take:
        assert [k for k, *_ in take.frames()] == [*range(10), *range(30, 40)]
        assert [str(gap) for gap in take.gaps] == ["frames from 0.250 s to 0.750 s are lost"]
        assert take.complete


@pytest.mark.parametrize("where", ["missing/a.take", "file/a.take", "bad\0name.take"])
def test_a_place_that_cannot_be_written(tmp_path: Path, where: str) -> None:
    """No folder, a file in the place of one, no name at all: said at once, and the show may go on tapping."""
    (tmp_path / "file").write_text("")
    recorder = Recorder(tmp_path / where, HEADER)
    with pytest.raises(DeviceError, match=r"cannot write the take .*name a folder that exists"):
        recorder.ready()
    tap(recorder, 0, 5)
    recorder.close()
    assert "cannot write the take" in recorder.failed
    assert recorder.waiting == 0


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a folder that even root cannot write to")
def test_a_folder_that_may_not_be_written() -> None:
    """A folder that takes no files, not even from root, is an error that names the take."""
    recorder = Recorder("/proc/self/a.take", HEADER)
    with pytest.raises(DeviceError, match=r"cannot write the take /proc/self/a\.take"):
        recorder.ready()
    recorder.close()


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write to any folder")
def test_a_read_only_folder(tmp_path: Path) -> None:
    """A folder without the right to write is an error that names the take."""
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o555)
    recorder = Recorder(folder / "a.take", HEADER)
    with pytest.raises(DeviceError, match=r"cannot write the take .*Permission denied"):
        recorder.ready()
    recorder.close()


@pytest.mark.skipif(os.name == "nt", reason="an open file cannot be removed there")
def test_a_file_removed_meanwhile_is_noticed(tmp_path: Path) -> None:
    """A take that was removed or moved away under the recorder is a failure, not a file nobody will find."""
    recorder = Recorder(tmp_path / "a.take", HEADER, every=0.01)
    recorder.ready()
    tap(recorder, 0, 5)
    wait_for(lambda: recorder.written == 5)
    (tmp_path / "a.take").unlink()
    tap(recorder, 5, 10)
    wait_for(lambda: recorder.failed)
    assert "was removed while it was being written" in recorder.failed
    tap(recorder, 10, 20)
    recorder.close()
    assert recorder.waiting == 0


def test_our_own_mistake_costs_the_take_alone(tmp_path: Path) -> None:
    """A frame of another shape ends the recording with a reason; what was written before is there."""
    recorder = Recorder(tmp_path / "a.take", HEADER, every=0.01)
    tap(recorder, 0, 5)
    wait_for(lambda: recorder.written == 5)
    recorder.tap(Beat(5, 0.0), Frame(5 / HZ, (1, 2), np.zeros((2, 512), dtype=np.uint8)), [])
    wait_for(lambda: recorder.failed)
    assert recorder.failed == "ValueError: a frame of 1024 slots in a take of 512"
    recorder.close()
    with Take(recorder.path) as take:
        assert take.next_k == 5
        assert not take.complete


def test_an_event_that_no_take_can_hold_is_remarked_on(tmp_path: Path) -> None:
    """A value out of range costs itself alone, and a remark says what it was."""
    recorder = Recorder(tmp_path / "a.take", HEADER)
    bad: list[Event] = [NoteOn(0.0, "p", 1, 60, 0), NoteOn(0.0, "p", 1, 61, 1)]
    recorder.tap(Beat(0, 0.0), frame(0), bad)
    recorder.remark("odd", {1, 2})
    recorder.close()
    with Take(recorder.path) as take:
        assert [event for _, _, event in take.events()] == bad[1:]
        first, second = take.remarks()
        assert first.kind == "not recorded"
        assert "velocity" in str(first.data)
        assert (second.kind, second.data) == ("odd", "{1, 2}")


def test_a_take_being_recorded_is_not_read(tmp_path: Path) -> None:
    """Opening a take while it is recorded says so, and disturbs nothing."""
    recorder = Recorder(tmp_path / "a.take", HEADER, every=0.01)
    tap(recorder, 0, 5)
    wait_for(lambda: recorder.written == 5)
    with pytest.raises(DeviceError, match=r"a\.take is being recorded just now; end the recording first"):
        Take(recorder.path)
    tap(recorder, 5, 10)
    recorder.close()
    with Take(recorder.path) as take:
        assert take.next_k == 10


def test_a_rig_without_lamps(tmp_path: Path) -> None:
    """A show that drives nothing yet is recorded like any other."""
    recorder = Recorder(tmp_path / "a.take", TakeHeader(HZ, ()))
    for k in range(5):
        recorder.tap(Beat(k, 0.0), Frame(k / HZ, (), np.zeros((0, 512), dtype=np.uint8)), events(k))
    recorder.close()
    with Take(recorder.path) as take:
        assert [shown.universes for *_, shown in take.frames()] == [()] * 5
        assert len(list(take.events())) == 2


def test_a_take_is_one_sqlite_file_that_waits_for_the_disk(tmp_path: Path) -> None:
    """A take is an SQLite file of its own kind, sound by SQLite's own check, and nothing lies beside it."""
    recorder = Recorder(tmp_path / "a.take", HEADER, every=0.01)
    tap(recorder, 0, 100)
    recorder.close()
    assert [path.name for path in tmp_path.iterdir()] == ["a.take"]
    base = sqlite3.connect(recorder.path)
    assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert base.execute("PRAGMA application_id").fetchone() == (0x4C77546B,)
    assert base.execute("PRAGMA user_version").fetchone() == (1,)
    base.close()
