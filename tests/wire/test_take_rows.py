"""Rows of a take: framing, checks, numbers and texts, and finding rows in a file that lost its tables."""

from __future__ import annotations

import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values.errors import WireError
from bridge.wire.take_rows import (
    CRC,
    HEAD,
    LARGEST_INT,
    MAGIC,
    REAL,
    VERSION,
    Cursor,
    find_rows,
    inflate,
    pack,
    place,
    put_int,
    put_real,
    put_text,
    unpack,
)


def test_check_value_of_the_crc() -> None:
    """The check of a row is the CRC-32 of ITU-T V.42; its check value CBF43926 is common knowledge."""
    assert zlib.crc32(b"123456789") == 0xCBF43926
    row = pack(3, b"123456789")
    assert row[-4:] == CRC.pack(zlib.crc32(row[:-4]))


@given(st.integers(1, 5), st.binary(max_size=300))
def test_a_row_comes_back(kind: int, body: bytes) -> None:
    """What was packed is unpacked, to the byte."""
    assert unpack(pack(kind, body), kind).rest() == body


@given(st.binary(max_size=60), st.data())
def test_any_change_of_a_row_is_seen(body: bytes, data: st.DataObject) -> None:
    """A row in which one byte is another is an error, whichever byte it is."""
    row = bytearray(pack(2, body))
    at = data.draw(st.integers(0, len(row) - 1))
    row[at] ^= data.draw(st.integers(1, 255))
    with pytest.raises(WireError):
        unpack(bytes(row), 2)


@given(st.binary(max_size=60), st.data())
def test_a_row_cut_short_or_grown_is_seen(body: bytes, data: st.DataObject) -> None:
    """A row that lost its end, or found another, is an error."""
    row = pack(2, body)
    cut = row[: data.draw(st.integers(0, len(row) - 1))]
    with pytest.raises(WireError):
        unpack(cut, 2)
    with pytest.raises(WireError):
        unpack(row + data.draw(st.binary(min_size=1, max_size=5)), 2)


def test_a_newer_row_is_not_guessed_at() -> None:
    """A row of a later version is an error that names both versions, though its check is right."""
    row = HEAD.pack(MAGIC, VERSION + 1, 2, 3) + b"abc"
    with pytest.raises(WireError, match=f"version {VERSION + 1}; this program reads up to {VERSION}"):
        unpack(row + CRC.pack(zlib.crc32(row)), 2)


def test_another_kind_is_refused() -> None:
    """A whole row of another kind than the wanted one is an error."""
    with pytest.raises(WireError, match="expected a row of kind 2, found 3"):
        unpack(pack(3, b"abc"), 2)


@given(st.binary(max_size=200))
def test_any_bytes_are_a_row_or_the_one_error(data: bytes) -> None:
    """Any bytes: a row, or a WireError, never another error."""
    try:
        unpack(data, 1)
    except WireError:
        assert data[:3] != MAGIC or pack(1, data[HEAD.size : -CRC.size]) != data


@given(
    st.lists(st.tuples(st.integers(1, 5), st.binary(max_size=40)), max_size=6),
    st.lists(st.binary(max_size=20).filter(lambda noise: MAGIC not in noise), min_size=7, max_size=7),
)
def test_rows_are_found_between_rubbish(rows: list[tuple[int, bytes]], noise: list[bytes]) -> None:
    """Every whole row is found again wherever it stands, and nothing else is."""
    packed = [pack(kind, body) for kind, body in rows]
    data = noise[0] + b"".join(row + rubbish for row, rubbish in zip(packed, noise[1:], strict=False))
    assert [row for _, row in find_rows(data)] == packed


@given(st.binary(max_size=30), st.binary(max_size=30))
def test_a_cut_row_does_not_hide_the_next(first: bytes, second: bytes) -> None:
    """A row that was cut off, or claims more than there is, leaves the whole one after it to be found."""
    whole = pack(2, second)
    cut = pack(2, first + b"tail")[:-6]
    boast = HEAD.pack(MAGIC, VERSION, 2, 0xFFFFFFFF)
    assert [row for _, row in find_rows(cut + boast + whole)] == [whole]


@given(st.lists(st.integers(0, LARGEST_INT)), st.lists(st.floats(allow_nan=False, allow_infinity=False)))
def test_numbers_come_back_to_the_bit(integers: list[int], reals: list[float]) -> None:
    """Whole numbers and fractions are read as they were written."""
    out = bytearray()
    for integer in integers:
        put_int(out, integer)
    for real in reals:
        put_real(out, real)
    cursor = Cursor(bytes(out))
    assert [cursor.integer("a number") for _ in integers] == integers
    assert [REAL.pack(cursor.real("a number")) for _ in reals] == [REAL.pack(real) for real in reals]
    cursor.done()


@given(st.lists(st.text()))
def test_texts_come_back(texts: list[str]) -> None:
    """Any text is read as it was written, half a surrogate pair included."""
    out = bytearray()
    for text in [*texts, "\udcff.take"]:
        put_text(out, text)
    cursor = Cursor(bytes(out))
    assert [cursor.text("a text") for _ in range(len(texts) + 1)] == [*texts, "\udcff.take"]


@pytest.mark.parametrize("value", [-1, LARGEST_INT + 1])
def test_numbers_out_of_range_are_our_mistake(value: int) -> None:
    """A whole number that no row can hold is refused when it is written."""
    with pytest.raises(ValueError, match=f"cannot hold the number {value}"):
        put_int(bytearray(), value)


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_numbers_that_are_none_are_refused_both_ways(value: float) -> None:
    """No-numbers and infinities are neither written nor read."""
    with pytest.raises(ValueError, match="cannot hold the number"):
        put_real(bytearray(), value)
    with pytest.raises(WireError, match="expected a stamp"):
        Cursor(REAL.pack(value)).real("a stamp")


def test_a_number_that_never_ends_is_an_error() -> None:
    """A number of more groups than any of ours has is an error, not a huge number."""
    with pytest.raises(WireError, match="expected a count"):
        Cursor(b"\xff" * 20).integer("a count")
    with pytest.raises(WireError, match="up to 5, found 6"):
        Cursor(b"\x06").integer("a count", 5)


@given(st.binary(max_size=200), st.integers(0, 300))
def test_unpacking_never_takes_more_than_it_may(data: bytes, most: int) -> None:
    """Deflated bytes come back when they fit, else an error; a bomb is never blown up."""
    packed = zlib.compress(data)
    if len(data) <= most:
        assert inflate(packed, most, "it") == data
    else:
        with pytest.raises(WireError, match="at most"):
            inflate(packed, most, "it")
    with pytest.raises(WireError, match="cannot be unpacked"):
        inflate(packed[:-1], 300, "it")
    with pytest.raises(WireError, match="cannot be unpacked"):
        inflate(packed + b"x", 300, "it")


def test_keys_ascend_as_frames_do() -> None:
    """The key of a frame lies between those of its neighbours, early ones included."""
    keys = [place(k, j) for k, j in ((0, 0), (0, 1), (0, 999), (1, 0), (2, 0))]
    assert keys == sorted(set(keys))
