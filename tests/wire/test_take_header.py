"""The rows around the music: header and texts, remarks, the closing mark."""

from __future__ import annotations

import json
import random
import zlib
from dataclasses import asdict
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values.errors import WireError
from bridge.wire.take_header import (
    PIECE,
    End,
    Remark,
    TakeHeader,
    decode_header,
    encode_header,
    end_row,
    fingerprint,
    join_texts,
    read_end,
    read_remarks,
    remarks_row,
    text_rows,
)
from bridge.wire.take_rows import END, REMARKS, TEXT, pack
from tests.wire.take_cases import HEADERS

JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=5,
)


@given(HEADERS)
def test_a_header_comes_back(header: TakeHeader) -> None:
    """A header is read as it was written, every field to the bit."""
    assert decode_header(encode_header(header)) == header


@given(HEADERS, st.integers(0, 99))
def test_texts_in_pieces_come_back_in_any_order(header: TakeHeader, seed: int) -> None:
    """A text cut into rows is joined again whatever the order, doubles and strangers among them."""
    chance = random.Random(seed)
    noise = bytes(chance.randrange(256) for _ in range(3 * PIECE))
    texts = {0: encode_header(header), 3: noise, 7: b""}
    rows = [row for which, text in texts.items() for _, row in text_rows(which, text)]
    assert all(len(row) <= PIECE + 40 for row in rows)
    mixed = [*rows, rows[0], pack(TEXT, b"\xff"), pack(END, b"")]
    chance.shuffle(mixed)
    assert join_texts(mixed) == texts


def test_a_text_that_lacks_a_piece_is_not_made_up() -> None:
    """A text of which a piece is damaged is missing, and the others are there."""
    rows = [row for _, row in text_rows(1, bytes(2 * PIECE))] + [row for _, row in text_rows(2, b"whole")]
    assert join_texts([rows[0], rows[1][:-1] + b"!", rows[2]]) == {2: b"whole"}


def test_fingerprints_tell_texts_apart() -> None:
    """A fingerprint is the published SHA-256 of the text, cut (FIPS 180-4 example: "abc")."""
    assert fingerprint("abc") == "ba7816bf8f01cfea"
    header = TakeHeader(40.0, (1,), rig="abc", mapping="abd")
    assert header.rig_print == "ba7816bf8f01cfea" != header.mapping_print


def broken(**changes: Any) -> bytes:
    values = asdict(TakeHeader(40.0, (1,))) | changes
    return zlib.compress(
        json.dumps({name: value for name, value in values.items() if value is not ...}).encode()
    )


@pytest.mark.parametrize(
    "changes",
    [
        {"refresh_hz": 0},
        {"refresh_hz": 1e9},
        {"refresh_hz": "40"},
        {"refresh_hz": True},
        {"universes": [2, 1]},
        {"universes": [0]},
        {"universes": [1.0]},
        {"universes": [1, 1]},
        {"universes": 1},
        {"rig": 5},
        {"song": ...},
    ],
    ids=str,
)
def test_a_header_that_makes_no_sense_is_an_error(changes: dict[str, Any]) -> None:
    """A value no take can have, or one that is missing, is an error that names it."""
    with pytest.raises(WireError, match=f"no {next(iter(changes))} that can be used"):
        decode_header(broken(**changes))


def test_what_a_later_program_adds_is_passed_over() -> None:
    """Entries of the header that are not known do no harm."""
    assert decode_header(broken(colour="blue")) == TakeHeader(40.0, (1,))


@pytest.mark.parametrize("text", ["[]", "[" * 100_000, "NaN", "{", '{"refresh_hz": Infinity}', "9" * 5000])
def test_any_text_is_a_header_or_the_one_error(text: str) -> None:
    """Text that is no header is a WireError, however deep or large."""
    with pytest.raises(WireError):
        decode_header(zlib.compress(text.encode()))


@pytest.mark.parametrize("name", ["refresh_hz", "offset_ms", "begins_at"])
def test_a_number_with_more_digits_than_a_real_has_is_the_one_error(name: str) -> None:
    """JSON can say 10 to the power of 400; no field that is taken for a real number stumbles over it."""
    whole = asdict(TakeHeader(40.0, (1,))) | {name: 10**400}
    with pytest.raises(WireError, match="is no number"):
        decode_header(zlib.compress(json.dumps(whole).encode()))
    with pytest.raises(WireError, match="is no number"):
        read_remarks(remarks_row(1, [Remark(3, "late", -(10**400))]))


@given(
    st.integers(0, 10**9), st.lists(st.tuples(st.integers(0, 2**50), st.text(max_size=9), JSON), max_size=5)
)
def test_remarks_come_back(n: int, rows: list[tuple[int, str, Any]]) -> None:
    """Whatever JSON can say comes back, beside its frame."""
    remarks = tuple(Remark(*row) for row in rows)
    found = read_remarks(remarks_row(n, remarks))
    assert (found.n, found.remarks) == (n, remarks)


@given(st.one_of(JSON, st.lists(st.lists(JSON, max_size=4), max_size=3)))
def test_any_json_is_remarks_or_the_one_error(data: Any) -> None:
    """A row of remarks with other JSON in it is remarks or a WireError."""
    try:
        found = read_remarks(pack(REMARKS, b"\x01" + json.dumps(data).encode()))
    except WireError:
        return
    assert [[r.k, r.kind, r.data] for r in found.remarks] == data


def test_a_closing_mark_comes_back() -> None:
    """The closing mark is read as it was written, and one with bytes after it is none."""
    end = End(1, 2, 3, 2**50, 5)
    assert read_end(end_row(end)) == end
    with pytest.raises(WireError, match="expected its end"):
        read_end(pack(END, b"\x01\x02\x03\x04\x05\x06"))
