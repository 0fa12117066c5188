"""Takes with early frames: replayed to the byte on any output, cut anywhere, begun between two frames."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.shell.clock import FakeClock
from bridge.shell.feeds import Feed, ListFeed
from bridge.shell.loop import Loop
from bridge.shell.recording import Recording
from bridge.shell.takes.edit import trim
from bridge.shell.takes.feeds import EventFeed, PictureFeed
from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import Recorder
from bridge.values.beat import Beat
from bridge.values.errors import UsageError
from bridge.values.events import Control, Event, NoteOn
from bridge.values.frame import Frame
from tests.shell.takes.child import frame
from tests.shell.takes.players import HEADER, HZ, MAPPING, PADS, PERFORMANCES, PIANO, RIG, bytes_of

LINE = 0.0013
"""Seconds a line is busy with a packet of 24 slots."""

BARE = replace(RIG, lamps=tuple(replace(lamp, rest=0.0) for lamp in RIG.lamps))


class Late:
    """Hands events out some time after their stamps, as a driver does."""

    def __init__(self, events: Sequence[Event], wait: float) -> None:
        self._feed, self._wait = ListFeed(events), wait

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        return self._feed.take(until - self._wait)


def record_live(path: Path, feeds: list[Feed], early: float | None = LINE, seconds: float = 1.6) -> Path:
    """Record what the real loop plays on a clock of its own; the path of the take."""
    recorder = Recorder(path, HEADER, every=0.02, room=100_000)
    loop = Loop(Engine(BARE, MAPPING), feeds, [recorder.tap], FakeClock(5.0), HZ, early=early)
    loop.run(lambda: False, seconds)
    recorder.close()
    assert not recorder.failed
    return recorder.path


def steady_of(take: Take) -> list[tuple[int, bytes]]:
    """The frames that every output gets."""
    return [(k, shown.slots.tobytes()) for k, j, _, shown in take.frames() if not j]


@settings(max_examples=25)
@given(PERFORMANCES)
def test_a_replay_on_an_early_output_is_the_show(events: list[Event]) -> None:
    """Shown again where early frames go out, every frame is there, to the byte and to its moment."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Take(record_live(folder / "first.take", [ListFeed(events)])) as one:
            shown = record_live(folder / "shown.take", [PictureFeed(one)])
            with Take(shown) as two:
                assert steady_of(two) == steady_of(one)
                frames = bytes_of(one)
                # Only a picture that differs from the one before it is shown again.
                new = [now for before, now in pairwise(frames) if now[1] and now[3] != before[3]]
                again = [(k, t, slots) for k, j, t, slots in bytes_of(two) if j]
                assert again == [(k, t, slots) for k, _, t, slots in new]


@settings(max_examples=25)
@given(PERFORMANCES, st.sampled_from([0.0, 0.004, 0.03]))
def test_performed_anew_the_steady_frames_are_as_they_were(events: list[Event], wait: float) -> None:
    """With or without early outputs, however late events came, all outputs get the same steady frames."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Take(record_live(folder / "first.take", [Late(events, wait)])) as one:
            for early in (LINE, None):
                path = record_live(folder / "anew.take", [EventFeed(one)], early)
                with Take(path) as two:
                    assert steady_of(two) == steady_of(one)


def test_what_an_early_frame_took_late_is_not_in_the_frame_before_it(tmp_path: Path) -> None:
    """A key stamped before frame 4 and seen after it shows from the early frame on, then and again."""
    strike = NoteOn(0.0995, PIANO, 1, 60, 127)
    with Take(record_live(tmp_path / "a.take", [Late([strike], 0.004)], seconds=0.3)) as one:
        assert [(k, j) for k, j, _ in one.events()] == [(4, 1)]
        path = record_live(tmp_path / "b.take", [EventFeed(one)], None, 0.3)
        with Take(path) as two:
            assert steady_of(two) == steady_of(one)


@pytest.mark.parametrize("begin", [0.0, 0.1, 0.11, 0.1249, 0.5, 0.513])
def test_a_part_begins_with_a_steady_frame(tmp_path: Path, begin: float) -> None:
    """Cut anywhere, a part is as the take was from its first steady frame on, early frames between them."""
    notes = [NoteOn(0.0131 + 0.037 * n, PIANO, 1, 60 + n % 6, 100) for n in range(30)]
    with Take(record_live(tmp_path / "a.take", [ListFeed(notes)])) as whole:
        part = trim(whole, tmp_path / "part.take", begin, 1.2)
        first = next(k for k, j, t, _ in whole.frames(begin) if not j)
        wanted = [
            (k - first, j, shown.slots.tobytes()) for k, j, t, shown in whole.frames(begin, 1.2) if k >= first
        ]
        with Take(part) as cut:
            assert [(k, j, slots) for k, j, _, slots in bytes_of(cut)] == wanted
            assert any(j for _, j, _ in wanted)
            assert cut.header.begins_at == first / HZ
            assert cut.gaps == ()


def test_a_part_without_a_steady_frame_is_none(tmp_path: Path) -> None:
    """Between two steady frames there is nothing to cut out."""
    with Take(record_live(tmp_path / "a.take", [ListFeed([NoteOn(0.11, PIANO, 1, 60, 99)])])) as whole:
        assert [j for _, j, _, _ in whole.frames(0.105, 0.12)] == [1]
        with pytest.raises(UsageError, match=r"no frames from 0\.105 s"):
            trim(whole, tmp_path / "part.take", 0.105, 0.12)


def test_a_recording_begun_between_two_frames(tmp_path: Path) -> None:
    """Begun by a key that an early frame took, a take begins with the next steady frame, the key in it."""
    recording = Recording(tmp_path / "a.take", HEADER, {}, lambda: "")

    def tap(beat: Beat, shown: Frame, taken: Sequence[Event]) -> None:
        if any(isinstance(event, NoteOn) and event.note == 36 for event in taken):
            recording.start(shown.t)
        recording.tap(beat, shown, taken)

    knob = Control(0.2, PADS, 1, 21, 64)
    strikes = [
        NoteOn(stamp, port, 1, note, 99)
        for stamp, port, note in ((0.513, PADS, 36), (0.5163, PIANO, 62), (0.53, PIANO, 60))
    ]
    engine = Engine(BARE, MAPPING)
    loop = Loop(engine, [ListFeed([knob, *strikes])], [tap], FakeClock(5.0), HZ, early=LINE)
    loop.run(lambda: False, 1.0)
    recording.close()
    with Take.open(tmp_path / "a.take") as take:
        places = [(k, j, t) for k, j, t, _ in bytes_of(take)]
        assert places[:2] == [(0, 0, 0.0), (0, 1, pytest.approx(0.005, abs=6e-4))]
        assert take.next_k == 40 - 21
        held = list(take.events())
        assert [(k, j, type(event)) for k, j, event in held] == [
            (0, 0, Control), (0, 0, NoteOn), (0, 0, NoteOn), (0, 1, NoteOn)
        ]  # fmt: skip
        assert [event.stamp for _, _, event in held[1:]] == pytest.approx([-0.012, -0.0087, 0.005])
        assert take.gaps == ()
        with Take(record_live(tmp_path / "b.take", [EventFeed(take)], None, take.ends)) as again:
            assert steady_of(again) == steady_of(take)


def test_a_remark_before_the_first_steady_frame_is_of_that_frame(tmp_path: Path) -> None:
    """A guard that acts in the early frame that began the take is noted at its beginning."""
    recorder = Recorder(tmp_path / "a.take", HEADER)
    pair = Frame(0.0, (1, 3), frame(0).slots.repeat(2, axis=0))
    recorder.tap(Beat(400, 0.0, early=2), pair, [])
    recorder.remark("flash guard", 0.2, 400)
    recorder.tap(Beat(401, 0.0), pair, [])
    recorder.close()
    with Take(tmp_path / "a.take") as take:
        assert [(remark.k, remark.kind) for remark in take.remarks()] == [(0, "flash guard")]


def test_an_early_frame_whose_steady_one_found_no_room(tmp_path: Path) -> None:
    """It keeps its place between two steady frames; the one before it is lost, and said to be."""
    recorder = Recorder(tmp_path / "a.take", replace(HEADER, universes=(1,)))
    for k, early in ((0, 0), (2, 1), (3, 0)):
        recorder.tap(Beat(k, 0.0, early=early), Frame((k + early / 2) / HZ, (1,), frame(k).slots), [])
    recorder.close()
    with Take(tmp_path / "a.take") as take:
        assert [(k, j, t) for k, j, t, _ in take.frames()] == [(0, 0, 0.0), (2, 1, 2.5 / HZ), (3, 0, 3 / HZ)]
        assert take.lost == 2
        assert [str(gap) for gap in take.gaps] == ["frames from 0.025 s to 0.075 s are lost"]


def test_a_frame_kept_for_an_early_turn_that_failed_goes_back_in_no_take(tmp_path: Path) -> None:
    """The last good frame, sent again between two others, has its place there and not its old time."""
    recorder = Recorder(tmp_path / "a.take", replace(HEADER, universes=(1,)))
    for k, early, shown in ((0, 0, 0), (1, 0, 0), (1, 1, 0), (2, 0, 2)):
        recorder.tap(Beat(k, 0.0, early=early), frame(shown), [])
    recorder.close()
    with Take(tmp_path / "a.take") as take:
        assert [t for _, _, t, _ in take.frames()] == [0.0, 1 / HZ, 1 / HZ, 2 / HZ]
