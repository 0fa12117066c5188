"""Knows: how a take becomes another take: a part of it, its notes on a grid, or a song file's notes.

Must never know: engines (it is handed one as a function), arguments, how rows are stored.

The take it reads is never changed; the new one gets a name of its own.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.shell.midi_file import read_song, too_long
from bridge.shell.takes.batch import Turn
from bridge.shell.takes.gaps import Progress, quiet
from bridge.shell.takes.reader import HAIR, Take
from bridge.shell.takes.standing import Standing
from bridge.shell.takes.writer import Perform, performed, write_take
from bridge.values.errors import FileError, UsageError
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.wire.take_header import TakeHeader
from bridge.wire.tempo import TempoMap

Key = tuple[str, int, int]
"""(port, channel, note)."""


def turns(take: Take, begin: float = 0.0, end: float = math.inf) -> Iterator[Turn]:
    """The turns of a take between two moments (seconds); the first brings about what stood there.

    Early frames before the first steady one are left out: a take begins with a steady one.
    """
    hz = take.header.refresh_hz
    first = math.ceil((begin - HAIR) * hz)
    skipped = {k + count: count for k, count in take.skipped()}
    held = deque(take.events(begin, end))
    opening: Sequence[Event] = ()
    begun = False
    if first > 0:
        opening = Standing(event for _, _, event in take.events(0.0, begin)).events(0.0)
    for k, j, t, frame in take.frames(begin, end):
        if j and not begun:
            continue
        begun = True
        events = [replace(event, stamp=t) for event in opening]
        opening = ()
        while held and held[0][:2] < (k, j):
            # Taken by a frame that is damaged or lost: the event need not be.
            at, between, event = held.popleft()
            yield at, 0, None, [event], between
        while held and held[0][:2] == (k, j):
            events.append(held.popleft()[2])
        yield k, skipped.get(k, 0) if j == 0 else 0, frame, events, j
    for k, j, event in held:
        yield k, 0, None, [event], j


def trim(
    take: Take, path: str | Path, begin: float = 0.0, end: float | None = None, progress: Progress = quiet
) -> Path:
    """Write the part of a take from `begin` to `end` (seconds) as a new take; the path it got.

    Frames and events are as they were, from 0 again. Keys that were down at `begin` show in its frames, and
    are not struck again when its events are performed anew.

    Raises:
        UsageError: nothing lies between them.
        DeviceError: it cannot be written.
    """
    last = take.ends if end is None else min(end, take.ends)
    first = next((shown for shown in take.frames(begin, last) if shown[1] == 0), None)
    if first is None:
        raise UsageError(
            f"the take {take.path} has no frames from {begin:g} s to {last:g} s; it is {take.ends:g} s long"
        )
    header = replace(take.header, begins_at=take.header.begins_at + first[0] / take.header.refresh_hz)
    total = int((last - begin) * take.header.refresh_hz)
    remarks = [remark for remark in take.remarks() if first[0] <= remark.k < last * take.header.refresh_hz]
    return write_take(path, header, turns(take, begin, last), total, take.mapping_texts, remarks, progress)


@dataclass(frozen=True, slots=True)
class Grid:
    """Where notes should begin.

    Args:
        step: beats between two points of the grid, over 0: 1 a quarter note, 0.25 a sixteenth.
        tempo: seconds and beats of the song (`TempoMap`; `at_tempo` for a constant one).
        offset: second of the take at which beat 0 falls.
    """

    step: float
    tempo: TempoMap
    offset: float = 0.0

    def nearest(self, seconds: float) -> float:
        """The moment of the nearest point of the grid, as heard: the nearer in time."""
        beat = self.tempo.beat_at(seconds - self.offset) / self.step
        points = (math.floor(beat), math.floor(beat) + 1)
        moments = [self.tempo.seconds_at(point * self.step) + self.offset for point in points]
        return min(moments, key=lambda moment: abs(moment - seconds))


def at_tempo(beats_a_minute: float) -> TempoMap:
    """A constant tempo.

    Raises:
        UsageError: none that a song could have.
    """
    if not 3.6 <= beats_a_minute <= 60_000_000:
        raise UsageError(f"a tempo of {beats_a_minute:g} beats a minute cannot be; 120 is usual")
    return TempoMap(((0.0, 0.0, round(60_000_000 / beats_a_minute)),))


def aligned(
    events: Iterable[Event], grid: Grid, strength: float = 1.0, begin: float = 0.0, end: float = math.inf
) -> list[Event]:
    """Events with their notes nearer to the grid, in order of their new stamps.

    A note-on from `begin` until before `end` moves by `strength` (0 not at all, 1 onto the grid) of its way
    to the nearest point, and its note-off moves along, so that it keeps its length; where the same key is
    struck again before that, the note ends there. Everything else stays.
    """
    out: list[Event] = []
    moved: dict[Key, float] = {}
    struck: dict[Key, int] = {}
    for event in sorted(events, key=lambda event: event.stamp):
        if isinstance(event, NoteOn):
            key, by = (event.port, event.channel, event.note), 0.0
            if begin <= event.stamp < end:
                by = max((grid.nearest(event.stamp) - event.stamp) * strength, min(0.0, -event.stamp))
            new = replace(event, stamp=event.stamp + by) if by else event
            before = struck.get(key)
            if before is not None and out[before].stamp > new.stamp:
                # Moved past the next strike of its key, which lies outside: no note overtakes another.
                out[before] = replace(out[before], stamp=new.stamp)
            moved[key], struck[key] = by, len(out)
            out.append(new)
        elif isinstance(event, NoteOff):
            by = moved.pop((event.port, event.channel, event.note), 0.0)
            out.append(replace(event, stamp=event.stamp + by) if by else event)
        else:
            out.append(event)
    return _in_order(out)


def _in_order(events: list[Event]) -> list[Event]:
    """By stamp; a note that would reach over the next strike of its key ends just there."""
    next_on: dict[Key, float] = {}
    for at in range(len(events) - 1, -1, -1):
        event = events[at]
        if isinstance(event, NoteOn):
            next_on[event.port, event.channel, event.note] = event.stamp
        elif isinstance(event, NoteOff):
            limit = next_on.get((event.port, event.channel, event.note), math.inf)
            if event.stamp > limit:
                events[at] = replace(event, stamp=limit)
    # Python's sort keeps the order of equals, so a note still ends before the next begins on the same moment.
    return sorted(events, key=lambda event: event.stamp)


def align(
    take: Take,
    path: str | Path,
    grid: Grid,
    strength: float,
    perform: Perform,
    begin: float = 0.0,
    end: float = math.inf,
    progress: Progress = quiet,
) -> Path:
    """Write a take with the notes from `begin` to `end` moved to a grid, its frames performed anew.

    Args:
        grid, strength: see `aligned`.
        perform: plays events through an engine.

    Raises:
        UsageError: a strength outside 0..1, or a step that is none.
        DeviceError: it cannot be written.
    """
    if not 0.0 <= strength <= 1.0:
        raise UsageError(
            f"a strength of {strength:g} cannot be; 0 moves nothing, 1 moves notes onto the grid"
        )
    if not grid.step > 0.0:
        raise UsageError(f"a grid of {grid.step:g} beats cannot be; 1 is a quarter note, 0.25 a sixteenth")
    events = aligned((event for _, _, event in take.events()), grid, strength, begin, end)
    turns = performed(events, perform)
    return write_take(path, take.header, turns, take.next_k, take.mapping_texts, progress=progress)


def import_midi(
    song: str | Path,
    path: str | Path,
    header: TakeHeader,
    perform: Perform,
    change: Callable[[Event], Event] = lambda event: event,
    progress: Progress = quiet,
) -> Path:
    """Make a take of a MIDI file, its frames performed; the path it got.

    Args:
        song: a standard MIDI file.
        change: what to make of each event, such as another port.

    Raises:
        FileError: the song cannot be read, or lasts over a day.
        DeviceError: the take cannot be written.
    """
    found = read_song(song)
    if flaw := too_long(song, found.ends, "shorten it where it waits, or set its tempo right"):
        raise FileError([flaw])
    events = [change(event) for event in found.events]
    total = int(found.ends * header.refresh_hz)
    return write_take(path, header, performed(events, perform), total, progress=progress)
