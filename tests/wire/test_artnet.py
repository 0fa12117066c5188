"""ArtDmx against its published rows and golden packet, and any bytes at all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values.errors import WireError
from bridge.wire import artnet
from tests.reference_rows import rows
from tests.wire.cases import GOLDEN_SLOTS

ROWS = rows("artnet.csv")
FIELDS = [row for row in ROWS if row["section"] == "ArtDmx packet"]
RULES = {row["field"]: row["value_or_rule"] for row in ROWS if row["section"] == "rule"}
RULES_CHECKED = {"UDP port", "Port-Address", "packet length", "odd slot counts", "credit"}
RULES_NOT_HERE = {"re-transmission": "needs a clock; the shell's"}
GOLDEN = artnet.artdmx(0x0123, GOLDEN_SLOTS, 9)


def test_every_row_has_a_check_or_a_reason() -> None:
    """No row of artnet.csv is passed over without a word."""
    assert RULES_CHECKED | RULES_NOT_HERE.keys() == RULES.keys()
    assert len(FIELDS) + len(RULES) + 1 == len(ROWS)


@pytest.mark.parametrize("row", FIELDS, ids=lambda row: row["field"])
def test_published_fields(row: dict[str, str]) -> None:
    """Each field stands at its published offset with its golden bytes (Art-Net 4, ArtDmx)."""
    begins, length = int(row["byte_offset"]), int(row["length_bytes"])
    assert GOLDEN[begins : begins + length].hex() == row["golden_hex"]


def test_golden_packet() -> None:
    """The golden packet comes out byte for byte."""
    (row,) = [row for row in ROWS if row["section"] == "golden packet"]
    assert GOLDEN.hex() == row["golden_hex"]
    assert len(GOLDEN) == int(row["length_bytes"])


def test_published_rules() -> None:
    """Port, address range and the full packet's length are the published ones (Art-Net 4)."""
    assert RULES["UDP port"].startswith(f"{artnet.PORT} =")
    assert f"0..{artnet.LAST_UNIVERSE}, 0-based" in RULES["Port-Address"]
    assert f"= {len(artnet.artdmx(0, bytes(512), 1))} bytes" in RULES["packet length"]


def test_the_credit_line_is_carried() -> None:
    """The line that the specification asks for stands in a constant and on top of the file."""
    assert "credit line" in RULES["credit"]
    assert artnet.CREDIT in (artnet.__doc__ or "")


def test_numbers_go_round_without_zero() -> None:
    """Sequence numbers run 1..255 and then 1 again, for 0 switches them off (Art-Net 4)."""
    number, seen = 1, []
    for _ in range(255):
        seen.append(number)
        number = artnet.next_sequence(number)
    assert seen == list(range(1, 256))
    assert number == 1
    assert artnet.next_sequence(0) == 1


@given(st.integers(0, 32_767), st.binary(min_size=1, max_size=512), st.integers(1, 255))
def test_what_is_sent_is_read(universe: int, slots: bytes, sequence: int) -> None:
    """A packet says what went in, an odd number of slots with one zero more, whatever trails it."""
    even = slots + b"\x00" * (len(slots) % 2)
    packet = artnet.artdmx(universe, slots, sequence)
    assert len(packet) == 18 + len(even)
    assert artnet.parse(packet) == artnet.ArtDmx(universe, sequence, even)
    assert artnet.parse(packet + b"trailing") == artnet.ArtDmx(universe, sequence, even)


@given(st.one_of(st.binary(max_size=600), st.binary(max_size=40).map(lambda tail: GOLDEN[:10] + tail)))
def test_any_datagram(data: bytes) -> None:
    """Any bytes are a packet or the one error."""
    try:
        read = artnet.parse(data)
    except WireError:
        return
    assert 2 <= len(read.slots) <= 512
    assert 0 <= read.universe <= 32_767


@pytest.mark.parametrize("count", [1, 2, 511, 512])
def test_the_shortest_and_the_longest(count: int) -> None:
    """Packets of 1 and 512 slots are sent and read (Art-Net 4: an even number 2..512)."""
    slots = bytes(range(256)) * 2
    read = artnet.parse(artnet.artdmx(32_767, slots[:count], 255))
    assert read == artnet.ArtDmx(32_767, 255, slots[:count] + bytes(count % 2))


def test_later_versions_are_read() -> None:
    """A protocol version of 14 or above is read, high byte first (Art-Net 4)."""
    later = GOLDEN[:10] + b"\x01\x00" + GOLDEN[12:]
    assert artnet.parse(later) == artnet.parse(GOLDEN)


WRONG = {
    "empty": (b"", "byte 0: the packet ends here; an ArtDmx packet has at least 18 bytes"),
    "short": (GOLDEN[:17], "byte 17: the packet ends here"),
    "another ID": (b"art" + GOLDEN[3:], "byte 0, ID: expected 4172742d4e657400, found 6172742d4e657400"),
    "another packet": (GOLDEN[:8] + b"\x00\x20" + GOLDEN[10:], "byte 8, OpCode: expected 0050, found 0020"),
    "old version": (GOLDEN[:11] + b"\x0d" + GOLDEN[12:], "byte 10, ProtVer: expected 14 or above, found 13"),
    "16 bits of address": (
        GOLDEN[:15] + b"\x80" + GOLDEN[16:],
        r"byte 15, Net: expected 0\.\.127, found 128",
    ),
    "odd length": (GOLDEN[:17] + b"\x17" + GOLDEN[18:], r"byte 16, Length: .* 2\.\.512, found 23"),
    "no length": (GOLDEN[:17] + b"\x00" + GOLDEN[18:], r"byte 16, Length: .* 2\.\.512, found 0"),
    "long length": (GOLDEN[:16] + b"\x02\x02" + bytes(514), r"byte 16, Length: .* 2\.\.512, found 514"),
    "cut": (GOLDEN[:-1], "byte 41: the packet ends here; its 24 slots should go on"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_packets_name_the_field(name: str) -> None:
    """Whatever is wrong with a packet, the error names the byte, the field and what was expected."""
    data, message = WRONG[name]
    with pytest.raises(WireError, match=message):
        artnet.parse(data)


@pytest.mark.parametrize(
    ("universe", "slots", "sequence", "message"),
    [
        (-1, bytes(2), 1, r"an Art-Net universe is 0\.\.32767, not -1"),
        (32_768, bytes(2), 1, r"an Art-Net universe is 0\.\.32767, not 32768"),
        (0, b"", 1, r"a packet carries 1\.\.512 slots, not 0"),
        (0, bytes(513), 1, r"a packet carries 1\.\.512 slots, not 513"),
        (0, bytes(2), 0, r"a sequence number is 1\.\.255, not 0"),
        (0, bytes(2), 256, r"a sequence number is 1\.\.255, not 256"),
    ],
)
def test_our_own_mistakes_are_refused(universe: int, slots: bytes, sequence: int, message: str) -> None:
    """A packet that the specification does not have is never made."""
    with pytest.raises(ValueError, match=message):
        artnet.artdmx(universe, slots, sequence)
