"""Knows: a standard MIDI file as a whole: its chunks, and how its tracks become one song in seconds.

Must never know: file names, how the song is played, or what its notes light.

Two passes: every track in ticks first (`smf_track`), because a tempo may stand in any of them; then exact
seconds (`tempo`). Source: Standard MIDI Files 1.0 (MMA RP-001); the skipping of unknown chunks and of what
follows the sixth byte of the header is from memory of it.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.values.errors import WireError
from bridge.values.events import Event
from bridge.wire.midi_in import MidiDecoder
from bridge.wire.smf_track import Track, read_track
from bridge.wire.tempo import Division, Ruler, TempoMap

_HEADER_LENGTH = 6


@dataclass(frozen=True, slots=True)
class Song:
    """A song file, ready to be played.

    Args:
        format: 0, 1 (tracks play together) or 2 (tracks play one after the other, each with its own tempos).
        tracks: the tracks' names in the order of the file, empty where a track has none.
        events: sorted by stamp, then track, then place in the track. `stamp` is seconds from the start of the
            song; `port` the device name of the event's track, else its track name, else empty.
        ends: seconds at which the last track ends.
        tempo_map: seconds to beats and back.
    """

    format: int
    tracks: tuple[str, ...]
    events: tuple[Event, ...]
    ends: float
    tempo_map: TempoMap

    @property
    def tempos(self) -> tuple[tuple[float, int], ...]:
        """(seconds, microseconds per quarter note from there on), ascending, the first at 0."""
        return tuple((seconds, tempo) for seconds, _, tempo in self.tempo_map.points)

    def beat_at(self, seconds: float) -> float:
        """The beat (quarter note, 0 at the start) at a time."""
        return self.tempo_map.beat_at(seconds)

    def seconds_at(self, beat: float) -> float:
        """The time in seconds of a beat."""
        return self.tempo_map.seconds_at(beat)


def parse(data: bytes) -> Song:
    """Read a standard MIDI file.

    Args:
        data: the whole file. Time and memory grow with its length, never with the lengths it claims.

    Returns:
        The song. All tracks are read, also where the header promises fewer.

    Raises:
        WireError: the first thing that is broken, with the offset of the byte and what was expected there;
            a file that was cut off is always one, so that no bar is lost in silence.
    """
    form, promised, division, at = _header(data)
    tracks: list[Track] = []
    while len(data) - at >= 8 or len(tracks) < promised:
        begins, ends = _chunk(data, at, len(tracks), promised)
        if begins == ends == at:
            break
        if data[at : at + 4] == b"MTrk":
            tracks.append(read_track(data, begins, ends, len(tracks) + 1))
        at = ends
    pieces = [[track] for track in tracks] if form == 2 else [tracks]
    return _song(form, tracks, pieces, division)


def _header(data: bytes) -> tuple[int, int, Division, int]:
    """Format, number of tracks promised, division, offset of the next chunk."""
    if data[:4] != b"MThd":
        raise WireError(
            f"byte 0: expected MThd, the start of a MIDI file, found {data[:4].hex(' ') or 'nothing'}"
        )
    if len(data) < 8 + _HEADER_LENGTH:
        raise WireError(f"byte {len(data)}: the file ends here; expected a header of 14 bytes")
    length = int.from_bytes(data[4:8])
    if length < _HEADER_LENGTH:
        raise WireError(f"byte 4: expected a header length of at least 6, found {length}")
    if length > len(data) - 8:
        raise WireError(f"byte {len(data)}: the file ends here; its header should go on to byte {7 + length}")
    form, promised, word = (int.from_bytes(data[place : place + 2]) for place in (8, 10, 12))
    if form > 2:
        raise WireError(f"byte 8: expected format 0, 1 or 2, found {form}")
    try:
        division = Division.from_word(word)
    except ValueError as error:
        raise WireError(f"byte 12: expected a division of {error}, found {word:04X}") from None
    return form, promised, division, 8 + length


def _chunk(data: bytes, at: int, have: int, promised: int) -> tuple[int, int]:
    """Offsets of the content of the chunk at `at`; both `at` where only rubbish follows the last track."""
    what = f"track {have + 1}" if have >= promised else f"track {have + 1} of {promised}"
    if len(data) - at < 8:
        raise WireError(f"byte {len(data)}: the file ends here; expected {what}")
    begins = at + 8
    ends = begins + int.from_bytes(data[at + 4 : begins])
    if ends > len(data):
        if data[at : at + 4] == b"MTrk":
            raise WireError(f"byte {len(data)}: the file ends here; {what} should go on to byte {ends - 1}")
        if have >= promised:
            return at, at
        raise WireError(
            f"byte {at}: expected {what}, found {data[at : at + 4].hex(' ')} "
            f"which should go on to byte {ends - 1}, past the end of the file"
        )
    return begins, ends


def _song(form: int, tracks: list[Track], pieces: list[list[Track]], division: Division) -> Song:
    """Play the pieces one after the other; within a piece the tracks run together."""
    events: list[Event] = []
    points: list[tuple[float, float, int]] = []
    units = ticks = 0
    for piece in pieces:
        ruler = Ruler(division, (change for track in piece for change in track.tempos), units)
        # A decoder a track: it rejoins system exclusive messages that were cut into F7 events.
        decoders = [MidiDecoder(track.device or track.name) for track in piece]
        places = [
            (tick, decoder, message)
            for track, decoder in zip(piece, decoders, strict=True)
            for tick, message in track.messages
        ]
        places.sort(key=lambda place: place[0])  # stable, so track order and place in the track remain
        for tick, decoder, message in places:
            events.extend(decoder.feed(message, ruler.seconds_at(tick)))
        points.extend(ruler.points(ticks))
        ends = max((track.ends for track in piece), default=0)
        units = ruler.units_at(ends)
        ticks += ends
    latest = {point[0]: point for point in points}  # of several at one time, the last holds
    tempo_map = TempoMap(tuple(latest.values())) if latest else TempoMap()
    names = tuple(track.name for track in tracks)
    return Song(form, names, tuple(events), units / division.per_second, tempo_map)
