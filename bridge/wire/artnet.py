"""Knows: the ArtDmx packet, which carries the slots of one universe, both ways.

Must never know: sockets, other Art-Net packets, or what a slot lights.

Art-Net(TM) Designed by and Copyright Artistic Licence Engineering Ltd. The specification (Art-Net 4) asks
everyone who builds it to carry this line, so we do; its wording here is from memory. Offsets and the golden
packet: tests/reference/artnet.csv.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.values.errors import WireError
from bridge.values.frame import SLOTS

CREDIT = "Art-Net(TM) Designed by and Copyright Artistic Licence Engineering Ltd"
"""The credit line the specification asks for; wording from memory."""

PORT = 6454
"""UDP port, 0x1936."""

LAST_UNIVERSE = 32_767
"""Port-Addresses have 15 bits: net (7), sub-net (4), universe (4); counted from 0."""

_VERSION = 14
# ID, then OpDmx 0x5000 with its LOW byte first, then the version with its high byte first.
_HEAD = b"Art-Net\x00" + (0x5000).to_bytes(2, "little") + _VERSION.to_bytes(2)
_FIRST_SLOT = 18


@dataclass(frozen=True, slots=True)
class ArtDmx:
    """What a packet says.

    Args:
        universe: Port-Address 0..32767. sequence: 1..255, 0 where the sender does not number.
        slots: slot 1 first; an even number of them, 2 to 512.
        physical: the sender's input port, for information only.
    """

    universe: int
    sequence: int
    slots: bytes
    physical: int = 0


def next_sequence(sequence: int) -> int:
    """The number after `sequence`: 1..255, then 1 again, for 0 would switch the numbering off."""
    return sequence % 255 + 1


def artdmx(universe: int, slots: bytes, sequence: int) -> bytes:
    """The packet that carries these levels.

    Args:
        universe: Port-Address 0..32767, counted from 0.
        slots: 1 to 512 levels 0..255, slot 1 first; an odd number gets one zero more.
        sequence: 1..255; `next_sequence` gives the one after.

    Raises:
        ValueError: one of these is out of range (our own mistake; rig files are checked before).
    """
    if not 0 <= universe <= LAST_UNIVERSE:
        raise ValueError(f"an Art-Net universe is 0..{LAST_UNIVERSE}, not {universe}")
    if not 1 <= len(slots) <= SLOTS:
        raise ValueError(f"a packet carries 1..{SLOTS} slots, not {len(slots)}")
    if not 1 <= sequence <= 255:
        raise ValueError(f"a sequence number is 1..255, not {sequence}")
    length = len(slots) + len(slots) % 2
    # The address goes out low byte first (SubUni, Net), the length high byte first.
    head = _HEAD + bytes((sequence, 0)) + universe.to_bytes(2, "little") + length.to_bytes(2)
    return head + slots.ljust(length, b"\x00")


def parse(data: bytes) -> ArtDmx:
    """Read an ArtDmx packet; bytes after its slots are passed over.

    Args:
        data: one datagram, any bytes.

    Raises:
        WireError: the first field that is not as the specification says, with its offset; every other kind of
            Art-Net packet is such an error too.
    """
    if len(data) < _FIRST_SLOT:
        raise WireError(
            f"byte {len(data)}: the packet ends here; an ArtDmx packet has at least {_FIRST_SLOT} bytes"
        )
    for name, begins, ends in (("ID", 0, 8), ("OpCode", 8, 10)):
        if data[begins:ends] != _HEAD[begins:ends]:
            raise WireError(
                f"byte {begins}, {name}: expected {_HEAD[begins:ends].hex()}, found {data[begins:ends].hex()}"
            )
    version = int.from_bytes(data[10:12])
    if version < _VERSION:
        raise WireError(f"byte 10, ProtVer: expected {_VERSION} or above, found {version}")
    universe = int.from_bytes(data[14:16], "little")
    if universe > LAST_UNIVERSE:
        raise WireError(f"byte 15, Net: expected 0..127, found {universe >> 8}")
    length = int.from_bytes(data[16:18])
    if length % 2 or not 2 <= length <= SLOTS:
        raise WireError(f"byte 16, Length: expected an even number 2..{SLOTS}, found {length}")
    if len(data) < _FIRST_SLOT + length:
        raise WireError(f"byte {len(data)}: the packet ends here; its {length} slots should go on")
    return ArtDmx(universe, data[12], data[_FIRST_SLOT : _FIRST_SLOT + length], data[13])
