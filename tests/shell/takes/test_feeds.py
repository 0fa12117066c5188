"""A take played again: its frames to the byte, its events anew, from anywhere to anywhere."""

from __future__ import annotations

import math
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.commands.loading import load, shipped
from bridge.commands.loading import song as song_file
from bridge.shell.feeds import Feed, ListFeed
from bridge.shell.takes.feeds import EventFeed, PictureFeed
from bridge.shell.takes.reader import HAIR, Take
from bridge.shell.takes.writer import write_take
from bridge.values.errors import UsageError
from bridge.values.events import Control, Event, KeyPressure, NewMapping, NoteOff, NoteOn, Picture, RealTime
from bridge.values.mapping import Mapping
from tests.shell.takes.players import (
    HEADER,
    HZ,
    MAPPING,
    PADS,
    PERFORMANCES,
    PIANO,
    RIG,
    bytes_of,
    perform,
    played,
    record,
    song,
)

BARE = replace(RIG, lamps=tuple(replace(lamp, rest=0.0) for lamp in RIG.lamps))
"""Without a lamp at rest: what rests is lit by the engine itself, beside the picture of a take."""


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Take:
    """Two bars, recorded."""
    return Take(record(tmp_path_factory.mktemp("takes") / "two bars.take", [ListFeed(song())], 264))


def drained(feed: PictureFeed | EventFeed, until: float) -> list[Event]:
    """Everything a feed gives at the moments of frames up to `until`."""
    return [event for k in range(int(until * HZ) + 1) for event in feed.take(k / HZ)]


@settings(max_examples=50)
@given(PERFORMANCES)
def test_record_replay_record(events: list[Event]) -> None:
    """Fifty random performances: the take of a replay holds the frames of the first, to the byte and time."""
    with tempfile.TemporaryDirectory() as folder:
        first = record(Path(folder) / "first.take", [ListFeed(events)], rig=BARE)
        with Take(first) as one:
            shown = record(Path(folder) / "shown.take", [PictureFeed(one)], rig=BARE)
            anew = record(Path(folder) / "anew.take", [EventFeed(one)], rig=BARE)
            with Take(shown) as two, Take(anew) as three:
                assert bytes_of(two) == bytes_of(one)
                assert bytes_of(three) == bytes_of(one)
                assert list(three.events()) == list(one.events())


@given(PERFORMANCES, st.lists(st.floats(0.0, 0.3), max_size=40))
@settings(max_examples=15)
def test_what_was_late_is_late_again(events: list[Event], waits: list[float]) -> None:
    """Events that reached the engine frames after their stamps reach it in the same frames again."""

    class Late:
        """Hands each event out some time after its stamp, as a stalled driver does."""

        def __init__(self) -> None:
            pairs = zip(events, [*waits, *[0.0] * len(events)], strict=False)
            self._due = sorted(((event.stamp + wait, n, event) for n, (event, wait) in enumerate(pairs)))

        def take(self, until: float) -> list[Event]:
            out = [event for due, _, event in self._due if due <= until]
            self._due = [item for item in self._due if item[0] > until]
            return out

    with tempfile.TemporaryDirectory() as folder:
        late = record(Path(folder) / "late.take", [Late()], 80)
        with Take(late) as one, Take(record(Path(folder) / "again.take", [EventFeed(one)], 80)) as two:
            assert bytes_of(two) == bytes_of(one)
            assert list(two.events()) == list(one.events())


def test_a_picture_comes_when_the_frame_changes(take: Take) -> None:
    """One Picture for each change, at the time of its frame, and an end of the showing after the last."""
    pictures = drained(PictureFeed(take), take.ends)
    changes = []
    for _, _, t, frame in take.frames():
        if not changes or changes[-1][1] != frame.slots.tobytes():
            changes.append((t, frame.slots.tobytes()))
    assert [(event.stamp, event.slots) for event in pictures[:-1] if isinstance(event, Picture)] == changes
    assert pictures[-1] == Picture(take.ends, (), b"")


@pytest.mark.parametrize("begin", [0.0, 1.0, 1.013, 2.9])
def test_pictures_from_the_middle(take: Take, begin: float) -> None:
    """From any moment on, what stood there shows at once, and every later frame in its time."""
    feed = PictureFeed(take, begin, begin + 1.0)
    standing = b""
    for k in range(40):
        for event in feed.take(k / HZ):
            assert isinstance(event, Picture)
            standing = event.slots
        expected = take.frame_at(begin + k / HZ)
        assert expected is not None
        assert standing == expected.slots.tobytes()


def test_a_loop_comes_round(take: Take) -> None:
    """The second and tenth time through show what the first did."""
    feed = PictureFeed(take, 0.5, 1.5, loop=True)
    rounds: list[list[bytes]] = []
    standing = b""
    for k in range(400):
        for event in feed.take(k / HZ):
            assert isinstance(event, Picture)
            standing = event.slots
        if k % 40 == 0:
            rounds.append([])
        rounds[-1].append(standing)
    assert all(one == rounds[0] for one in rounds)
    assert len(set(rounds[0])) > 10
    assert math.isinf(feed.ends)
    assert not feed.done


@pytest.mark.parametrize("speed", [0.5, 2.0, 1.0, 0.8])
def test_speed(take: Take, speed: float) -> None:
    """At twice the speed all comes in half the time, notes and frames alike, and in the same order."""
    notes = [event for _, _, event in take.events() if isinstance(event, NoteOn)]
    feed = EventFeed(take, speed=speed)
    found = [event for event in drained(feed, take.ends / speed) if isinstance(event, NoteOn)]
    assert [event.note for event in found] == [event.note for event in notes]
    for one, other in zip(found, notes, strict=True):
        assert one.stamp == pytest.approx(other.stamp / speed, abs=1e-6)
    assert feed.done
    assert PictureFeed(take, speed=speed).ends == feed.ends == take.ends / speed


def test_transposed_notes_and_those_that_leave(tmp_path: Path) -> None:
    """Every note moves by as many semitones; one that would leave 0..127 is left out with its end."""
    events: list[Event] = [
        NoteOn(0.0, PIANO, 1, 60, 90),
        NoteOn(0.1, PIANO, 1, 126, 90),
        KeyPressure(0.15, PIANO, 1, 126, 5),
        NoteOff(0.2, PIANO, 1, 126),
        NoteOff(0.3, PIANO, 1, 60),
    ]
    with Take(
        write_take(tmp_path / "a.take", HEADER, ((k, 0, f, e) for k, f, e in played([ListFeed(events)])))
    ) as one:
        up = drained(EventFeed(one, transpose=2), one.ends)
        assert up == [NoteOn(0.0, PIANO, 1, 62, 90), NoteOff(0.3, PIANO, 1, 62)]


def test_nothing_stays_down_at_the_end(take: Take) -> None:
    """Cut off in the middle of notes and with the pedal down, all is let go at the end."""
    feed = EventFeed(take, 0.0, 0.5)
    events = drained(feed, 0.5)
    struck = {event.note for event in events if isinstance(event, NoteOn)}
    ends = [event for event in events if event.stamp == 0.5]
    assert len(struck) == 2
    assert NoteOff(0.5, PIANO, 1, 61) in ends
    assert Control(0.5, PIANO, 1, 64, 0) in ends
    assert feed.done
    frames = [frame for _, frame, _ in played([EventFeed(take, 0.0, 0.5)], 80)]
    dark = frames[0].slots.copy()
    dark[frames[0].slots > 0] = 0
    rest = [frame.slots.copy() for frame in frames[-3:]]
    assert all(int(slots.sum()) == int(slots[1, 511]) for slots in rest)


@given(st.floats(0.0, 5.0), st.floats(0.1, 2.0), st.sampled_from([0.5, 1.0, 1.7]))
@settings(max_examples=30)
def test_no_loop_leaves_a_note_behind(take: Take, begin: float, length: float, speed: float) -> None:
    """Whatever stretch is looped at whatever speed, no note of one time through sounds into the next."""
    feed = EventFeed(take, begin, begin + length, loop=True, speed=speed)
    seam = (min(begin + length, take.ends) - begin) / speed
    held: list[Event] = []
    for k in range(int(3.2 * seam * HZ)):
        held += feed.take(k / HZ)
    down: set[int] = set()
    rounds = 1
    for event in sorted(held, key=lambda event: event.stamp):
        if event.stamp > rounds * seam - 1.5 * HAIR:
            assert not down
            rounds += 1
        if isinstance(event, NoteOn):
            down.add(event.note)
        elif isinstance(event, NoteOff):
            down.discard(event.note)


def test_what_stood_is_brought_about(take: Take) -> None:
    """Started in the middle, knobs and pedals stand as they did, and keys down then are not struck."""
    events = drained(EventFeed(take, 4.0, 4.05), 0.05)
    assert [event for event in events if event.stamp == 0.0] == [
        Control(0.0, PADS, 1, 21, 100),
        Control(0.0, PIANO, 1, 64, 100),
    ]
    assert not any(isinstance(event, NoteOn) and event.note == 62 for event in events)


def test_active_sensing_keeps_its_promise_only_in_real_time(tmp_path: Path) -> None:
    """Signs of life are left out at any speed but their own: slowed down they would read as silence."""
    events: list[Event] = [RealTime(k * 0.3, PIANO, "active_sensing") for k in range(4)]
    with Take(
        write_take(tmp_path / "a.take", HEADER, ((k, 0, f, e) for k, f, e in played([ListFeed(events)])))
    ) as one:
        assert drained(EventFeed(one), one.ends) == events
        assert drained(EventFeed(one, speed=0.5), one.ends * 2) == []


def test_mappings_saved_meanwhile_come_back_as_mappings(tmp_path: Path) -> None:
    """A mapping saved during the recording is compiled from its text, and left out where nobody compiles."""
    other = Mapping("other")

    def turns():  # type: ignore[no-untyped-def]
        for k, frame in perform([]):
            yield k, 0, frame, [NewMapping(k / HZ, 1)] if k == 3 else []

    with Take(write_take(tmp_path / "a.take", HEADER, turns(), texts={1: "mapping: other\n"})) as one:
        texts: list[str] = []

        def compile(text: str) -> Mapping:
            texts.append(text)
            return other

        assert drained(EventFeed(one), one.ends) == []
        assert drained(EventFeed(one, compile=compile), one.ends) == [
            NewMapping(3 / HZ, other, text="mapping: other\n")
        ]
        assert texts == ["mapping: other\n"]


@pytest.mark.parametrize(
    ("begin", "end", "speed", "match"),
    [
        (0.0, 1.0, 0.0, "a speed of 0 cannot be played"),
        (0.0, 1.0, -1.0, "a speed of -1 cannot be played"),
        (0.0, 1.0, math.nan, "a speed of nan cannot be played"),
        (2.0, 1.0, 1.0, "nothing to play from 2 s to 1 s"),
        (1e9, None, 1.0, "nothing to play"),
        (1.0, 1.001, 1.0, "nothing to play from 1 s to 1.001 s"),
        (math.nan, None, 1.0, "nothing to play"),
    ],
)
def test_what_cannot_be_played_is_said(
    take: Take, begin: float, end: float | None, speed: float, match: str
) -> None:
    """A window with nothing in it, or a speed that is none, is the player's mistake, named."""
    with pytest.raises(UsageError, match=match):
        PictureFeed(take, begin, end, speed=speed)
    with pytest.raises(UsageError, match=match):
        EventFeed(take, begin, end, speed=speed)


def test_an_overdub_holds_both(tmp_path: Path) -> None:
    """Playing live on top of a replay records both, and the new take replays as it was."""
    under = Take(record(tmp_path / "under.take", [ListFeed(song(1))], 120, BARE))
    live: list[Event] = [NoteOn(1.0, PADS, 10, 36, 120), NoteOff(1.1, PADS, 10, 36)]
    with Take(record(tmp_path / "both.take", [PictureFeed(under), ListFeed(live)], 120, BARE)) as both:
        assert [event for _, _, event in both.events() if not isinstance(event, Picture)] == live
        with Take(record(tmp_path / "again.take", [EventFeed(both)], 120, BARE)) as again:
            assert bytes_of(again) == bytes_of(both) != bytes_of(under)
        with Take(record(tmp_path / "shown.take", [PictureFeed(both)], 120, BARE)) as shown:
            assert bytes_of(shown) == bytes_of(both)
    assert MAPPING.keys[1].mode == "latch"


def test_the_song_of_the_boathouse(tmp_path: Path) -> None:
    """The demo's own song, rig and mapping: replayed either way and recorded again, frames are the same."""
    rig, mapping, _ = load(
        shipped("examples", "boathouse", "rig.yaml"), shipped("examples", "boathouse", "mapping.yaml")
    )
    events, ends = song_file(shipped("examples", "boathouse", "evening.mid"), mapping)
    count = int(ends * rig.refresh_hz)

    def take_of(name: str, feed: Feed) -> Take:
        header = replace(HEADER, refresh_hz=rig.refresh_hz, universes=rig.universes)
        turns = ((k, 0, frame, held) for k, frame, held in played([feed], count, mapping, rig))
        return Take(write_take(tmp_path / name, header, turns))

    with take_of("first.take", ListFeed(events)) as one:
        with take_of("shown.take", PictureFeed(one)) as two, take_of("anew.take", EventFeed(one)) as three:
            assert bytes_of(two) == bytes_of(one)
            assert bytes_of(three) == bytes_of(one)
        assert len({slots for *_, slots in bytes_of(one)}) > 500
