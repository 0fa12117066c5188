"""The packets of `play` on the wire, byte for byte beside the golden ones of reference/sacn_e131.csv."""

from __future__ import annotations

import signal
import uuid
from pathlib import Path

from bridge.shell.outputs.cid import FILE_NAME, config_folder
from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, Piped
from tests.acceptance.scenes import write_song
from tests.reference_rows import rows

ROWS = rows("sacn_e131.csv")
FIELDS = {row["field"]: row for row in ROWS if row["section"] == "data packet"}
GOLDEN = {row["field"]: row["golden_hex"] for row in ROWS if row["section"] == "golden packet"}

RIG = """\
rig: The golden picture
lamp_types:
  plain: {{watts: 1, response: linear}}
lamps:
{lamps}
outputs:
  - {{kind: sacn, host: 127.0.0.1, as: 7, priority: 120, pad_to: 24}}
guards: {{load: off, flash: off, heat: off}}
"""

MAPPING = """\
mapping: Blackout while note 1 is down
controls:
  - {notes: 1, does: blackout}
"""

pytestmark = NEEDS_POSIX


def field(packet: bytes, name: str) -> bytes:
    """The bytes of one field of a data packet."""
    at, length = int(FIELDS[name]["byte_offset"]), int(FIELDS[name]["length_bytes"])
    return packet[at : at + length]


def with_field(packet: bytes, name: str, content: bytes) -> bytes:
    """The packet with other bytes in one field, filled up with zeros."""
    at, length = int(FIELDS[name]["byte_offset"]), int(FIELDS[name]["length_bytes"])
    return packet[:at] + content.ljust(length, b"\0") + packet[at + length :]


def test_packets_are_the_golden_ones(tmp_path: Path, wire: Ear) -> None:
    """Picture, CID, priority and universe of the golden packet give its bytes, but for our own name."""
    golden = bytes.fromhex(GOLDEN["data, 24 slots"])
    slots = field(golden, "DMP: property values = slots")
    lamps = [
        f"  - {{name: l{number}, type: plain, at: [{number}, 0], slot: {number}, rest: {value / 255!r}}}"
        for number, value in enumerate(slots, 1)
    ]
    (tmp_path / "rig.yaml").write_text(RIG.format(lamps="\n".join(lamps)), "utf-8")
    (tmp_path / "mapping.yaml").write_text(MAPPING, "utf-8")
    wire.cid = field(golden, "root: CID")
    (config_folder() / FILE_NAME).write_text(f"{uuid.UUID(bytes=wire.cid)}\n", "ascii")
    song = write_song(tmp_path / "song.mid", (2, 1))
    with Piped("play", "--no-page", "--midi-file", song, folder=tmp_path) as show:
        wire.until(lambda packet: packet.sequence == 9, "the packet of sequence number 9")
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        wire.rest()
    name = "framing: source name"
    ours = {packet[111]: packet for packet in wire.raw[:20]}
    assert field(ours[9], name) == b"Lampwright".ljust(64, b"\0")
    assert with_field(golden, name, b"Lampwright") == ours[9]
    # From packet to packet only the number changes, by one.
    for number in range(1, 9):
        assert with_field(ours[9], "framing: sequence number", bytes([number])) == ours[number]
    # The end: three packets with Stream_Terminated, whose levels a receiver ignores (clause 6.2.6).
    ended = bytes.fromhex(GOLDEN["data, stream terminated"])
    goodbyes = wire.raw[-3:]
    for packet in goodbyes:
        wanted = with_field(ended, name, b"Lampwright")
        for free in ("framing: sequence number", "DMP: property values = slots"):
            wanted = with_field(wanted, free, field(packet, free))
        assert packet == wanted
    assert not any(field(wire.raw[-4], "framing: options"))
