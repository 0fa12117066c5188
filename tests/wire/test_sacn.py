"""Streaming ACN against its published rows, golden packets, an independent library, and any bytes at all."""

from __future__ import annotations

import hashlib
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sacn.messages.data_packet import DataPacket
from sacn.messages.sync_packet import SyncPacket
from sacn.messages.universe_discovery import UniverseDiscoveryPacket

from bridge.wire import sacn
from bridge.wire.sacn_fields import DATA_FIELDS, DISCOVERY_FIELDS, SYNC_FIELDS
from tests.reference_rows import rows
from tests.wire.cases import CID, GOLDEN_SLOTS, SOURCE_NAMES, golden_sacn

ROWS = rows("sacn_e131.csv")
RULES = {row["field"]: row["value_or_rule"] for row in ROWS if row["section"] == "rule"}
PACKETS = {row["field"]: row for row in ROWS if row["section"] == "golden packet"}
FIELDS = [row for row in ROWS if row["section"].endswith(" packet") and row["section"] != "golden packet"]

TABLES = {
    "data packet": DATA_FIELDS,
    "synchronization packet": SYNC_FIELDS,
    "universe discovery packet": DISCOVERY_FIELDS,
}
TAILS = ("DMP: property values = slots", "discovery layer: list of universes")
"""Rows that describe what follows the fields."""

ONE_FOR_THREE = "root: preamble, post-amble, ACN identifier"
"""A row that stands for three fields."""

RULES_CHECKED = {
    "UDP port",
    "IPv4 multicast address",
    "discovery universe",
    "stream terminated",
    "sequence number acceptance",
    "sequence examples (last -> new)",
    "short packets",
}
RULES_NOT_HERE = {
    "IPv6 multicast address": "outputs send over IPv4",
    "universe discovery interval": "needs a clock; the shell's",
    "network data loss timeout": "needs a clock; the shell's",
    "library note": "about the peer, whose receiver is not used",
    "keep-alive": "needs a clock; the shell's",
    "maximum rate": "the rig's refresh_hz",
    "priority merge": "a receiver's; nothing here merges",
}


def golden(name: str) -> bytes:
    return {
        "data packet": golden_sacn().data(GOLDEN_SLOTS, 9),
        "synchronization packet": sacn.sync_packet(CID, 7962, 9),
        "universe discovery packet": sacn.discovery_pages(CID, "Reference Source", [300, 7, 8])[0],
    }[name]


def test_every_row_has_a_check_or_a_reason() -> None:
    """No row of sacn_e131.csv is passed over without a word."""
    assert RULES_CHECKED | RULES_NOT_HERE.keys() == RULES.keys()
    assert {row["section"] for row in FIELDS} == TABLES.keys()
    assert len(FIELDS) + len(RULES) + len(PACKETS) == len(ROWS)
    assert len(PACKETS) == 5


@pytest.mark.parametrize("row", FIELDS, ids=lambda row: f"{row['section']} {row['byte_offset']}")
def test_published_fields(row: dict[str, str]) -> None:
    """Each field stands at its published offset with its golden bytes (E1.31-2018, Tables 4-1 to 4-3)."""
    begins, length = int(row["byte_offset"]), int(row["length_bytes"])
    assert golden(row["section"])[begins : begins + length].hex() == row["golden_hex"]
    if row["field"] not in (*TAILS, ONE_FOR_THREE):
        named = {field.name: field for field in TABLES[row["section"]]}[row["field"]]
        assert (named.offset, named.length) == (begins, length)


@pytest.mark.parametrize("name", TABLES)
def test_fields_leave_no_gap(name: str) -> None:
    """The fields of a packet follow one another without gap or overlap."""
    at = 0
    for field in TABLES[name]:
        assert field.offset == at
        assert field.value is None or len(field.value) == field.length
        at += field.length


def test_golden_packets() -> None:
    """Each golden packet comes out byte for byte."""
    made = {
        "data, 24 slots": golden("data packet"),
        "data, stream terminated": golden_sacn().goodbye(10),
        "synchronization": golden("synchronization packet"),
        "universe discovery": golden("universe discovery packet"),
    }
    for name, packet in made.items():
        assert packet.hex() == PACKETS[name]["golden_hex"]
        assert len(packet) == int(PACKETS[name]["length_bytes"])


def test_golden_packet_of_512_slots() -> None:
    """The full packet of 638 bytes has its published fingerprint."""
    row = PACKETS["data, 512 slots (24 above then zeros)"]
    packet = golden_sacn(512).data(GOLDEN_SLOTS.ljust(512, b"\x00"), 9)
    assert len(packet) == int(row["length_bytes"])
    assert f"sha256:{hashlib.sha256(packet).hexdigest()}" == row["golden_hex"]


def test_published_addresses() -> None:
    """Port, multicast groups and discovery universe are the published ones (E1.31-2018, clause 9)."""
    assert f"{sacn.PORT} " in RULES["UDP port"]
    pairs = re.findall(r"(\d+) -> (239\.[\d.]+\d)", RULES["IPv4 multicast address"])
    assert len(pairs) == 6
    for universe, group in pairs:
        assert sacn.multicast(int(universe)) == group
    universe, group = re.findall(r"^(\d+) = \S+ -> (\S+)$", RULES["discovery universe"])[0]
    assert sacn.multicast(int(universe)) == group
    assert int(universe) == sacn.DISCOVERY_UNIVERSE


@pytest.mark.parametrize("universe", [-1, 0, 64_000, 64_213, 65_536])
def test_reserved_universes_are_refused(universe: int) -> None:
    """No packet or group is made for a universe outside 1..63999 (E1.31-2018, 6.2.7)."""
    refused = rf"a universe is 1\.\.63999, not {universe}$"
    with pytest.raises(ValueError, match=refused):
        sacn.multicast(universe)
    with pytest.raises(ValueError, match=refused):
        sacn.SacnPackets(CID, "", universe)
    with pytest.raises(ValueError, match=refused):
        sacn.sync_packet(CID, universe, 0)
    with pytest.raises(ValueError, match=refused):
        sacn.discovery_pages(CID, "", [1, universe])


EXAMPLES = [
    (int(last), int(new), word == "accept")
    for word, examples in re.findall(r"(accept|discard): ([^;]+)", RULES["sequence examples (last -> new)"])
    for last, new in re.findall(r"(\d+)->(\d+)", examples)
]


@pytest.mark.parametrize(("last", "new", "taken"), EXAMPLES)
def test_published_sequence_examples(last: int, new: int, taken: bool) -> None:
    """Each published pair of sequence numbers is taken or left as the standard says (E1.31-2018, 6.7.2)."""
    assert sacn.in_sequence(last, new) is taken


def test_exactly_twenty_numbers_are_late() -> None:
    """From any number, itself and the 19 before it are left, the other 236 are taken (E1.31-2018, 6.7.2)."""
    assert len(EXAMPLES) == 9
    for last in range(256):
        late = {(last - back) % 256 for back in range(20)}
        assert {new for new in range(256) if not sacn.in_sequence(last, new)} == late
        assert sacn.in_sequence(last, sacn.next_sequence(last))


def test_goodbye_is_three_packets() -> None:
    """A stream ends with three packets, and a packet is no longer terminated once levels follow."""
    assert f"send {'three' if sacn.GOODBYE_PACKETS == 3 else '?'} packets" in RULES["stream terminated"]
    packets = golden_sacn()
    before = packets.data(GOLDEN_SLOTS, 11)
    assert sacn.parse(packets.goodbye(12)).terminated
    assert packets.data(GOLDEN_SLOTS, 11) == before


@given(
    st.binary(min_size=512, max_size=512),
    st.integers(0, 255),
    st.integers(0, 200),
    st.integers(1, 63_999),
    st.integers(0, 63_999),
    st.text(max_size=15).map(lambda text: text.replace("\x00", "").encode("utf-8", "ignore").decode("utf-8")),
)
def test_data_packets_as_the_library_makes_them(
    slots: bytes, sequence: int, priority: int, universe: int, sync: int, name: str
) -> None:
    """A data packet has every byte that the independent library gives it, and that library reads it back."""
    packet = sacn.SacnPackets(CID, name, universe, priority, sync_address=sync).data(slots, sequence)
    peer = DataPacket(tuple(CID), name, universe, tuple(slots), priority, sequence, sync_universe=sync)
    assert packet == bytes(peer.getBytes())
    read = DataPacket.make_data_packet(tuple(packet))
    assert (bytes(read.dmxData), read.sequence, read.priority, read.universe) == (
        slots,
        sequence,
        priority,
        universe,
    )


@given(st.integers(1, 63_999), st.integers(0, 255))
def test_sync_packets_as_the_library_makes_them(address: int, sequence: int) -> None:
    """A synchronization packet has every byte that the independent library gives it."""
    assert sacn.sync_packet(CID, address, sequence) == bytes(
        SyncPacket(tuple(CID), address, sequence).getBytes()
    )


@given(st.sets(st.integers(1, 63_999), max_size=40))
def test_discovery_as_the_library_makes_it(universes: set[int]) -> None:
    """A page of universes has every byte that the independent library gives it, numbers ascending."""
    (page,) = sacn.discovery_pages(CID, "boathouse", universes)
    peer = UniverseDiscoveryPacket(tuple(CID), "boathouse", tuple(sorted(universes)), 0, 0)
    assert page == bytes(peer.getBytes())


@pytest.mark.parametrize(("count", "sizes"), [(0, [0]), (512, [512]), (513, [512, 1]), (1025, [512, 512, 1])])
def test_discovery_pages(count: int, sizes: list[int]) -> None:
    """A page lists up to 512 universes, and each says which of how many it is (E1.31-2018, clause 8)."""
    pages = sacn.discovery_pages(CID, "boathouse", range(1, count + 1))
    assert [(len(page) - 120) // 2 for page in pages] == sizes
    assert [(page[118], page[119]) for page in pages] == [(k, len(pages) - 1) for k in range(len(pages))]
    listed = b"".join(page[120:] for page in pages)
    assert listed == b"".join(number.to_bytes(2) for number in range(1, count + 1))


@given(SOURCE_NAMES)
def test_names_are_cut_between_characters(name: str) -> None:
    """A name fills 64 bytes, ends in a zero, and is the longest beginning of itself that fits."""
    field = sacn.name_field(name)
    kept = field.rstrip(b"\x00").decode("utf-8")
    assert len(field) == 64
    assert field[63] == 0
    assert name.startswith(kept)
    assert kept == name or len(name[: len(kept) + 1].encode()) > 63


def test_what_is_not_said_is_usual() -> None:
    """Unless told otherwise a packet has priority 100, 512 slots, no synchronization (E1.31-2018, 6.2.3)."""
    read = sacn.parse(sacn.SacnPackets(CID, "boathouse", 1).data(bytes(512), 0))
    assert (read.priority, len(read.slots), read.sync_address) == (100, 512, 0)


def test_odd_names_do_not_break_a_packet() -> None:
    """A zero inside a name would end it early and half a surrogate is no UTF-8: neither reaches the wire."""
    assert sacn.name_field("a\x00b\ud800").rstrip(b"\x00") == b"ab?"


def test_sequence_numbers_go_round() -> None:
    """Each packet's number is one more than the last, and 0 follows 255 (E1.31-2018, 6.2.5)."""
    assert [sacn.next_sequence(number) for number in range(256)] == [*range(1, 256), 0]


MISTAKES = {
    "priority": (lambda: sacn.SacnPackets(CID, "", 1, 201), r"a priority is 0\.\.200, not 201"),
    "no slots": (lambda: sacn.SacnPackets(CID, "", 1, slots=0), r"a packet carries 1\.\.512 slots, not 0"),
    "slots": (lambda: sacn.SacnPackets(CID, "", 1, slots=513), r"a packet carries 1\.\.512 slots, not 513"),
    "address": (lambda: sacn.SacnPackets(CID, "", 1, sync_address=64_000), r"a universe is .* not 64000"),
    "cid": (lambda: sacn.SacnPackets(CID[1:], "", 1), "root: CID is 16 bytes, not 15"),
    "too few": (lambda: golden_sacn().data(bytes(23), 1), "a packet of 24 slots got 23"),
    "sequence": (lambda: golden_sacn().data(bytes(24), 256), "byte must be in range"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_our_own_mistakes_are_refused(name: str) -> None:
    """A packet that the standard does not have is never made."""
    make, message = MISTAKES[name]
    with pytest.raises(ValueError, match=message):
        make()
