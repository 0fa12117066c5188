"""Knows: what becomes of any bytes that come from a wire, or from a song's file.

Must never know: who makes the bytes.
"""

from __future__ import annotations

from pathlib import Path

from bridge.values import events as ev
from bridge.values.errors import WireError
from bridge.wire import artnet, sacn, smf
from bridge.wire.dmx_serial import FramedReader
from bridge.wire.midi_in import MidiDecoder
from bridge.wire.midi_out import encode
from tests.fuzz.files_target import ROOT
from tests.wire.cases import CID, MIDI, at, golden_sacn, meta, song_file, tempo, track

KEPT = 1 << 16
"""Most bytes a reader may hold back of what it was fed."""


def midi(data: bytes) -> None:
    """A stream in pieces gives the events it gives whole; the first byte says how long pieces are."""
    if not data:
        return
    size, stream = data[0] % 7 + 1, data[1:]
    pieces = [stream[at : at + size] for at in range(0, len(stream), size)]
    cut, whole = MidiDecoder("port"), MidiDecoder("port")
    found = [event for piece in pieces for event in cut.feed(piece, 1.0)]
    if found != whole.feed(stream, 1.0) or cut.rubbish != whole.rubbish:
        raise RuntimeError("pieces differ from the whole")
    for event in found:
        if getattr(event, "channel", 1) not in range(1, 17):
            raise RuntimeError("no such channel")
        if not isinstance(event, ev.OtherMessage):
            encode(event)


def song(data: bytes) -> None:
    """A song has events in order of time, none after its end, and a tempo map that goes both ways."""
    try:
        found = smf.parse(data)
    except WireError as error:
        str(error).encode("utf-8")
        return
    stamps = [event.stamp for event in found.events]
    if stamps != sorted(stamps) or any(stamp > found.ends for stamp in stamps):
        raise RuntimeError("events out of order")
    for seconds in (0.0, found.ends / 2, found.ends):
        found.seconds_at(found.beat_at(seconds))
    "".join(found.tracks)


def datagrams(data: bytes) -> None:
    """A datagram of either network protocol, and what a serial adapter answers, in pieces."""
    for parse in (sacn.parse, artnet.parse):
        try:
            parse(data)
        except WireError as error:
            str(error).encode("utf-8")
    reader = FramedReader()
    size = len(data) % 5 + 1
    for at_ in range(0, len(data), size):
        for _, payload in reader.feed(data[at_ : at_ + size]):
            if len(payload) > KEPT:
                raise RuntimeError("a message longer than there can be")


def midi_seeds() -> list[bytes]:
    """Every case of the tests of MIDI."""
    return [bytes([number % 7]) + case.data for number, case in enumerate(MIDI)]


def song_seeds() -> list[bytes]:
    """The boathouse's song, and small files of every kind."""
    notes = at(0, "90 3C 40") + at(96, "3C 00") + at(0, "F0 02 7D F7") + meta(3, b"lead") + meta(9, b"organ")
    whole = Path(ROOT / "examples" / "boathouse" / "evening.mid").read_bytes()
    return [
        whole,
        song_file(track(tempo(500_000) + at(480, tempo(250_000)), notes)),
        song_file(track(notes), form=0, division=0xE728),
        song_file(track(tempo(1)), track(notes), form=2),
    ]


def datagram_seeds() -> list[bytes]:
    """A packet of each protocol."""
    slots = bytes(range(24))
    return [
        golden_sacn().data(slots, 7),
        golden_sacn().goodbye(8),
        sacn.sync_packet(CID, 7000, 1),
        sacn.discovery_pages(CID, "Reference Source", (1, 2, 7))[0],
        artnet.artdmx(3, slots, 9),
        bytes.fromhex("7E 03 05 00 01 02 09 01 28 E7 7E 0A 04 00 78 56 34 12 E7"),
    ]
