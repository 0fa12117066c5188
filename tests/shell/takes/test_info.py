"""What a take says about itself in lines for people."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from bridge.shell.feeds import ListFeed
from bridge.shell.takes.info import info
from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import Recorder
from bridge.values.beat import Beat
from bridge.values.events import Do, NewMapping, NoteOn, RealTime
from bridge.values.frame import Frame
from tests.shell.takes.child import HEADER as SMALL
from tests.shell.takes.child import HZ, frame
from tests.shell.takes.players import PIANO, RIG, record, song


def test_a_performance_in_lines(tmp_path: Path) -> None:
    """Length, end, files with fingerprints, notes by port, lamps lit: each in its line."""
    with Take(record(tmp_path / "bars.take", [ListFeed(song())], 264)) as take:
        assert info(take, RIG) == [
            "bars.take: 0:06.6 at 40 frames a second, 6.600 s, ended as it should",
            f"rig: rig.yaml ({take.header.rig_print})",
            f"mapping: mapping.yaml ({take.header.mapping_print})",
            "notes: 14 from C#2 to F4 (Grand Piano 1 1: 12, Pads of steel 10: 2)",
            "other events: note off 14 times, control 6 times",
            f"frames: 264, {sum(len(row.changes) for row in take.frame_rows())} pictures kept, none left out",
            "lamps lit: 6 of 6: red, square, cie, wide, rest, far",
            "guards and remarks: none",
        ]
        assert info(take)[-2] == "slots lit: 7: 1.1, 1.2, 1.3, 1.10, 1.11, 3.1, 3.512"


def test_what_went_wrong_in_lines(tmp_path: Path) -> None:
    """Late notes, late, left-out, early and lost frames, guards that acted, the song: each is said."""
    header = replace(
        SMALL, song="evening.wav", offset_ms=-20.0, begins_at=3.0, title="An evening", made="in June"
    )
    recorder = Recorder(tmp_path / "odd.take", header)
    recorder.tap(Beat(0, 0.0), frame(0), [])
    recorder.tap(Beat(1, 0.0123), frame(1), [Do(0.01, "blackout_on"), RealTime(0.02, "p", "clock")])
    recorder.tap(Beat(1, 0.0), Frame(1.5 / HZ, (1,), frame(9).slots), [NewMapping(0.03, object())])
    recorder.tap(Beat(12, 0.0, 10), frame(12), [NoteOn(0.1, PIANO, 1, 60, 9)])
    recorder.remark("guard flash", {"lamps": 2})
    recorder.remark("guard flash", {"lamps": 3})
    recorder.remark("guard load", {})
    recorder.tap(Beat(16, 0.0, 1), frame(16), [])
    recorder.close()
    with Take(recorder.path) as take:
        lines = info(take)
    assert lines[0] == (
        "odd.take: 0:00.4 at 40 frames a second, 0.425 s, ended as it should; "
        "frames from 0.325 s to 0.375 s are lost"
    )
    assert lines[1] == "recorded: An evening, in June"
    assert "song: evening.wav from 3 s, offset -20 ms" in lines
    assert "notes: 1 from C4 to C4 (Grand Piano 1 1: 1)" in lines
    assert "the latest note waited 175.0 ms longer than a frame" in lines
    assert "other events: blackout_on once, clock once, new mapping once" in lines
    assert (
        "frames: 5, 5 pictures kept, 1 early, 11 left out (at 0.05 s, 0.38 s), 2 lost to a slow disk" in lines
    )
    assert "late frames: 1, by 12.3 ms at most" in lines
    assert "guards and remarks: guard flash 2 times, guard load once" in lines
    assert lines[-1] == "missing: frames from 0.325 s to 0.375 s are lost"


def test_a_cut_take_in_lines(tmp_path: Path) -> None:
    """A take without its end says how far it goes, and a long one its hours."""
    recorder = Recorder(tmp_path / "cut.take", SMALL)
    for k in range(40):
        recorder.tap(Beat(k, 0.0), frame(k), [])
    recorder.tap(Beat(400_000, 0.0, 399_960), frame(3), [])
    recorder.close()
    data = recorder.path.read_bytes()
    recorder.path.write_bytes(data[: len(data) // 16384 // 2 * 16384] + data[-16384:])
    with Take(recorder.path) as take:
        assert info(take)[0].startswith("cut.take: 2:46:40.0 at 40 frames a second, 10000.025 s")
