"""Knows: how a performance becomes a standard MIDI file that any workstation reads, and this program again.

Must never know: takes' rows, engines, lamps.

Source: Standard MIDI Files 1.0 (MMA RP-001). The device name (meta 09) is from its later addition RP-019.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import mido

from bridge.shell.takes.gaps import Progress, quiet
from bridge.shell.takes.standing import Standing
from bridge.shell.whole_file import whole_file
from bridge.values.errors import UsageError
from bridge.values.events import Event, PortGone, RealTime, SongPosition
from bridge.wire.midi_out import encode
from bridge.wire.smf_track import LARGEST_VLQ
from bridge.wire.tempo import Division, Ruler, TempoMap

TICKS_A_QUARTER = 960
"""Ticks of a quarter note: half a millisecond each at 120 a minute, and what workstations use themselves."""

LONGEST_TICK = 550
"""Microseconds of a tick at the slowest tempo; a slower song gets more ticks a quarter."""

MOST_TICKS = 31_680
"""The largest multiple of TICKS_A_QUARTER that the file's header can say."""

LONGEST = 86_400.0
"""Seconds of a song: a day. Stamps of a take may say anything, and a file counts every tick."""

TELL_EVERY = 2000


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote.

    Args:
        tracks: names of the tracks with notes, in order. events: messages in them.
        left_out: kind of event -> how many a MIDI file cannot hold.
    """

    tracks: tuple[str, ...]
    events: int
    left_out: dict[str, int] = field(default_factory=dict)


class Ticks:
    """Ticks of a file with a tempo map, from seconds.

    Args:
        tempo: the song's map. Its changes are moved to whole ticks, and every time is then counted against
            the map as written, so that no error adds up.
    """

    def __init__(self, tempo: TempoMap) -> None:
        slowest = max(micros for _, _, micros in tempo.points)
        quarter = TICKS_A_QUARTER * math.ceil(slowest / TICKS_A_QUARTER / LONGEST_TICK)
        self.a_quarter = min(MOST_TICKS, quarter)
        self.changes = {round(beat * self.a_quarter): micros for _, beat, micros in tempo.points}
        self._ruler = Ruler(Division.from_word(self.a_quarter), self.changes.items())
        self._starts = [self._ruler.seconds_at(tick) for tick in self._ruler.ticks]

    def at(self, seconds: float) -> int:
        """The last tick at or before a time; 0 for times before the song.

        At or before, not nearest: an event that just made it into a frame must not come to lie after it.
        """
        if seconds <= 0.0:
            return 0
        number = bisect_right(self._starts, seconds) - 1
        micros = self._ruler.tempos[number]
        tick = self._ruler.ticks[number] + int(
            (seconds - self._starts[number]) * 1e6 * self.a_quarter / micros
        )
        while self._ruler.seconds_at(tick + 1) <= seconds:
            tick += 1
        while tick > 0 and self._ruler.seconds_at(tick) > seconds:
            tick -= 1
        return tick


def export_midi(
    events: Sequence[Event],
    path: str | Path,
    ends: float = 0.0,
    tempo: TempoMap | None = None,
    title: str = "",
    progress: Progress = quiet,
) -> Exported:
    """Write events as a standard MIDI file of type 1: a track of tempos, then one for each port and channel.

    Keys and pedals still down at the end are let go there; those of a port that vanished, when it did.

    Args:
        events: any, their stamps in seconds.
        ends: seconds at which the song ends, if after the last event.
        tempo: the song's tempo map; 120 a minute throughout without one.

    Raises:
        DeviceError: the file cannot be written.
        UsageError: it would be longer than a day.
    """
    last = max((event.stamp for event in events), default=0.0)
    if max(last, ends) > LONGEST:
        hours = max(last, ends) / 3600
        raise UsageError(f"{hours:,.0f} hours are too long for a song; give --from and --to, a day at most")
    ticks = Ticks(tempo or TempoMap())
    tracks: dict[tuple[str, int], list[tuple[int, bytes]]] = {}
    left_out: Counter[str] = Counter()
    standing: dict[str, Standing] = {}
    count = 0

    def put(event: Event, tick: int) -> None:
        nonlocal count
        data = b"" if isinstance(event, RealTime | SongPosition) else encode(event)
        if data:
            tracks.setdefault((event.port, event.channel), []).append((tick, data))  # type: ignore[union-attr]
            count += 1
        else:
            left_out[type(event).__name__] += 1

    for number, event in enumerate(sorted(events, key=lambda event: event.stamp), 1):
        ends = max(ends, event.stamp)
        port = getattr(event, "port", None)
        if isinstance(event, PortGone):
            for release in standing.pop(event.port, Standing()).ending(event.stamp):
                put(release, ticks.at(event.stamp))
            continue
        if port is not None:
            standing.setdefault(port, Standing()).take(event)
        put(event, ticks.at(event.stamp))
        if number % TELL_EVERY == 0:
            progress(number, len(events))
    end = ticks.at(ends)
    for state in standing.values():
        for release in state.ending(ends):
            put(release, end)
    names = _write(path, ticks, tracks, end, title)
    progress(max(1, len(events)), max(1, len(events)))
    return Exported(names, count, dict(left_out))


def _write(
    path: str | Path,
    ticks: Ticks,
    tracks: dict[tuple[str, int], list[tuple[int, bytes]]],
    end: int,
    title: str,
) -> tuple[str, ...]:
    song = mido.MidiFile(type=1, ticks_per_beat=ticks.a_quarter, charset="utf-8")
    first = mido.MidiTrack()
    if title:
        first.append(mido.MetaMessage("track_name", name=_plain(title)))
    before = 0
    for tick, micros in sorted(ticks.changes.items()):
        _put(first, mido.MetaMessage("set_tempo", tempo=micros), tick - before)
        before = tick
    _put(first, mido.MetaMessage("end_of_track"), max(0, end - before))
    song.tracks.append(first)
    channels = Counter(port for port, _ in tracks)
    names = []
    for (port, channel), messages in sorted(tracks.items()):
        name = f"{_plain(port)} {channel}".strip() if channels[port] > 1 and port else _plain(port)
        names.append(name)
        track = mido.MidiTrack()
        track.append(mido.MetaMessage("track_name", name=name))
        if port:
            track.append(mido.MetaMessage("device_name", name=_plain(port)))
        before = 0
        for tick, data in messages:
            _put(track, mido.Message.from_bytes(data), tick - before)
            before = tick
        _put(track, mido.MetaMessage("end_of_track"), end - before)
        song.tracks.append(track)
    with whole_file(path) as file:
        song.save(file=file)
    return tuple(names)


def _put(track: mido.MidiTrack, message: Any, delta: int) -> None:
    """Append a message after so many ticks; a wait that no four bytes can say is cut by empty texts."""
    while delta > LARGEST_VLQ:
        track.append(mido.MetaMessage("text", text="", time=LARGEST_VLQ))
        delta -= LARGEST_VLQ
    track.append(message.copy(time=delta))


def _plain(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")
