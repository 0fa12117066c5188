"""Reading streaming ACN: what is sent, each option and limit, damage, and any bytes at all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values.errors import WireError
from bridge.wire import sacn
from bridge.wire.sacn_fields import DATA_FIELDS
from tests.wire.cases import CID, GOLDEN_SLOTS, SOURCE_NAMES, golden_sacn


def test_names_without_their_end_are_read() -> None:
    """A name that fills its field with no zero behind it is read to the field's end."""
    packet = bytearray(golden_sacn().data(GOLDEN_SLOTS, 9))
    packet[44:108] = b"b" * 63 + b"\xff"
    assert sacn.parse(bytes(packet)).name == "b" * 63 + "\ufffd"


@given(
    st.binary(min_size=16, max_size=16),
    SOURCE_NAMES.filter(lambda name: len(name.encode()) < 64),
    st.integers(1, 63_999),
    st.integers(0, 200),
    st.binary(min_size=1, max_size=512),
    st.integers(0, 255),
)
def test_what_is_sent_is_read(
    cid: bytes, name: str, universe: int, priority: int, slots: bytes, sequence: int
) -> None:
    """What a packet of any number of slots says is what went in (short packets: E1.31-2018, 7.6)."""
    packets = sacn.SacnPackets(cid, name, universe, priority, len(slots))
    read = sacn.parse(packets.data(slots + b"more", sequence))
    assert read == sacn.SacnData(cid, name, universe, priority, sequence, 0, 0, slots)


@given(
    st.one_of(
        st.binary(max_size=700),
        st.binary(max_size=40).map(lambda tail: golden_sacn().data(GOLDEN_SLOTS, 1)[:126] + tail),
    )
)
def test_any_datagram(data: bytes) -> None:
    """Any bytes are a packet or the one error."""
    try:
        read = sacn.parse(data)
    except WireError:
        return
    assert len(read.slots) == len(data) - 126


@given(st.integers(0, 149), st.integers(1, 255))
def test_damaged_packets(place: int, change: int) -> None:
    """A changed byte of a field that never changes is an error with that field's name; any other is read."""
    packet = bytearray(golden_sacn().data(GOLDEN_SLOTS, 9))
    packet[place] ^= change
    try:
        sacn.parse(bytes(packet))
    except WireError as error:
        broken = str(error)
    else:
        broken = ""
    (field,) = [one for one in DATA_FIELDS if one.offset <= place < one.offset + one.length] or [None]
    if field and (field.value is not None or "length" in field.name or "count" in field.name):
        assert broken.startswith(f"byte {field.offset}, {field.name}: expected ")
    elif field is None or field.name in ("root: CID", "framing: source name", "framing: sequence number"):
        assert broken == ""


@pytest.mark.parametrize("options", range(256))
def test_each_option_is_one_bit(options: int) -> None:
    """Each option is its bit alone, and the five reserved bits mean nothing (E1.31-2018, 6.2.6)."""
    packet = bytearray(golden_sacn().data(GOLDEN_SLOTS, 9))
    packet[112] = options
    read = sacn.parse(bytes(packet))
    assert (read.preview, read.terminated, read.force_sync) == (
        options >= 128,
        options // 64 % 2 == 1,
        options // 32 % 2 == 1,
    )


def test_the_shortest_and_the_longest() -> None:
    """Packets of no slot, one and 512 are read (E1.31-2018, 7.6: 1 to 513 property values)."""
    slots = bytes(range(256)) * 2
    for count in (1, 512):
        assert (
            sacn.parse(sacn.SacnPackets(CID, "", 63_999, 200, count).data(slots, 255)).slots == slots[:count]
        )
    packet = bytearray(golden_sacn().data(GOLDEN_SLOTS, 9)[:126])
    for at in (16, 38, 115):
        packet[at : at + 2] = (0x7000 | len(packet) - at).to_bytes(2)
    packet[123:125] = b"\x00\x01"
    assert sacn.parse(bytes(packet)).slots == b""


def test_flags_and_numbers_are_read() -> None:
    """Options, synchronization address and START code are what the packet says (E1.31-2018, 6.2, 7.7)."""
    packet = bytearray(golden_sacn().data(GOLDEN_SLOTS, 9))
    packet[112], packet[109:111], packet[125] = 0xA0, b"\x1f\x1a", 0xDD
    read = sacn.parse(bytes(packet))
    assert (read.preview, read.force_sync, read.terminated) == (True, True, False)
    assert (read.sync_address, read.start_code) == (7962, 0xDD)


WRONG = {
    "short": (
        lambda packet: packet[:100],
        "byte 100: the packet ends here; a data packet has at least 126 bytes",
    ),
    "a byte more": (
        lambda packet: packet + b"\x00",
        "byte 16, root: flags and length: expected 7087, found 7086",
    ),
    "reserved universe": (
        lambda packet: packet[:113] + b"\xfa\x00" + packet[115:],
        "byte 113, .*found 64000",
    ),
    "reserved priority": (
        lambda packet: packet[:108] + b"\xc9" + packet[109:],
        r"byte 108, .* 0\.\.200, found 201",
    ),
    "reserved address": (lambda packet: packet[:109] + b"\xfa\x00" + packet[111:], "byte 109, .*found 64000"),
    "synchronization": (lambda _packet: sacn.sync_packet(CID, 1, 0), "byte 49: the packet ends here"),
    "discovery": (
        lambda _packet: sacn.discovery_pages(CID, "", range(1, 9))[0],
        "byte 18, root: vector: expected 00000004, found 00000008",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_packets_name_the_field(name: str) -> None:
    """Whatever is wrong with a packet, the error names the byte, the field and what was expected."""
    change, message = WRONG[name]
    packet = change(golden_sacn().data(GOLDEN_SLOTS, 9))
    with pytest.raises(WireError, match=message):
        sacn.parse(packet)


def test_too_many_slots_are_wrong() -> None:
    """A packet of 513 slots is no packet, though its lengths agree (E1.31-2018, 7.6)."""
    packet = bytearray(golden_sacn(512).data(bytes(512), 9) + b"\x00")
    for at in (16, 38, 115):
        packet[at : at + 2] = (0x7000 | len(packet) - at).to_bytes(2)
    packet[123:125] = (514).to_bytes(2)
    with pytest.raises(
        WireError, match=r"byte 123, DMP: property value count: expected 1\.\.513, .*found 514"
    ):
        sacn.parse(bytes(packet))
