"""Song files: what other readers make of them, and that exporting and importing is the same performance."""

from __future__ import annotations

import warnings
from dataclasses import replace
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.takes.edit import at_tempo, read_song
from bridge.shell.takes.export_midi import Ticks, export_midi
from bridge.values.errors import DeviceError, UsageError
from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Do,
    Event,
    KeyPressure,
    NewMapping,
    NoteOff,
    NoteOn,
    OtherMessage,
    Picture,
    PortGone,
    Program,
    RealTime,
    SongPosition,
)
from bridge.wire.tempo import TempoMap
from tests.shell.takes.players import PADS, PIANO, perform, song

CHANGING = TempoMap(
    ((0.0, 0.0, 500_000), (1.0, 2.0, 1_200_000), (4.6, 5.0, 333_333), (5.2666594, 7.0002, 750_001))
)
"""120, 50, 180 and 80 quarters a minute, one change between two ticks."""

_PORTS = st.sampled_from([PIANO, PADS, "Flügel № 2", ""])
_STAMPS = st.floats(0.0, 20.0)
_SEVEN = st.integers(0, 127)
MESSAGES = st.lists(
    st.one_of(
        st.builds(NoteOn, _STAMPS, _PORTS, st.integers(1, 16), _SEVEN, st.integers(1, 127)),
        st.builds(NoteOff, _STAMPS, _PORTS, st.integers(1, 16), _SEVEN, _SEVEN),
        st.builds(Control, _STAMPS, _PORTS, st.integers(1, 16), _SEVEN, _SEVEN),
        st.builds(Bend, _STAMPS, _PORTS, st.integers(1, 16), st.integers(-8192, 8191)),
        st.builds(KeyPressure, _STAMPS, _PORTS, st.integers(1, 16), _SEVEN, _SEVEN),
        st.builds(ChannelPressure, _STAMPS, _PORTS, st.integers(1, 16), _SEVEN),
        st.builds(Program, _STAMPS, _PORTS, st.integers(1, 16), _SEVEN),
    ),
    max_size=40,
).map(lambda events: sorted(events, key=lambda event: event.stamp))
TEMPOS = st.sampled_from([None, CHANGING, at_tempo(20.0), at_tempo(300.0), at_tempo(4.0)])


def by_place(events: list[Event]) -> dict[tuple[str, int], list[Event]]:
    """Events of each port and channel, in order: what a file's tracks keep."""
    out: dict[tuple[str, int], list[Event]] = {}
    for event in events:
        out.setdefault((event.port, event.channel), []).append(event)  # type: ignore[union-attr]
    return out


@given(MESSAGES, TEMPOS)
@settings(max_examples=60)
def test_export_and_import_is_the_same_performance(
    tmp_path_factory: pytest.TempPathFactory, events: list[Event], tempo: TempoMap | None
) -> None:
    """Every message comes back on its port and channel, in order, within a millisecond and never later."""
    path = tmp_path_factory.mktemp("export") / "song.mid"
    export_midi(events, path, 21.0, tempo)
    back = read_song(path)
    assert back.format == 1
    before, after = by_place(events), by_place(list(back.events))
    assert set(before) == set(after)
    for place, first in before.items():
        second = after[place][: len(first)]
        assert [replace(event, stamp=0.0) for event in second] == [
            replace(event, stamp=0.0) for event in first
        ]
        for one, other in zip(first, second, strict=True):
            assert 0.0 <= one.stamp - other.stamp <= 0.001
        # What follows lets go of what was left down, at the end.
        assert all(isinstance(event, NoteOff | Control) for event in after[place][len(first) :])
    assert back.ends == pytest.approx(21.0, abs=0.001)


def test_the_songs_own_tempos_come_back(tmp_path: Path) -> None:
    """The tempo map of the file is the one that was given, changes moved by less than a millisecond."""
    export_midi(song(), tmp_path / "song.mid", tempo=CHANGING)
    back = read_song(tmp_path / "song.mid")
    for (at, micros), (seconds, _, asked) in zip(back.tempos, CHANGING.points, strict=True):
        assert micros == asked
        assert at == pytest.approx(seconds, abs=0.001)


def test_a_tick_is_fine_at_every_tempo() -> None:
    """960 ticks a quarter at 120 a minute, more where the song is slow, so that none is over 0.55 ms."""
    assert Ticks(TempoMap()).a_quarter == 960
    for tempo in (300.0, 120.0, 60.0, 20.0, 4.0):
        ticks = Ticks(at_tempo(tempo))
        assert ticks.a_quarter % 960 == 0
        assert 60.0 / tempo / ticks.a_quarter <= 0.00055
    assert Ticks(at_tempo(3.6)).a_quarter <= 32_767


@given(st.floats(0.0, 100.0), TEMPOS)
def test_a_tick_is_the_last_one_before(seconds: float, tempo: TempoMap | None) -> None:
    """The tick of a moment does not come after it, and the next one does."""
    ticks = Ticks(tempo or TempoMap())
    at = ticks.at(seconds)
    assert ticks._ruler.seconds_at(at) <= seconds < ticks._ruler.seconds_at(at + 1)


def test_frames_survive_the_trip(tmp_path: Path) -> None:
    """Performed again from the file, a performance struck on frames lights the same frames, to the byte."""
    events = [replace(event, stamp=round(event.stamp * 40) / 40) for event in song()]  # type: ignore[call-arg]
    export_midi(events, tmp_path / "song.mid")
    first = [frame.slots.tobytes() for _, frame in perform(events)]
    second = [frame.slots.tobytes() for _, frame in perform(read_song(tmp_path / "song.mid").events)]
    assert second == first
    assert len(set(first)) > 50


def mido_notes(path: Path) -> list[tuple[float, str, int, int, int]]:
    """(seconds, kind, channel, note, velocity) by mido's own reading."""
    out, now = [], 0.0
    for message in mido.MidiFile(str(path)):
        now += message.time
        if message.type in ("note_on", "note_off"):
            out.append((now, message.type, message.channel + 1, message.note, message.velocity))
    return out


@pytest.mark.parametrize("tempo", [None, CHANGING, at_tempo(33.0)], ids=["120", "changing", "33"])
def test_other_readers_read_the_same_notes(tmp_path: Path, tempo: TempoMap | None) -> None:
    """mido and pretty_midi find each note that was played, on its channel, its times within a millisecond."""
    events = [event for event in song(4) if isinstance(event, NoteOn | NoteOff)]
    export_midi(song(4), tmp_path / "song.mid", tempo=tempo)
    ours = sorted((e.stamp, e.channel, e.note, e.velocity, isinstance(e, NoteOn)) for e in events)
    theirs = sorted((t, c, n, v, kind == "note_on") for t, kind, c, n, v in mido_notes(tmp_path / "song.mid"))
    assert len(ours) == len(theirs)
    for one, other in zip(ours, theirs, strict=True):
        assert one[1:] == other[1:]
        assert abs(one[0] - other[0]) <= 0.001
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pretty_midi = pytest.importorskip("pretty_midi")
        read = pretty_midi.PrettyMIDI(str(tmp_path / "song.mid"))
    found = sorted(
        (n.start, n.pitch, n.velocity, n.end) for instrument in read.instruments for n in instrument.notes
    )
    starts = sorted((e.stamp, e.note, e.velocity) for e in events if isinstance(e, NoteOn))
    ends = sorted(e.stamp for e in events if isinstance(e, NoteOff))
    assert len(found) == len(starts) == 28
    for (start, pitch, velocity, _), expected in zip(found, starts, strict=True):
        assert (pitch, velocity) == expected[1:]
        assert abs(start - expected[0]) <= 0.001
    for end, expected_end in zip(sorted(n[3] for n in found), ends, strict=True):
        assert abs(end - expected_end) <= 0.001


def test_tracks_are_ports_and_channels(tmp_path: Path) -> None:
    """A track for the tempos, then one for each port and channel, named after them, the port its device."""
    events: list[Event] = [
        NoteOn(0.0, "Grand", 2, 60, 1),
        NoteOn(0.1, "Grand", 1, 60, 1),
        NoteOn(0.2, "Pads", 10, 36, 1),
        NoteOn(0.3, "", 1, 36, 1),
    ]
    told = export_midi(events, tmp_path / "song.mid", title="an evening")
    read = mido.MidiFile(str(tmp_path / "song.mid"))
    names = [[m.name for m in track if m.type in ("track_name", "device_name")] for track in read.tracks]
    assert names == [["an evening"], [""], ["Grand 1", "Grand"], ["Grand 2", "Grand"], ["Pads", "Pads"]]
    assert told.tracks == ("", "Grand 1", "Grand 2", "Pads")
    assert (read.type, read.ticks_per_beat) == (1, 960)
    assert told.left_out == {}


def test_what_a_song_file_cannot_hold_is_counted(tmp_path: Path) -> None:
    """Events that are no channel messages are left out and counted by kind, and do no harm."""
    events: list[Event] = [
        NoteOn(0.0, "p", 1, 60, 9),
        Do(0.1, "blackout_on"),
        Do(0.2, "blackout_off"),
        RealTime(0.3, "p", "clock"),
        SongPosition(0.3, "p", 5),
        OtherMessage(0.3, "p"),
        NewMapping(0.4, 1),
        Picture(0.5, (1,), bytes(512)),
        NoteOff(0.6, "p", 1, 60),
    ]
    told = export_midi(events, tmp_path / "song.mid")
    assert told.events == 2
    kinds = ("Do", "RealTime", "SongPosition", "OtherMessage", "NewMapping", "Picture")
    assert told.left_out == dict.fromkeys(kinds, 1) | {"Do": 2}
    assert len(read_song(tmp_path / "song.mid").events) == 2


def test_a_pulled_cable_lets_go_in_the_file_too(tmp_path: Path) -> None:
    """A port that vanished becomes note-offs and pedals up at that moment; the rest ends at the end."""
    events: list[Event] = [
        NoteOn(0.0, "p", 1, 60, 9),
        Control(0.1, "p", 1, 64, 127),
        NoteOn(0.2, "q", 1, 61, 9),
        PortGone(1.0, "p"),
    ]
    export_midi(events, tmp_path / "song.mid", 2.0)
    found = read_song(tmp_path / "song.mid").events
    assert [replace(event, stamp=round(event.stamp, 2)) for event in found] == [  # type: ignore[call-arg]
        NoteOn(0.0, "p", 1, 60, 9),
        Control(0.1, "p", 1, 64, 127),
        NoteOn(0.2, "q", 1, 61, 9),
        NoteOff(1.0, "p", 1, 60),
        Control(1.0, "p", 1, 64, 0),
        NoteOff(2.0, "q", 1, 61),
    ]


def test_a_late_event_before_the_start_is_at_the_start(tmp_path: Path) -> None:
    """A stamp before the take's first frame is written at the beginning: a file has no earlier."""
    export_midi([NoteOn(-0.3, "p", 1, 60, 9), NoteOff(0.5, "p", 1, 60)], tmp_path / "song.mid")
    assert [event.stamp for event in read_song(tmp_path / "song.mid").events] == pytest.approx(
        [0.0, 0.5], abs=0.001
    )


def test_nowhere_to_write(tmp_path: Path) -> None:
    """A folder that is missing is an error, and an interrupt leaves what was there before."""
    with pytest.raises(DeviceError, match="cannot write"):
        export_midi(song(), tmp_path / "missing" / "song.mid")
    (tmp_path / "song.mid").write_bytes(b"before")

    def interrupt(_done: int, _total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        export_midi(song(300), tmp_path / "song.mid", progress=interrupt)
    assert (tmp_path / "song.mid").read_bytes() == b"before"
    assert [path.name for path in tmp_path.iterdir()] == ["song.mid"]


@pytest.mark.parametrize("ages", [86_401.0, 1e12, 1e308])
def test_a_song_longer_than_a_day_is_refused(tmp_path: Path, ages: float) -> None:
    """A stamp of a take may be any number; no song is made of one that says it lasts for ages."""
    with pytest.raises(UsageError, match=r"hours are too long for a song; give --from and --to"):
        export_midi([NoteOn(ages, PIANO, 1, 60, 90)], tmp_path / "ages.mid")
    with pytest.raises(UsageError, match=r"hours are too long for a song; give --from and --to"):
        export_midi([], tmp_path / "ages.mid", ends=ages)
    assert not (tmp_path / "ages.mid").exists()


def test_a_wait_longer_than_four_bytes_can_say(tmp_path: Path) -> None:
    """In the ticks of a slow song a fast part may wait over 2^28 of them: it is cut, and read back."""
    tempo = TempoMap(((0.0, 0.0, 16_000_000), (16.0, 1.0, 50_000)))
    events = [NoteOn(1.0, PIANO, 1, 60, 90), NoteOff(2.0, PIANO, 1, 60), NoteOn(80_000.0, PIANO, 1, 61, 90)]
    export_midi(events, tmp_path / "long.mid", 86_000.0, tempo)
    read = read_song(tmp_path / "long.mid")
    assert [event.stamp for event in read.events] == pytest.approx([1.0, 2.0, 80_000.0, 86_000.0], abs=1e-3)
    assert read.ends == pytest.approx(86_000.0, abs=1e-3)
