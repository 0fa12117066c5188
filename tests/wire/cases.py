"""Knows: pairs of value and bytes for every codec of `wire`, and how to make song files.

Must never know: which test uses them. One table serves decoders, encoders, split feeds and trailing bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

from bridge.values import events as ev
from bridge.wire import artnet, dmx_serial, sacn
from bridge.wire.smf_track import encode_vlq
from tests.reference_rows import rows

PORT = "organ"
STAMP = 12.5


@dataclass(frozen=True)
class Case:
    """Bytes of a MIDI stream and the events they are; `both` where the encoder gives them back."""

    name: str
    data: bytes
    events: tuple[ev.Event, ...]
    rubbish: int = 0
    both: bool = False

    def __str__(self) -> str:
        return self.name


def _both(name: str, data: str, event: ev.Event) -> Case:
    return Case(name, bytes.fromhex(data), (event,), both=True)


def _in(name: str, data: str, *events: ev.Event, rubbish: int = 0) -> Case:
    return Case(name, bytes.fromhex(data), events, rubbish)


ON_60 = ev.NoteOn(STAMP, PORT, 1, 60, 64)
CLOCK = ev.RealTime(STAMP, PORT, "clock")
OTHER = ev.OtherMessage(STAMP, PORT)

MIDI = (
    _both("note on", "90 3C 40", ON_60),
    _both("note on, softest, channel 16", "9F 00 01", ev.NoteOn(STAMP, PORT, 16, 0, 1)),
    _both("note off", "80 3C 40", ev.NoteOff(STAMP, PORT, 1, 60, 64)),
    _both("note off, fast, channel 10", "89 7F 7F", ev.NoteOff(STAMP, PORT, 10, 127, 127)),
    _both("key pressure", "A1 3C 05", ev.KeyPressure(STAMP, PORT, 2, 60, 5)),
    _both("sustain pedal", "B0 40 7F", ev.Control(STAMP, PORT, 1, 64, 127)),
    _both("all notes off", "B2 7B 00", ev.Control(STAMP, PORT, 3, 123, 0)),
    _both("program", "C3 00", ev.Program(STAMP, PORT, 4, 0)),
    _both("channel pressure", "D4 7F", ev.ChannelPressure(STAMP, PORT, 5, 127)),
    _both("bend, lowest", "E0 00 00", ev.Bend(STAMP, PORT, 1, -8192)),
    _both("bend, at rest", "E0 00 40", ev.Bend(STAMP, PORT, 1, 0)),
    _both("bend, one step", "E0 01 40", ev.Bend(STAMP, PORT, 1, 1)),
    _both("bend, highest", "E0 7F 7F", ev.Bend(STAMP, PORT, 1, 8191)),
    _both("song position, a bar", "F2 10 00", ev.SongPosition(STAMP, PORT, 16)),
    _both("song position, the last", "F2 7F 7F", ev.SongPosition(STAMP, PORT, 16383)),
    _both("clock", "F8", CLOCK),
    _both("start", "FA", ev.RealTime(STAMP, PORT, "start")),
    _both("continue", "FB", ev.RealTime(STAMP, PORT, "continue")),
    _both("stop", "FC", ev.RealTime(STAMP, PORT, "stop")),
    _both("active sensing", "FE", ev.RealTime(STAMP, PORT, "active_sensing")),
    _both("reset", "FF", ev.RealTime(STAMP, PORT, "reset")),
    _in("velocity 0 is a note off of 64", "90 3C 00", ev.NoteOff(STAMP, PORT, 1, 60, 64)),
    _in("running status", "90 3C 40 3E 41", ON_60, ev.NoteOn(STAMP, PORT, 1, 62, 65)),
    _in(
        "running status, one data byte",
        "C0 05 06",
        ev.Program(STAMP, PORT, 1, 5),
        ev.Program(STAMP, PORT, 1, 6),
    ),
    _in("real time inside a message", "90 3C F8 40", CLOCK, ON_60),
    _in("real time keeps running status", "90 3C 40 F8 3C 40", ON_60, CLOCK, ON_60),
    _in("system exclusive", "F0 7E 7F 06 01 F7", OTHER),
    _in("empty system exclusive", "F0 F7", OTHER),
    _in("real time inside system exclusive", "F0 7E F8 7F F7", CLOCK, OTHER),
    _in("system exclusive ended by a note", "F0 7E 7F 90 3C 40", OTHER, ON_60),
    _in("system exclusive ended by another", "F0 01 F0 02 F7", OTHER, OTHER),
    _in("system exclusive ended by an undefined status", "F0 01 F4", OTHER, rubbish=1),
    _in("system exclusive cancels running status", "90 3C 40 F0 01 F7 3E 40", ON_60, OTHER, rubbish=2),
    _in("quarter frame", "F1 72", OTHER),
    _in("song select", "F3 05", OTHER),
    _in("tune request", "F6", OTHER),
    _in("no running status for quarter frames", "F1 72 71", OTHER, rubbish=1),
    _in("no running status for song select", "F3 05 06", OTHER, rubbish=1),
    _in("no running status for song position", "F2 10 00 11", ev.SongPosition(STAMP, PORT, 16), rubbish=1),
    _in("tune request cancels running status", "90 3C 40 F6 3E 40", ON_60, OTHER, rubbish=2),
    _in("stray data bytes", "3C 40", rubbish=2),
    _in("undefined system common", "F4 F5", rubbish=2),
    _in("undefined common cancels running status", "90 3C 40 F5 3E", ON_60, rubbish=2),
    _in("undefined real time changes nothing", "90 F9 3C FD 40", ON_60, rubbish=2),
    _in("an end with no beginning", "F7", rubbish=1),
    _in("a message cut short", "90 3C 90 3C 40", ON_60, rubbish=1),
    _in("a status followed by another", "80 90 3C 40", ON_60, rubbish=1),
    _in("nothing", ""),
)


@dataclass(frozen=True)
class PacketCase:
    """A packet, what it says, the codec that writes it and the one that reads it back to that."""

    name: str
    data: bytes
    encode: Callable[[], bytes]
    parse: Callable[[bytes], Any]
    value: object

    def __str__(self) -> str:
        return self.name


CID = bytes.fromhex("2f1c6d3a5b7e4c91a0d4e8b7135f9264")
GOLDEN_SLOTS = bytes.fromhex("00ff01fe02fd03fc04fb05fa06f907f808f709f60af50bf4")


def golden_sacn(slots: int = 24) -> sacn.SacnPackets:
    """The sender of the golden packets of sacn_e131.csv, after it has sent them."""
    packets = sacn.SacnPackets(CID, "Reference Source", 7, 120, slots)
    packets.data(GOLDEN_SLOTS.ljust(slots, b"\x00"), 9)
    return packets


def _golden(file: str, field: str) -> bytes:
    found = [
        row["golden_hex"] for row in rows(file) if row["section"] == "golden packet" and row["field"] == field
    ]
    return bytes.fromhex(found[0])


def _framed(data: bytes) -> list[tuple[int, bytes]]:
    return dmx_serial.FramedReader().feed(data)


_SACN = sacn.SacnData(CID, "Reference Source", 7, 120, 9, 0, 0, GOLDEN_SLOTS)

PACKETS = (
    PacketCase(
        "sacn, 24 slots",
        _golden("sacn_e131.csv", "data, 24 slots"),
        lambda: golden_sacn().data(GOLDEN_SLOTS, 9),
        sacn.parse,
        _SACN,
    ),
    PacketCase(
        "sacn, goodbye",
        _golden("sacn_e131.csv", "data, stream terminated"),
        lambda: golden_sacn().goodbye(10),
        sacn.parse,
        sacn.SacnData(CID, "Reference Source", 7, 120, 10, 0, 0, GOLDEN_SLOTS, terminated=True),
    ),
    PacketCase(
        "artnet, 24 slots",
        _golden("artnet.csv", "ArtDmx, 24 slots"),
        lambda: artnet.artdmx(0x0123, GOLDEN_SLOTS, 9),
        artnet.parse,
        artnet.ArtDmx(0x0123, 9, GOLDEN_SLOTS),
    ),
    PacketCase(
        # Marks, label and low-byte-first length from memory; no published table of them.
        "framed, 24 slots",
        bytes.fromhex("7E 06 19 00 00") + GOLDEN_SLOTS + b"\xe7",
        lambda: dmx_serial.framed_packet(GOLDEN_SLOTS),
        _framed,
        [(6, b"\x00" + GOLDEN_SLOTS)],
    ),
    PacketCase(
        "framed, query",
        bytes.fromhex("7E 03 02 00 00 00 E7"),
        dmx_serial.framed_query,
        _framed,
        [(3, b"\x00\x00")],
    ),
)


SOURCE_NAMES = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=80)
"""Names of a sender, some longer than their field."""


def encodable() -> st.SearchStrategy[ev.Event]:
    """Every event that has a MIDI message of its own."""
    channel, value = st.integers(1, 16), st.integers(0, 127)
    at = (st.just(STAMP), st.just(PORT))
    return st.one_of(
        st.builds(ev.NoteOn, *at, channel, value, st.integers(1, 127)),
        st.builds(ev.NoteOff, *at, channel, value, value),
        st.builds(ev.KeyPressure, *at, channel, value, value),
        st.builds(ev.Control, *at, channel, value, value),
        st.builds(ev.Program, *at, channel, value),
        st.builds(ev.ChannelPressure, *at, channel, value),
        st.builds(ev.Bend, *at, channel, st.integers(-8192, 8191)),
        st.builds(ev.SongPosition, *at, st.integers(0, 16383)),
        st.builds(
            ev.RealTime,
            *at,
            st.sampled_from(["clock", "start", "continue", "stop", "active_sensing", "reset"]),
        ),
    )


END_OF_TRACK = bytes.fromhex("FF 2F 00")


def at(delta: int, message: str | bytes) -> bytes:
    """An event of a track: its delta time in ticks and its bytes."""
    return encode_vlq(delta) + (bytes.fromhex(message) if isinstance(message, str) else message)


def meta(kind: int, body: bytes) -> bytes:
    """A meta event."""
    return bytes((0xFF, kind)) + encode_vlq(len(body)) + body


def tempo(microseconds: int) -> bytes:
    """A set tempo event, in microseconds per quarter note."""
    return meta(0x51, microseconds.to_bytes(3))


def chunk(kind: bytes, content: bytes) -> bytes:
    """A chunk with its true length."""
    return kind + len(content).to_bytes(4) + content


def track(*events: bytes, end: int | None = 0) -> bytes:
    """A track chunk; `end` is the delta time of End of Track, None to leave it out."""
    closing = b"" if end is None else at(end, END_OF_TRACK)
    return chunk(b"MTrk", b"".join(events) + closing)


def song_file(*chunks: bytes, form: int = 1, division: int = 480, promised: int | None = None) -> bytes:
    """A song file; `promised` is the number of tracks its header claims, all of them unless given."""
    count = sum(piece[:4] == b"MTrk" for piece in chunks) if promised is None else promised
    head = form.to_bytes(2) + count.to_bytes(2) + division.to_bytes(2)
    return chunk(b"MThd", head) + b"".join(chunks)
