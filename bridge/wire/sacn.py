"""Knows: what the packets of streaming ACN (ANSI E1.31-2018) say, and how to write and read them.

Must never know: sockets, refresh rates, or what a slot lights.

The layout is the tables of `sacn_fields`; clauses and tables named here are those of E1.31-2018, by way of
tests/reference/sacn_e131.csv.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bridge.values.errors import WireError
from bridge.values.frame import SLOTS
from bridge.wire.sacn_fields import DATA_FIELDS, DISCOVERY_FIELDS, LENGTH, SYNC_FIELDS, build

PORT = 5568
"""UDP port (E1.31 clause 9.1.1)."""

FIRST_UNIVERSE, LAST_UNIVERSE = 1, 63_999
DISCOVERY_UNIVERSE = 64_214
HIGHEST_PRIORITY = 200
GOODBYE_PACKETS = 3
"""How many packets with Stream_Terminated end a universe (clause 6.2.6)."""

LONGEST_NAME = 63
"""Bytes of UTF-8 in a source name; the 64th is its terminator (clause 6.2.2)."""

UNIVERSES_A_PAGE = 512

PREVIEW_DATA, STREAM_TERMINATED, FORCE_SYNCHRONIZATION = 0x80, 0x40, 0x20
"""Bits of the options byte (clause 6.2.6)."""

SEQUENCE_AT, OPTIONS_AT, FIRST_SLOT_AT = 111, 112, 126
"""Bytes of a data packet that change after it was laid out (Table 4-1)."""

_COUNT, _START_CODE = 123, 125


def multicast(universe: int) -> str:
    """The IPv4 group of a universe 1..63999, or of the discovery universe: 239.255.high.low (Table 9-10).

    Raises:
        ValueError: any other number.
    """
    if universe != DISCOVERY_UNIVERSE:
        _check_universe(universe)
    return f"239.255.{universe >> 8}.{universe & 0xFF}"


def next_sequence(sequence: int) -> int:
    """The number after `sequence`, 0..255, then 0 again (clause 6.2.5)."""
    return sequence + 1 & 0xFF


def in_sequence(last: int, new: int) -> bool:
    """Whether a receiver takes packet `new` after packet `last`, both 0..255 (clause 6.7.2).

    The difference is a signed byte; more than -20 and not above 0 is late or doubled, the rest is taken.
    """
    difference = (new - last + 128 & 0xFF) - 128
    return not -20 < difference <= 0


def name_field(name: str) -> bytes:
    """A name as its 64-byte field: UTF-8 cut to 63 bytes between characters, then zeros."""
    whole = name.replace("\x00", "").encode("utf-8", "replace")[:LONGEST_NAME]
    return whole.decode("utf-8", "ignore").encode("utf-8").ljust(LONGEST_NAME + 1, b"\x00")


def _check_universe(universe: int) -> None:
    if not FIRST_UNIVERSE <= universe <= LAST_UNIVERSE:
        raise ValueError(f"a universe is {FIRST_UNIVERSE}..{LAST_UNIVERSE}, not {universe}")


class SacnPackets:
    """The packets of one universe; everything but sequence number and slots is laid out once.

    Args:
        cid: 16 bytes, the UUID of this sender.
        source_name: how receivers show the sender; cut to 63 bytes of UTF-8.
        universe: 1..63999. priority: 0..200, the highest wins.
        slots: how many slots each packet carries, 1..512.
        sync_address: universe on which synchronization packets are sent, 0 for none.
        force_sync: where synchronization packets stop, receivers go on without them instead of freezing.

    Raises:
        ValueError: one of these is out of range (our own mistake; rig files are checked before).
    """

    __slots__ = ("_options", "_packet", "slots")

    def __init__(
        self,
        cid: bytes,
        source_name: str,
        universe: int,
        priority: int = 100,
        slots: int = SLOTS,
        sync_address: int = 0,
        force_sync: bool = False,
    ) -> None:
        _check_universe(universe)
        if sync_address:
            _check_universe(sync_address)
        if not 0 <= priority <= HIGHEST_PRIORITY:
            raise ValueError(f"a priority is 0..{HIGHEST_PRIORITY}, not {priority}")
        if not 1 <= slots <= SLOTS:
            raise ValueError(f"a packet carries 1..{SLOTS} slots, not {slots}")
        self.slots = slots
        self._options = FORCE_SYNCHRONIZATION if force_sync else 0
        values = {
            "root: CID": cid,
            "framing: source name": name_field(source_name),
            "framing: priority": bytes((priority,)),
            "framing: synchronization address": sync_address.to_bytes(2),
            "framing: sequence number": b"\x00",
            "framing: options": bytes((self._options,)),
            "framing: universe": universe.to_bytes(2),
            "DMP: property value count": (slots + 1).to_bytes(2),
            "DMP: property value 0 = START code": b"\x00",
        }
        self._packet = build(DATA_FIELDS, values, bytes(slots))

    def data(self, slots: bytes, sequence: int) -> bytes:
        """The packet that carries these levels.

        Args:
            slots: 0..255 each, slot 1 first; what is beyond the packet's own number of slots stays here.
            sequence: 0..255; `next_sequence` gives the one after.

        Raises:
            ValueError: fewer slots than the packet carries, or a sequence number out of range.
        """
        if len(slots) < self.slots:
            raise ValueError(f"a packet of {self.slots} slots got {len(slots)}")
        packet = self._packet
        packet[SEQUENCE_AT] = sequence
        packet[FIRST_SLOT_AT:] = slots[: self.slots]
        return bytes(packet)

    def goodbye(self, sequence: int) -> bytes:
        """The packet that ends the stream; send `GOODBYE_PACKETS` of them, each with its own number.

        It repeats the slots sent last, which receivers ignore (clause 6.2.6).
        """
        packet = bytearray(self._packet)
        packet[SEQUENCE_AT] = sequence
        packet[OPTIONS_AT] = self._options | STREAM_TERMINATED
        return bytes(packet)


def sync_packet(cid: bytes, sync_address: int, sequence: int) -> bytes:
    """A synchronization packet: receivers show what they hold for this address, 1..63999 (clause 6.3)."""
    _check_universe(sync_address)
    values = {
        "root: CID": cid,
        "framing: sequence number": bytes((sequence,)),
        "framing: synchronization address": sync_address.to_bytes(2),
    }
    return bytes(build(SYNC_FIELDS, values, b""))


def discovery_pages(cid: bytes, source_name: str, universes: Iterable[int]) -> list[bytes]:
    """The packets that say which universes this sender sends, 512 a page, ascending (clause 8).

    Returns:
        One packet or more, in order of their page; one with an empty list where there is no universe.
    """
    numbers = sorted(set(universes))
    for number in numbers:
        _check_universe(number)
    pages = [numbers[k : k + UNIVERSES_A_PAGE] for k in range(0, len(numbers), UNIVERSES_A_PAGE)] or [[]]
    return [
        bytes(
            build(
                DISCOVERY_FIELDS,
                {
                    "root: CID": cid,
                    "framing: source name": name_field(source_name),
                    "discovery layer: page": bytes((number,)),
                    "discovery layer: last page": bytes((len(pages) - 1,)),
                },
                b"".join(universe.to_bytes(2) for universe in page),
            )
        )
        for number, page in enumerate(pages)
    ]


@dataclass(frozen=True, slots=True)
class SacnData:
    """What a data packet says.

    Args:
        cid: 16 bytes. name: the sender's, with a mark in place of bytes that are not UTF-8.
        universe: 1..63999. priority: 0..200. sequence: 0..255. sync_address: 0 for none, else 1..63999.
        start_code: 0 for levels; anything else is not for lamps.
        slots: slot 1 first, 0 to 512 of them.
        terminated: the stream ends; the slots mean nothing then. preview: not for the stage.
        force_sync: what to do when synchronization stops: False freezes, True goes on without.
    """

    cid: bytes
    name: str
    universe: int
    priority: int
    sequence: int
    sync_address: int
    start_code: int
    slots: bytes
    terminated: bool = False
    preview: bool = False
    force_sync: bool = False


def parse(data: bytes) -> SacnData:
    """Read a data packet.

    Args:
        data: one datagram, any bytes.

    Raises:
        WireError: the first field that is not as the standard says, with its offset; synchronization and
            discovery packets are such errors too.
    """
    if len(data) < FIRST_SLOT_AT:
        raise WireError(
            f"byte {len(data)}: the packet ends here; a data packet has at least {FIRST_SLOT_AT} bytes"
        )
    for field in DATA_FIELDS:
        found = data[field.offset : field.offset + field.length]
        expected = field.value
        if field.name.endswith(LENGTH):
            expected = (0x7000 | len(data) - field.offset & 0x0FFF).to_bytes(2)
        if expected is not None and found != expected:
            raise _wrong(field.name, field.offset, expected.hex(), found.hex())
    count = int.from_bytes(data[_COUNT:_START_CODE])
    if count != len(data) - _START_CODE or count > SLOTS + 1:
        raise _wrong("DMP: property value count", _COUNT, f"1..{SLOTS + 1}, the values there are", str(count))
    universe, sync_address = int.from_bytes(data[113:115]), int.from_bytes(data[109:111])
    if not FIRST_UNIVERSE <= universe <= LAST_UNIVERSE:
        raise _wrong("framing: universe", 113, f"{FIRST_UNIVERSE}..{LAST_UNIVERSE}", str(universe))
    if sync_address > LAST_UNIVERSE:
        raise _wrong("framing: synchronization address", 109, f"0..{LAST_UNIVERSE}", str(sync_address))
    if data[108] > HIGHEST_PRIORITY:
        raise _wrong("framing: priority", 108, f"0..{HIGHEST_PRIORITY}", str(data[108]))
    options = data[OPTIONS_AT]
    return SacnData(
        cid=data[22:38],
        name=data[44:108].split(b"\x00")[0].decode("utf-8", "replace"),
        universe=universe,
        priority=data[108],
        sequence=data[SEQUENCE_AT],
        sync_address=sync_address,
        start_code=data[_START_CODE],
        slots=data[FIRST_SLOT_AT:],
        terminated=bool(options & STREAM_TERMINATED),
        preview=bool(options & PREVIEW_DATA),
        force_sync=bool(options & FORCE_SYNCHRONIZATION),
    )


def _wrong(name: str, offset: int, expected: str, found: str) -> WireError:
    return WireError(f"byte {offset}, {name}: expected {expected}, found {found}")
