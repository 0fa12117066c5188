"""A take made of another: a part of it, its notes on a grid, a song file's notes; nothing is changed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.feeds import ListFeed
from bridge.shell.takes.edit import Grid, align, aligned, at_tempo, import_midi, read_song, trim
from bridge.shell.takes.export_midi import export_midi
from bridge.shell.takes.feeds import EventFeed
from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import Recorder
from bridge.shell.takes.writer import performed, write_take
from bridge.values.beat import Beat
from bridge.values.errors import DeviceError, FileError, UsageError
from bridge.values.events import Control, Event, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.wire.take_header import Remark
from bridge.wire.tempo import TempoMap
from tests.shell.takes.child import events as sent
from tests.shell.takes.child import frame
from tests.shell.takes.players import HEADER, HZ, PADS, PERFORMANCES, PIANO, bytes_of, perform, record, song


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Take:
    """Two bars, recorded."""
    return Take(record(tmp_path_factory.mktemp("takes") / "two bars.take", [ListFeed(song())], 264))


@given(st.floats(0.0, 5.0), st.floats(0.05, 3.0))
@settings(max_examples=25)
def test_a_part_is_as_it_was(
    take: Take, tmp_path_factory: pytest.TempPathFactory, begin: float, length: float
) -> None:
    """Frames of a trimmed take are those of the first between the moments, from 0 on; so are its events."""
    folder = tmp_path_factory.mktemp("trim")
    with Take(trim(take, folder / "part.take", begin, begin + length)) as part:
        inside = [item for item in bytes_of(take) if begin - 1e-9 <= item[2] < begin + length - 1e-9]
        first = inside[0][0]
        assert bytes_of(part) == [(k - first, j, (k - first) / HZ, slots) for k, j, _, slots in inside]
        events = [event for _, _, event in take.events(begin, begin + length)]
        found = [event for _, _, event in part.events()]
        brought = len(found) - len(events)
        assert all(event.stamp == pytest.approx(0.0) for event in found[:brought])
        for one, other in zip(found[brought:], events, strict=True):
            assert replace(one, stamp=0.0) == replace(other, stamp=0.0)
            assert one.stamp == pytest.approx(other.stamp - first / HZ)
        assert part.complete
        assert part.header == replace(take.header, begins_at=first / HZ)


def test_trimmed_from_the_start_it_is_exact(take: Take, tmp_path: Path) -> None:
    """A take trimmed at its end alone keeps every stamp to the bit, and performs as it did."""
    with Take(trim(take, tmp_path / "part.take", end=3.0)) as part:
        assert list(part.events()) == list(take.events(0.0, 3.0))
        with Take(record(tmp_path / "again.take", [EventFeed(part)], part.next_k)) as again:
            assert bytes_of(again) == bytes_of(part)


def test_trimming_keeps_holes_early_frames_and_remarks(tmp_path: Path) -> None:
    """Left-out numbers, early frames, what was lost, remarks and mappings' texts come along."""
    recorder = Recorder(tmp_path / "a.take", replace(HEADER, universes=(1,)))
    recorder.know(object(), "mapping: other\n")
    for k in (*range(10, 20), *range(24, 30), *range(40, 50)):
        recorder.tap(Beat(k, 0.0, 4 if k == 24 else 0), frame(k), sent(k))
        if k == 26:
            recorder.tap(Beat(k, 0.0), Frame(26.5 / HZ, (1,), frame(99).slots), [])
            recorder.remark("odd", 1)
    recorder.close()
    with Take(recorder.path) as one, Take(trim(one, tmp_path / "b.take", 5 / HZ)) as two:
        assert [(k + 5, j) for k, j, *_ in two.frames()] == [(k, j) for k, j, *_ in one.frames(5 / HZ)]
        assert list(two.skipped()) == [(5, 4)]
        assert [(gap.begins, gap.ends, gap.why) for gap in two.gaps] == [(15 / HZ, 25 / HZ, "lost")]
        assert list(two.remarks()) == [Remark(11, "odd", 1)]
        assert two.mapping_texts == one.mapping_texts == {1: "mapping: other\n"}


def test_a_part_that_is_none(take: Take, tmp_path: Path) -> None:
    """Nothing between two moments is the player's mistake, and leaves no file."""
    with pytest.raises(UsageError, match=r"has no frames from 9 s to 6\.6 s; it is 6\.6 s long"):
        trim(take, tmp_path / "x.take", 9.0)
    assert list(tmp_path.iterdir()) == []


def test_the_grid_is_the_songs_own() -> None:
    """Points of the grid follow the tempo map: quarters of 500 ms, then of 1000 ms from beat 2 on."""
    grid = Grid(0.5, TempoMap(((0.0, 0.0, 500_000), (1.0, 2.0, 1_000_000))), offset=10.0)
    for seconds, nearest in (
        (10.1, 10.0),
        (10.2, 10.25),
        (10.99, 11.0),
        (11.2, 11.0),
        (11.3, 11.5),
        (9.8, 9.75),
    ):
        assert grid.nearest(seconds) == pytest.approx(nearest)


NOTES = st.lists(st.tuples(st.floats(0.0, 8.0), st.floats(0.01, 2.0), st.integers(60, 62)), max_size=25)


def notes(spans: list[tuple[float, float, int]]) -> list[Event]:
    events: list[Event] = []
    for begin, length, note in spans:
        events += [NoteOn(begin, "p", 1, note, 90), NoteOff(begin + length, "p", 1, note)]
    return sorted(events, key=lambda event: event.stamp)


@given(NOTES, st.floats(0.0, 1.0), st.sampled_from([0.25, 0.5, 1.0]), st.floats(40, 240))
def test_notes_move_towards_the_grid(
    spans: list[tuple[float, float, int]], strength: float, step: float, tempo: float
) -> None:
    """Each note-on goes `strength` of its way to the nearest point; order and number of events stay legal."""
    grid = Grid(step, at_tempo(tempo))
    events = notes(spans)
    moved = aligned(events, grid, strength)
    assert [event.stamp for event in moved] == sorted(event.stamp for event in moved)
    for note in (60, 61, 62):
        before = [event.stamp for event in events if isinstance(event, NoteOn) and event.note == note]
        after = [event.stamp for event in moved if isinstance(event, NoteOn) and event.note == note]
        for was, now in zip(before, after, strict=True):
            assert now == pytest.approx(was + strength * (grid.nearest(was) - was), abs=1e-9)
    if strength == 1.0:
        for event in moved:
            if isinstance(event, NoteOn):
                assert grid.nearest(event.stamp) == pytest.approx(event.stamp, abs=1e-9)
    assert (moved == events) or strength > 0.0


@given(NOTES, st.floats(0.0, 1.0), st.floats(0.0, 8.0), st.floats(0.0, 4.0))
def test_no_note_sticks(
    spans: list[tuple[float, float, int]], strength: float, begin: float, length: float
) -> None:
    """Whatever part is moved however far, as many keys go up as went down, each after its own strike."""
    grid = Grid(1.0, at_tempo(60.0))
    events = notes(spans)
    moved = aligned(events, grid, strength, begin, begin + length)
    assert len(moved) == len(events)
    for note in (60, 61, 62):
        ups = [event.stamp for event in moved if isinstance(event, NoteOff) and event.note == note]
        downs = [event.stamp for event in moved if isinstance(event, NoteOn) and event.note == note]
        assert len(ups) == len(downs)
        if downs:
            assert max(ups) >= max(downs)
    outside = [e for e in events if isinstance(e, NoteOn) and not begin <= e.stamp < begin + length]
    assert all(event in moved for event in outside)


def test_a_note_keeps_its_length_and_ends_at_the_next_strike() -> None:
    """A moved note is as long as before, but never reaches over the next strike of its key."""
    events = notes([(0.1, 0.3, 60), (1.2, 0.75, 60), (2.05, 0.2, 60)])
    moved = aligned(events, Grid(1.0, at_tempo(60.0)), 1.0)
    assert [round(event.stamp, 6) for event in moved] == [0.0, 0.3, 1.0, 1.75, 2.0, 2.2]
    late = aligned(notes([(0.6, 0.45, 60), (1.1, 0.2, 60)]), Grid(1.0, at_tempo(60.0)), 0.5)
    assert [round(event.stamp, 6) for event in late] == [0.8, 1.05, 1.05, 1.25]


def test_one_bar_aligned(take: Take, tmp_path: Path) -> None:
    """Only the bar that was named moves, and the frames are those of the new performance."""
    before = take.path.read_bytes()
    grid = Grid(0.5, at_tempo(120.0))
    with Take(align(take, tmp_path / "straight.take", grid, 1.0, perform, begin=3.0, end=6.0)) as straight:
        old = [event for _, _, event in take.events()]
        new = [event for _, _, event in straight.events()]
        assert [event for event in new if event.stamp < 2.9] == [event for event in old if event.stamp < 2.9]
        ons = [event.stamp for event in new if isinstance(event, NoteOn) and event.stamp > 2.9]
        assert all(stamp * 4 == pytest.approx(round(stamp * 4)) for stamp in ons)
        assert len(ons) == 7
        expected = [(k, frame.slots.tobytes()) for k, frame in perform(new)]
        assert [(k, slots) for k, _, _, slots in bytes_of(straight)] == expected
        assert all(event.stamp <= k / HZ < event.stamp + 1.001 / HZ for k, _, event in straight.events())
    assert take.path.read_bytes() == before


@pytest.mark.parametrize(
    ("step", "strength", "match"),
    [
        (0.0, 1.0, "a grid of 0 beats"),
        (-1.0, 1.0, "a grid of -1 beats"),
        (1.0, 1.1, "a strength of 1.1"),
        (1.0, math.nan, "a strength of nan"),
        (math.nan, 1.0, "a grid of nan beats"),
    ],
)
def test_grids_that_are_none(take: Take, tmp_path: Path, step: float, strength: float, match: str) -> None:
    """A step or strength that makes no sense is the player's mistake, named, and leaves no file."""
    with pytest.raises(UsageError, match=match):
        align(take, tmp_path / "x.take", Grid(step, at_tempo(120.0)), strength, perform)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("tempo", [0.0, -120.0, math.nan, math.inf])
def test_tempos_that_are_none(tempo: float) -> None:
    """A tempo no song could have is the player's mistake."""
    with pytest.raises(UsageError, match="beats a minute cannot be"):
        at_tempo(tempo)


@given(PERFORMANCES)
@settings(max_examples=20)
def test_a_song_file_becomes_a_take(tmp_path_factory: pytest.TempPathFactory, events: list[Event]) -> None:
    """A take of a MIDI file holds its events, and the frames of playing them."""
    folder = tmp_path_factory.mktemp("import")
    export_midi(events, folder / "song.mid")
    found = read_song(folder / "song.mid").events
    with Take(import_midi(folder / "song.mid", folder / "song.take", HEADER, perform)) as take:
        assert [event for _, _, event in take.events()] == list(found)
        assert [(k, slots) for k, _, _, slots in bytes_of(take)] == [
            (k, f.slots.tobytes()) for k, f in perform(found)
        ]
        assert take.complete


def test_a_song_file_on_another_port(tmp_path: Path) -> None:
    """What the caller makes of each event is what is recorded and performed."""
    export_midi([NoteOn(0.0, "nowhere", 1, 60, 99), NoteOff(0.5, "nowhere", 1, 60)], tmp_path / "song.mid")

    def to_piano(event: Event) -> Event:
        return replace(event, port=PIANO)  # type: ignore[call-arg]

    with Take(import_midi(tmp_path / "song.mid", tmp_path / "song.take", HEADER, perform, to_piano)) as take:
        assert {event.port for _, _, event in take.events()} == {PIANO}  # type: ignore[union-attr]
        assert max(frame.slot(1, 1) for *_, frame in take.frames()) > 50


def test_what_is_no_song_is_said(tmp_path: Path) -> None:
    """A file that is missing or no MIDI file is one error, and leaves no take."""
    (tmp_path / "x.mid").write_bytes(b"RIFF")
    with pytest.raises(FileError, match=r"x\.mid: byte 0: expected MThd"):
        import_midi(tmp_path / "x.mid", tmp_path / "x.take", HEADER, perform)
    with pytest.raises(FileError, match=r"y\.mid: there is no such file"):
        import_midi(tmp_path / "y.mid", tmp_path / "x.take", HEADER, perform)
    assert [path.name for path in tmp_path.iterdir()] == ["x.mid"]


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError])
def test_an_interrupted_edit_leaves_nothing(take: Take, tmp_path: Path, error: type[BaseException]) -> None:
    """Ctrl-C or a failure in the middle of writing a take leaves no file, whole or half."""

    def broken(events: Sequence[Event]) -> Iterator[tuple[int, Frame]]:
        for k, shown in perform(events):
            if k == 50:
                raise error
            yield k, shown

    with pytest.raises(error):
        align(take, tmp_path / "x.take", Grid(1.0, at_tempo(120.0)), 1.0, broken)
    assert list(tmp_path.iterdir()) == []


def test_an_edit_writes_over_nothing(take: Take, tmp_path: Path) -> None:
    """A name that is taken stays as it is, and the edit says which name it got."""
    (tmp_path / "x.take").write_text("precious")
    assert trim(take, tmp_path / "x.take", 0.0, 1.0) == tmp_path / "x-2.take"
    assert (tmp_path / "x.take").read_text() == "precious"
    with pytest.raises(DeviceError, match="cannot write the take"):
        trim(take, tmp_path / "missing" / "x.take")


def test_progress_is_told(tmp_path: Path) -> None:
    """A long edit says how far it is, ever further, and that it is done."""
    told: list[tuple[int, int]] = []

    def turns() -> Iterator[tuple[int, int, Frame, list[Event]]]:
        for k in range(1200):
            yield k, 0, frame(k), []

    write_take(
        tmp_path / "x.take",
        replace(HEADER, universes=(1,)),
        turns(),
        1200,
        progress=lambda *d: told.append(d),
    )
    assert told == [(400, 1200), (800, 1200), (1200, 1200), (1200, 1200)]


def test_a_performance_must_reach_its_end() -> None:
    """Events after the last frame would be lost, so a performance that stops short is our mistake."""
    with pytest.raises(ValueError, match="ended before its event at 9"):
        list(performed([Control(9.0, PADS, 1, 1, 1)], lambda _: [(0, frame(0))]))
