"""Serial DMX512 against the published timing tables, and framed messages in any pieces."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.wire import dmx_serial as dmx
from tests.reference_rows import rows

ROWS = {f"{row['role']} {row['parameter']}": row for row in rows("dmx512_timing.csv")}

CHECKED = {
    "both bit_rate": lambda: dmx.BAUD,
    "both bits_per_slot": lambda: dmx.SLOT_US * dmx.BAUD / 1e6,
    "both bit_time": lambda: dmx.SLOT_US / 11,
    "both slot_time": lambda: dmx.SLOT_US,
    "both null_start_code": lambda: dmx.START_CODE[0],
    "transmit break": lambda: dmx.BREAK_US,
    "both min_packet_time_512_slots": lambda: dmx.packet_time_us(512, 92, 12),
    "both max_refresh_512_slots": lambda: dmx.highest_refresh_hz(512, 92, 12),
    "both min_packet_time_24_slots": lambda: dmx.packet_time_us(24, 92, 12),
    "both max_refresh_24_slots": lambda: dmx.highest_refresh_hz(24, 92, 12),
    "receive min_packet_time_24_slots": lambda: dmx.bare_packet_time_us(24, 88, 8),
    "formula packet_time_break176_mab12_512": lambda: dmx.packet_time_us(512),
    "formula padding_for_1_slot": lambda: dmx.padding_us(1, 92, 12),
    "formula slots_that_fit_in_1204us": lambda: min(n for n in range(513) if not dmx.padding_us(n, 92, 12)),
    "serial trick max_baud_for_zero_byte_break_8N2": lambda: dmx.slow_byte_baud(92, 2),
    "serial trick break_at_90909_baud_8N2": lambda: dmx.slow_byte_times_us(90_909, 2)[0],
    "serial trick break_at_83333_baud_8N1": lambda: dmx.slow_byte_times_us(250_000 / 3, 1)[0],
}
"""Row -> what we have for its `typical` value, or between its `min` and `max`."""

LIMITS = {
    "transmit break": ("min", dmx.LEAST_BREAK_US),
    "transmit mark_after_break": ("min", dmx.LEAST_MARK_US),
    "transmit break_to_break": ("min", dmx.LEAST_PACKET_US),
    "both slots_after_start_code": ("max", dmx.SLOTS),
}
BY_OTHER_TESTS = {"formula packet_time", "both slots_after_start_code", "both device_address"}
NOT_HERE = {
    "transmit mark_between_slots": "none is sent; the sum takes any",
    "transmit mark_before_break": "only the padding",
    "receive break": "nothing here receives",
    "receive mark_after_break": "nothing here receives",
    "receive break_to_break": "nothing here receives",
    "receive loss_of_data_timeout": "nothing here receives; the limit a sender keeps is LONGEST_PACKET_US",
}


def test_every_row_has_a_check_or_a_reason() -> None:
    """No row of dmx512_timing.csv is passed over without a word."""
    checked = CHECKED.keys() | LIMITS.keys() | BY_OTHER_TESTS
    assert checked | NOT_HERE.keys() == ROWS.keys()
    assert not checked & NOT_HERE.keys()


@pytest.mark.parametrize("name", CHECKED)
def test_published_values(name: str) -> None:
    """Each constant and sum has its published value (ANSI E1.11-2008, timing tables, and arithmetic)."""
    value, row = CHECKED[name](), ROWS[name]
    assert value == pytest.approx(float(row["typical"]), rel=2e-6)
    if row["min"] and row["max"]:
        assert float(row["min"]) <= value <= float(row["max"])


@pytest.mark.parametrize("name", LIMITS)
def test_published_limits(name: str) -> None:
    """Each limit has its published value (ANSI E1.11-2008, transmitter timing table)."""
    column, value = LIMITS[name]
    assert value == int(ROWS[name][column])


def test_the_longest_packet_is_a_second() -> None:
    """A transmitter's break to break has its published maximum (ANSI E1.11-2008)."""
    assert int(ROWS["transmit break_to_break"]["max"]) == dmx.LONGEST_PACKET_US


@given(
    st.integers(0, 512), st.integers(92, 500), st.integers(12, 500), st.integers(0, 50), st.integers(0, 5000)
)
def test_published_formula(slots: int, break_us: int, mab_us: int, between: int, before: int) -> None:
    """The bare time is the published sum, and a packet as sent is never under 1204 us (ANSI E1.11-2008)."""
    words = {
        "break_us": break_us,
        "mark_after_break_us": mab_us,
        "slots": slots,
        "mark_between_slots_us": between,
        "mark_before_break_us": before,
    }
    total = eval(ROWS["formula packet_time"]["note"], {}, words)  # the formula as published
    assert dmx.bare_packet_time_us(slots, break_us, mab_us, between, before) == total
    bare = dmx.bare_packet_time_us(slots, break_us, mab_us)
    assert dmx.packet_time_us(slots, break_us, mab_us) == max(1204, bare)
    assert dmx.highest_refresh_hz(slots, break_us, mab_us) <= 1e6 / 1204


@given(st.integers(10, 2000), st.sampled_from([1, 2]))
def test_slow_bytes_are_long_enough_and_no_longer(break_us: int, stop_bits: int) -> None:
    """The rate keeps break and mark, and the next higher whole rate would not (common practice)."""
    baud = dmx.slow_byte_baud(break_us, stop_bits)
    made, mark = dmx.slow_byte_times_us(baud, stop_bits)
    assert made >= break_us
    assert mark >= 12
    made, mark = dmx.slow_byte_times_us(baud + 1, stop_bits)
    assert made < break_us or mark < 12


def test_one_stop_bit_makes_exactly_the_shortest_mark() -> None:
    """At 250000/3 bit/s one stop bit is 12 us of mark, so 8N1 may go no faster (common practice)."""
    assert dmx.slow_byte_times_us(250_000 / 3, 1) == (pytest.approx(108), pytest.approx(12))
    assert dmx.slow_byte_baud(92, 1) == 83_333
    # Unless told otherwise: the typical break of 176 us, two stop bits as DMX512 itself has.
    assert dmx.slow_byte_baud() == 9_000_000 // 176
    assert dmx.slow_byte_times_us(100_000) == (90.0, 20.0)
    assert dmx.slow_byte_times_us(90_909, 2)[1] == pytest.approx(22.0, abs=1e-3)


@given(st.binary(max_size=512))
def test_slot_n_is_byte_n(slots: bytes) -> None:
    """After the break byte 0 is the START code and byte n is slot n, in both ways of sending (E1.11)."""
    packet = dmx.break_packet(slots)
    assert packet[0] == int(ROWS["both null_start_code"]["typical"])
    assert packet[1:] == slots
    framed = dmx.framed_packet(slots)
    assert framed[:2] == b"\x7e\x06"
    assert int.from_bytes(framed[2:4], "little") == len(framed) - 5 == max(25, len(packet))
    assert framed[4:-1] == packet.ljust(25, b"\x00")
    assert framed[-1] == 0xE7


@pytest.mark.parametrize("make", [dmx.break_packet, dmx.framed_packet])
def test_more_than_512_slots_are_refused(make: Callable[[bytes], bytes]) -> None:
    """A packet carries 512 slots at most (ANSI E1.11-2008)."""
    with pytest.raises(ValueError, match=r"a packet carries 0\.\.512 slots, not 513"):
        make(bytes(513))
    with pytest.raises(ValueError, match=r"a packet carries 0\.\.512 slots, not 513"):
        dmx.packet_time_us(513)


def feed(data: bytes, cuts: list[int]) -> tuple[list[tuple[int, bytes]], int]:
    reader = dmx.FramedReader()
    found = []
    places = [0, *sorted(cut % (len(data) + 1) for cut in cuts), len(data)]
    for begins, ends in pairwise(places):
        found += reader.feed(data[begins:ends])
    return found, reader.rubbish


def framed(label: int, payload: bytes) -> bytes:
    return bytes((0x7E, label)) + len(payload).to_bytes(2, "little") + payload + b"\xe7"


MESSAGES = st.lists(st.tuples(st.integers(0, 255), st.binary(max_size=30)), max_size=5)
DENSE = st.lists(st.sampled_from([0x7E, 0xE7, 0, 1, 2, 3, 0x59]), max_size=60).map(bytes)
CUTS = st.lists(st.integers(0, 200), max_size=6)


@given(MESSAGES, CUTS, st.binary(max_size=9).map(lambda noise: noise.replace(b"\x7e", b"")))
def test_messages_in_any_pieces(messages: list[tuple[int, bytes]], cuts: list[int], noise: bytes) -> None:
    """Framed messages come out whole and in order, however the bytes are cut and whatever stands between."""
    data = b"".join(noise + framed(label, payload) for label, payload in messages)
    assert feed(data, cuts) == (messages, len(noise) * len(messages))


@given(st.one_of(DENSE, st.binary(max_size=80)), CUTS)
def test_any_bytes_however_cut(data: bytes, cuts: list[int]) -> None:
    """Any bytes give the same messages and the same count of rubbish, however they are cut."""
    whole = feed(data, [])
    assert feed(data, cuts) == whole
    assert feed(data, list(range(len(data)))) == whole
    assert sum(5 + len(payload) for _, payload in whole[0]) + whole[1] <= len(data)


def test_a_false_beginning_does_not_swallow_a_message() -> None:
    """A start mark that begins no message is dropped alone, and the true message behind it is found."""
    # 7E 7E 03 02 may begin a message of 515 bytes, so it is known for false only when they have come.
    assert feed(b"\x7e" + framed(3, b"\x02"), []) == ([], 0)
    assert feed(b"\x7e" + framed(3, b"\x02") + bytes(600), []) == ([(3, b"\x02")], 601)
    assert feed(b"\x7e\x01\xff\xff" + framed(3, b""), []) == ([(3, b"")], 4)
    assert feed(framed(3, b"ab")[:-1] + b"\x00" + framed(3, b"c"), []) == ([(3, b"c")], 7)


def test_little_is_kept() -> None:
    """However much comes in, no more than the longest message is kept back."""
    reader = dmx.FramedReader()
    for _ in range(50):
        assert reader.feed(b"\x00" * 5000) == []
    assert reader.rubbish == 250_000
    assert reader.feed(b"\x7e\x01\x58\x02" + b"\x00" * 599) == []
    assert reader.feed(b"\x00\xe7") == [(1, bytes(600))]
