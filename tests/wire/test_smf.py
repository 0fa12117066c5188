"""Whole song files: against mido, the published file, the rules of the standard, and any bytes at all."""

from __future__ import annotations

import io
import random
import re
import tracemalloc

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values import events as ev
from bridge.values.errors import WireError
from bridge.wire import smf
from tests.reference_rows import rows
from tests.wire.cases import at, chunk, meta, song_file, tempo, track

ROWS = rows("smf_vlq.csv")
(GOLDEN_ROW,) = [row for row in ROWS if row["kind"] == "file golden"]
GOLDEN = bytes.fromhex(GOLDEN_ROW["bytes_hex"])
NOTE = "90 3C 40"


def stamps(song: smf.Song) -> list[float]:
    return [event.stamp for event in song.events]


def test_every_kind_of_row_has_a_check() -> None:
    """No kind of row of smf_vlq.csv is passed over: each is named in this test or its neighbours."""
    track_file = {"vlq", "vlq extra", "vlq rule", "meta", "tempo"}
    tempo_file = {"division", "division smpte", "tick", "tempo map example"}
    here = {"header", "header golden", "file golden", "rule"}
    assert {row["kind"] for row in ROWS} == track_file | tempo_file | here


def test_published_file() -> None:
    """The published file of 41 bytes is one note of half a second (Standard MIDI Files 1.0)."""
    assert len(GOLDEN) == int(GOLDEN_ROW["length_bytes"])
    song = smf.parse(GOLDEN)
    assert song.events == (ev.NoteOn(0.0, "", 1, 60, 64), ev.NoteOff(0.5, "", 1, 60, 64))
    assert (song.format, song.tracks, song.ends, song.tempos) == (0, ("",), 0.5, ((0.0, 500_000),))


def test_published_header() -> None:
    """The published header is format 0, one track of 480 ticks a quarter (Standard MIDI Files 1.0)."""
    (row,) = [row for row in ROWS if row["kind"] == "header golden"]
    song = smf.parse(bytes.fromhex(row["bytes_hex"]) + track(at(480, NOTE)))
    assert (song.format, len(song.tracks), stamps(song)) == (0, 1, [0.5])


@pytest.mark.parametrize("row", [row for row in ROWS if (row["kind"] == "header" and row["note"] == "format")
                                 or row["unit"] == "format"], ids=lambda row: row["bytes_hex"])  # fmt: skip
def test_published_formats(row: dict[str, str]) -> None:
    """Each published format word is read as its number."""
    form = int.from_bytes(bytes.fromhex(row["bytes_hex"]))
    assert smf.parse(song_file(track(), form=form)).format == int(row["value_decimal"])


def mido_song(form: int, seed: int) -> bytes:
    """A file written by mido: 60 tempo changes over three tracks, notes and pedals between them."""
    chance = random.Random(seed)
    file = mido.MidiFile(type=form, ticks_per_beat=chance.choice([96, 480, 960, 11]))
    for number in range(1 if form == 0 else 3):
        part = mido.MidiTrack([mido.MetaMessage("track_name", name=f"part {number}")])
        for k in range(60):
            if k % (1 if form == 0 else 3) == number or form == 0:
                part.append(
                    mido.MetaMessage(
                        "set_tempo", tempo=chance.randint(80_000, 1_500_000), time=chance.randint(0, 999)
                    )
                )
            part.append(
                mido.Message("note_on", note=k, velocity=100, channel=number, time=chance.randint(0, 700))
            )
            part.append(
                mido.Message("control_change", control=64, value=k, channel=number, time=chance.randint(0, 9))
            )
            part.append(
                mido.Message("note_off", note=k, velocity=0, channel=number, time=chance.randint(1, 700))
            )
        file.tracks.append(part)
    data = io.BytesIO()
    file.save(file=data)
    return data.getvalue()


@pytest.mark.parametrize("form", [0, 1])
@pytest.mark.parametrize("seed", range(4))
def test_sixty_tempo_changes_as_mido_reckons(form: int, seed: int) -> None:
    """Every note of a file with 60 tempo changes lands within a microsecond of mido's reckoning."""
    data = mido_song(form, seed)
    song = smf.parse(data)
    now, expected = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now += message.time
        if not message.is_meta:
            expected.append((now, message.channel + 1, message.bytes()[1]))
    found = [
        (event.stamp, event.channel, event.control if isinstance(event, ev.Control) else event.note)
        for event in song.events
    ]
    assert len(song.tempos) > 55
    assert [one[1:] for one in found] == [one[1:] for one in expected]
    assert [one[0] for one in found] == pytest.approx([one[0] for one in expected], abs=1e-6, rel=0)
    assert song.ends == pytest.approx(now, abs=1e-6)


def test_a_tempo_in_any_track_is_everybodys() -> None:
    """In formats 0 and 1 a tempo change applies to all tracks from its tick on."""
    song = smf.parse(song_file(track(at(960, NOTE)), track(at(480, tempo(1_000_000)))))
    assert stamps(song) == [1.5]
    assert song.tempos == ((0.0, 500_000), (0.5, 1_000_000))


def test_sequences_play_one_after_the_other() -> None:
    """In format 2 each track has its own tempos, begins when the one before ends, and beats count on."""
    slow = track(at(0, tempo(1_000_000)), at(480, NOTE), end=480)
    plain = track(at(480, NOTE), end=240)
    song = smf.parse(song_file(slow, track(), plain, form=2))
    assert stamps(song) == [1.0, 2.5]
    assert song.ends == 2.75
    assert song.tempos == ((0.0, 1_000_000), (2.0, 500_000))
    assert [song.beat_at(seconds) for seconds in (1.0, 2.0, 2.5)] == [1.0, 2.0, 3.0]
    assert song.seconds_at(3.0) == 2.5


@pytest.mark.parametrize(("word", "second"), [(0xE828, 960), (0xE728, 1000), (0xE264, 3000)], ids=hex)
def test_smpte_ignores_tempo(word: int, second: int) -> None:
    """With SMPTE division a tick is part of a frame, whatever tempo a track sets."""
    song = smf.parse(song_file(track(at(0, tempo(1)), at(second, NOTE)), division=word))
    assert stamps(song) == [1.0]


def test_drop_frame_is_thirty_thousand_frames_in_1001_seconds() -> None:
    """SMPTE format 29 runs at 30000/1001 frames a second (SMPTE 12M)."""
    song = smf.parse(song_file(*[track(at(30_000, NOTE), end=0)], division=0xE301))
    assert song.ends == 1001.0


def test_events_of_one_moment_keep_their_order() -> None:
    """At the same time the first track comes first, and within a track the order of the file."""
    one = track(at(5, "90 01 01"), at(0, "80 01 00"), at(0, "01 01"))
    two = track(at(5, "91 02 01"), at(0, "81 02 00"))
    found = [(event.channel, type(event)) for event in smf.parse(song_file(one, two)).events]
    assert found == [(1, ev.NoteOn), (1, ev.NoteOff), (1, ev.NoteOff), (2, ev.NoteOn), (2, ev.NoteOff)]


def test_ports_are_device_names_then_track_names() -> None:
    """An event's port is its track's device name, else its track name, else empty."""
    song = smf.parse(
        song_file(
            track(at(0, NOTE), at(0, meta(0x03, b"left hand")), at(0, meta(0x09, b"organ"))),
            track(at(0, NOTE), at(0, meta(0x03, b"drums"))),
            track(at(0, NOTE)),
        )
    )
    assert [event.port for event in song.events] == ["organ", "drums", ""]
    assert song.tracks == ("left hand", "drums", "")


def test_exclusive_in_pieces_is_one_message() -> None:
    """A system exclusive message cut into an F0 and F7 events is one, at its end (rule from memory)."""
    song = smf.parse(song_file(track(at(0, "F0 02 43 12"), at(480, "F7 01 55"), at(480, "F7 02 01 F7"))))
    assert song.events == (ev.OtherMessage(1.0, ""),)


def test_escaped_bytes_are_what_they_are() -> None:
    """An F7 event carries any bytes: real time, song position and notes come out of it."""
    song = smf.parse(song_file(track(at(0, "F7 01 FA"), at(480, "F7 03 F2 10 00"), at(0, "F7 03 90 3C 40"))))
    assert song.events == (
        ev.RealTime(0.0, "", "start"),
        ev.SongPosition(0.5, "", 16),
        ev.NoteOn(0.5, "", 1, 60, 64),
    )


LENIENT = {
    "a longer header": chunk(b"MThd", bytes.fromhex("00 01 00 01 01 E0 AA BB")) + track(at(480, NOTE)),
    "unknown chunks": song_file(chunk(b"XFIH", b"abc"), track(at(480, NOTE)), chunk(b"zzzz", b"")),
    "no end of track": song_file(track(at(480, NOTE), end=None)),
    "bytes after end of track": song_file(chunk(b"MTrk", at(480, NOTE) + bytes.fromhex("00 FF 2F 00 90 90"))),
    "zero-length tracks": song_file(chunk(b"MTrk", b""), track(at(480, NOTE)), chunk(b"MTrk", b"")),
    "more tracks than promised": song_file(track(), track(at(480, NOTE)), promised=1),
    "format 0 with two tracks": song_file(track(), track(at(480, NOTE)), form=0),
    "rubbish after the last track": song_file(track(at(480, NOTE))) + b"\x00\x00\x00",
    "long rubbish after the last track": song_file(track(at(480, NOTE))) + b"\xff" * 20,
}


@pytest.mark.parametrize("name", LENIENT)
def test_harmless_oddities_lose_nothing(name: str) -> None:
    """What the standard lets a reader pass over is passed over, and no note with it."""
    song = smf.parse(LENIENT[name])
    assert song.events == (ev.NoteOn(0.5, "", 1, 60, 64),)
    assert song.ends == 0.5


def test_no_tracks_is_an_empty_song() -> None:
    """A file that promises nothing and holds nothing is a song of no length."""
    assert smf.parse(song_file()) == smf.Song(1, (), (), 0.0, smf.TempoMap())


HEAD = song_file(promised=1)
BROKEN = {
    "nothing": (b"", "byte 0: expected MThd, the start of a MIDI file, found nothing"),
    "another file": (b"RIFF\x00\x00\x00\x00RMID", "byte 0: expected MThd, .* found 52 49 46 46"),
    "half a header": (HEAD[:9], "byte 9: the file ends here; expected a header of 14 bytes"),
    "short header": (
        HEAD.replace(b"\x06", b"\x05", 1),
        "byte 4: expected a header length of at least 6, found 5",
    ),
    "endless header": (
        b"MThd\xff\xff\xff\xff" + HEAD[8:],
        "byte 14: the file ends here; its header should go on to byte 4294967302",
    ),
    "a header one byte short": (
        HEAD.replace(b"\x06", b"\x07", 1),
        "byte 14: the file ends here; its header should go on to byte 14",
    ),
    "format 3": (song_file(track(), form=3), "byte 8: expected format 0, 1 or 2, found 3"),
    "division 0": (song_file(division=0), "byte 12: expected a division of 1 to 32767 ticks .* found 0000"),
    "23 frames": (
        song_file(division=0xE928),
        "byte 12: expected a division of 24, 25, 29 or 30 .* found E928",
    ),
    "no ticks": (song_file(division=0xE700), "byte 12: expected a division of .* found E700"),
    "no track": (HEAD, "byte 14: the file ends here; expected track 1 of 1"),
    "a track too few": (song_file(track(), promised=2), "byte 26: the file ends here; expected track 2 of 2"),
    "endless track": (
        HEAD + b"MTrk\xff\xff\xff\xff\x00\xff\x2f\x00",
        "byte 26: the file ends here; track 1 of 1 should go on to byte 4294967316",
    ),
    "rubbish for a track": (
        HEAD + b"\x00" * 4 + b"\xff" * 8,
        "byte 14: expected track 1 of 1, found 00 00 00 00 which should go on to byte 4294967316, past",
    ),
    "too much of a track": (song_file(track()) + b"MTrk\x00\x00\x00\x09", "byte 34: .* track 2 should go on"),
    "a track cut by its length": (
        song_file(chunk(b"MTrk", at(0, "90 3C"))),
        "byte 25: track 1 ends here; expected a second data byte",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_files_name_the_byte(name: str) -> None:
    """Whatever is broken, the error says at which byte and what was expected there."""
    data, message = BROKEN[name]
    with pytest.raises(WireError, match=message):
        smf.parse(data)


@pytest.mark.parametrize("cut", range(len(LENIENT["zero-length tracks"])))
def test_a_cut_file_is_never_a_short_song(cut: int) -> None:
    """A file cut off anywhere is an error at the cut, so no bar is lost in silence."""
    place = 0 if cut < 4 else cut
    with pytest.raises(WireError, match=rf"^byte {place}: (the file ends here|expected MThd)"):
        smf.parse(LENIENT["zero-length tracks"][:cut])


@pytest.mark.parametrize("seed", range(3))
def test_a_cut_song_is_never_a_short_song(seed: int) -> None:
    """The same law on a real song of three tracks, cut in every track and chunk."""
    data = mido_song(1, seed)
    for cut in range(14, len(data), 7):
        with pytest.raises(WireError, match=rf"^byte {cut}: the file ends here"):
            smf.parse(data[:cut])


EVENTS = st.one_of(
    st.builds(lambda note: bytes((0x90, note, 64)), st.integers(0, 127)),
    st.builds(lambda program: bytes((0xC0, program)), st.integers(0, 127)),
    st.builds(tempo, st.integers(1, 0xFFFFFF)),
    st.builds(lambda body: meta(0x01, body), st.binary(max_size=4)),
)
TRACKS = st.builds(
    lambda events, end: track(*events, end=end),
    st.lists(st.builds(at, st.integers(0, 0x0FFFFFFF), EVENTS), max_size=6),
    st.one_of(st.none(), st.integers(0, 500)),
)
FILES = st.builds(
    lambda tracks, form, division: song_file(*tracks, form=form, division=division),
    st.lists(TRACKS, max_size=3),
    st.integers(0, 2),
    st.sampled_from([1, 96, 480, 0x7FFF, 0xE728, 0xE364]),
)


def a_song_or_the_error(data: bytes) -> None:
    try:
        song = smf.parse(data)
    except WireError as error:
        broken = str(error)
    else:
        assert stamps(song) == sorted(stamps(song))
        assert all(0 <= event.stamp <= song.ends for event in song.events)
        assert [seconds for seconds, _ in song.tempos] == sorted({seconds for seconds, _ in song.tempos})
        assert song.tempos[0][0] == 0.0
        return
    assert re.match(r"byte \d+: ", broken)


@given(FILES)
def test_whole_files_are_songs(data: bytes) -> None:
    """Every well-made file is a song whose events stand in order, none after its end."""
    smf.parse(data)
    a_song_or_the_error(data)


@given(
    st.one_of(
        st.binary(max_size=60),
        st.builds(lambda body: song_file(chunk(b"MTrk", body)), st.binary(max_size=60)),
    )
)
def test_any_bytes(data: bytes) -> None:
    """Any bytes, also as the content of a track, are a song or the one error with its byte."""
    a_song_or_the_error(data)


@given(FILES, st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), min_size=1, max_size=4))
def test_damaged_files(data: bytes, damage: list[tuple[int, int]]) -> None:
    """A good file with some bytes changed is a song or the one error with its byte."""
    changed = bytearray(data)
    for place, value in damage:
        changed[place % len(changed)] = value
    a_song_or_the_error(bytes(changed))


@pytest.mark.parametrize(
    "data",
    [
        b"MThd\x00\x00\x00\x06\x00\x01\xff\xff\x01\xe0MTrk\xff\xff\xff\xff",
        song_file(chunk(b"MTrk", bytes.fromhex("00 FF 01 FF FF FF 7F"))),
        song_file(chunk(b"MTrk", bytes.fromhex("FF FF FF 7F F0 FF FF FF 7F"))),
        song_file(*[chunk(b"MTrk", b"")] * 100, promised=0xFFFF),
    ],
    ids=["chunk", "meta", "exclusive", "tracks"],
)
def test_claims_cost_nothing(data: bytes) -> None:
    """A file that claims gigabytes costs no more memory than the bytes it has."""
    tracemalloc.start()
    with pytest.raises(WireError, match=r"byte \d+: .*ends here"):
        smf.parse(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 200_000
