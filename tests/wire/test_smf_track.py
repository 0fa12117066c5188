"""One track: variable-length numbers against the published table, names, and where it breaks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values.errors import WireError
from bridge.wire.smf_track import LARGEST_VLQ, Cursor, Track, encode_vlq, read_track
from tests.reference_rows import rows
from tests.wire.cases import at, meta, tempo

NUMBERS = [row for row in rows("smf_vlq.csv") if row["kind"] in ("vlq", "vlq extra")]
METAS = {row["bytes_hex"]: row for row in rows("smf_vlq.csv") if row["kind"] == "meta"}
TEMPOS = [row for row in rows("smf_vlq.csv") if row["kind"] == "tempo" and row["bytes_hex"]]


def read(*events: bytes) -> Track:
    data = b"".join(events)
    return read_track(data, 0, len(data), 1)


@pytest.mark.parametrize("row", NUMBERS, ids=lambda row: row["value_hex"])
def test_published_numbers_both_ways(row: dict[str, str]) -> None:
    """Each published quantity is written as its bytes and read back (Standard MIDI Files 1.0)."""
    data, value = bytes.fromhex(row["bytes_hex"]), int(row["value_decimal"])
    assert encode_vlq(value) == data
    assert len(data) == int(row["length_bytes"])
    cursor = Cursor(data, 0, len(data), "here")
    assert cursor.vlq("a number") == value
    assert not cursor.more


def test_the_largest_number() -> None:
    """Four bytes at most: the published largest quantity is ours, and one more is refused."""
    (row,) = [row for row in rows("smf_vlq.csv") if row["kind"] == "vlq rule"]
    assert int(row["value_decimal"]) == LARGEST_VLQ
    assert len(encode_vlq(LARGEST_VLQ)) == int(row["length_bytes"])
    for value in (LARGEST_VLQ + 1, -1):
        with pytest.raises(ValueError, match=r"a variable-length quantity is 0\.\.268435455, not"):
            encode_vlq(value)


@given(st.integers(0, LARGEST_VLQ), st.binary(max_size=3))
def test_numbers_come_back(value: int, more: bytes) -> None:
    """Any quantity is read back, and what follows it is left alone."""
    data = encode_vlq(value) + more
    cursor = Cursor(data, 0, len(data), "here")
    assert cursor.vlq("a number") == value
    assert data[cursor.at :] == more


@pytest.mark.parametrize("row", TEMPOS, ids=lambda row: row["bytes_hex"])
def test_published_tempos(row: dict[str, str]) -> None:
    """A set tempo event says its published microseconds a quarter note (Standard MIDI Files 1.0)."""
    assert read(at(3, row["bytes_hex"])).tempos == ((3, int(row["value_decimal"])),)


def test_published_meta_events() -> None:
    """The published meta events are read for what they are: an end, a signature passed over, a name."""
    assert read(at(7, "FF 2F 00"), at(9, "90 3C 40")) == Track("", "", 7, (), ())
    assert read(at(5, "FF 58 04 04 02 18 08")) == Track("", "", 5, (), ())
    assert read(at(0, "FF 03 05 4C 61 6D 70 73")).name == "Lamps"
    assert len(METAS) == 3


@pytest.mark.parametrize(
    ("body", "name"),
    [
        (b"  Lamps\x00", "Lamps"),
        ("Bögen".encode(), "Bögen"),
        ("Bögen".encode("latin-1"), "Bögen"),
        (b"\x1b[31mred\n", "[31mred"),
        (b"", ""),
    ],
    ids=repr,
)
def test_names_are_printable(body: bytes, name: str) -> None:
    """A name is text that a terminal can show, in whichever of the two usual encodings."""
    assert read(at(0, meta(0x03, body)), at(0, meta(0x09, body))) == Track(name, name, 0, (), ())


def test_the_first_name_holds() -> None:
    """A second name in the same track does not rename what came before it."""
    assert read(at(0, meta(0x03, b"one")), at(1, meta(0x03, b"two"))).name == "one"


def test_running_status_is_written_out() -> None:
    """Every message carries its status, also one that left it out in the file."""
    found = read(at(1, "90 3C 40"), at(2, "3E 41"), at(3, "C5 07"), at(4, "08"))
    assert found.messages == ((1, b"\x90\x3c\x40"), (3, b"\x90\x3e\x41"), (6, b"\xc5\x07"), (10, b"\xc5\x08"))
    assert found.ends == 10


def test_exclusive_events_are_wire_bytes() -> None:
    """An F0 event carries its F0 over the wire, an F7 event only what is in it."""
    found = read(at(0, "F0 03 7E 01 F7"), at(0, "F7 01 FA"))
    assert found.messages == ((0, b"\xf0\x7e\x01\xf7"), (0, b"\xfa"))


def test_a_longer_tempo_is_read() -> None:
    """Bytes that a later standard may add to a tempo are passed over."""
    assert read(at(0, meta(0x51, b"\x07\xa1\x20\x55"))).tempos == ((0, 500000),)


BROKEN = {
    "no event": (b"\x00", "byte 1: track 1 ends here; expected an event after its delta time"),
    "half a delta": (b"\x81", "byte 1: track 1 ends here; expected a delta time"),
    "delta of five bytes": (
        b"\x81\x80\x80\x80\x00",
        "byte 0: track 1: expected a delta time in at most 4 bytes",
    ),
    "no status": (at(0, "3C 40"), "byte 1: track 1: expected a status byte, as none is running, found 3C"),
    "meta cancels running status": (
        at(0, "90 3C 40") + at(0, "FF 01 00") + at(0, "3E 40"),
        "byte 9: track 1: expected a status byte, as none is running, found 3E",
    ),
    "exclusive cancels running status": (
        at(0, "90 3C 40") + at(0, "F0 01 F7") + at(0, "3E 40"),
        "byte 9: track 1: expected a status byte, as none is running, found 3E",
    ),
    "a data byte of 80": (at(0, "90 80"), "byte 2: track 1: expected a data byte, .* found 80"),
    "no data byte": (at(0, "90 90"), "byte 2: track 1: expected a data byte, a byte 00 to 7F, found 90"),
    "no second data byte": (at(0, "90 3C FF"), "byte 3: track 1: expected a second data byte, .* found FF"),
    "half a note": (at(0, "90 3C"), "byte 3: track 1 ends here; expected a second data byte"),
    "meta type": (at(0, "FF 90 00"), "byte 2: track 1: expected the type of a meta event, .* found 90"),
    "meta too long": (
        at(0, "FF 01 FF FF FF 7F 41"),
        "byte 8: track 1 ends here; expected a meta event of 268435455 bytes from byte 7 to byte 268435461",
    ),
    "exclusive too long": (
        at(0, "F0 05 01 F7"),
        "byte 5: track 1 ends here; expected a system exclusive event of 5 bytes from byte 3 to byte 7",
    ),
    "tempo of nothing": (at(0, tempo(0)), "byte 4: track 1: expected a tempo of 3 bytes, .* found 00 00 00"),
    "short tempo": (at(0, meta(0x51, b"\x07\xa1")), "byte 4: track 1: expected a tempo .* found 07 A1"),
    "empty tempo": (at(0, meta(0x51, b"")), "byte 4: track 1: expected a tempo .* found nothing"),
}


@pytest.mark.parametrize("status", [status for status in range(0xF1, 0xFF) if status != 0xF7], ids=hex)
def test_system_messages_stand_only_in_escapes(status: int) -> None:
    """No system status but F0, F7 and the FF of meta events may begin an event of a file."""
    message = f"^byte 1: track 1: expected a channel message, F0, F7 or FF, found {status:02X}$"
    with pytest.raises(WireError, match=message):
        read(at(0, bytes((status, 0, 0))))


@pytest.mark.parametrize("name", BROKEN)
def test_broken_tracks_name_the_byte(name: str) -> None:
    """Whatever is broken, the error says at which byte and what was expected there."""
    data, message = BROKEN[name]
    with pytest.raises(WireError, match=message):
        read(data)
