"""Knows: the rows around the music of a take: its header with the texts of rig and mapping, remarks, the end.

Must never know: databases, file names, clocks; what frames and events look like.
"""

from __future__ import annotations

import hashlib
import json
import math
import zlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from bridge.values.errors import WireError
from bridge.wire.take_rows import END, LARGEST_INT, REMARKS, TEXT, inflate, pack, place, put_int, unpack

PIECE = 8000
"""Bytes of text in one row, so that no row needs a second page."""

MOST_DIGITS = 300
"""Of a whole number."""


@dataclass(frozen=True, slots=True)
class TakeHeader:
    """What a take says about itself; texts are those of the files as they were.

    Args:
        refresh_hz: steady frames a second; frame k is the picture at k / refresh_hz seconds.
        universes: universe numbers, ascending, one for each row of 512 slots in every frame.
        rig, mapping: text of the two files (YAML); rig_file, mapping_file: their names as given.
        song: name of the song's file, empty for none; offset_ms: as given with it.
        begins_at: seconds into the song, or into the show, at which the take begins.
        title: what is played, for people; made: when, as text; program: name and version of what wrote it.
    """

    refresh_hz: float
    universes: tuple[int, ...]
    rig: str = ""
    rig_file: str = ""
    mapping: str = ""
    mapping_file: str = ""
    song: str = ""
    offset_ms: float = 0.0
    begins_at: float = 0.0
    title: str = ""
    program: str = ""
    made: str = ""

    @property
    def rig_print(self) -> str:
        """The fingerprint of the rig's text."""
        return fingerprint(self.rig)

    @property
    def mapping_print(self) -> str:
        """The fingerprint of the mapping's text."""
        return fingerprint(self.mapping)


def fingerprint(text: str) -> str:
    """16 hexadecimal digits that differ when texts differ (the first of SHA-256, FIPS 180-4)."""
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:16]


def encode_header(header: TakeHeader) -> bytes:
    """The header as a text for `text_rows`."""
    return zlib.compress(json.dumps(asdict(header), allow_nan=False).encode("utf-8"), 9)


def decode_header(data: bytes) -> TakeHeader:
    """The header; entries of a later version that we do not know are passed over.

    Raises:
        WireError: it is not one.
    """
    found = _json(inflate(data, 64_000_000, "the header"), "the header")
    if not isinstance(found, dict):
        raise WireError("expected a header of names and values")
    values: dict[str, Any] = {}
    for name, kind in _HEADER_KINDS.items():
        value = found.get(name)
        if name == "universes" and isinstance(value, list):
            value = tuple(value)
        if not isinstance(value, kind) or isinstance(value, bool):
            raise WireError(f"the header has no {name} that can be used")
        values[name] = float(value) if kind == (int, float) else value
    header = TakeHeader(**values)
    numbers = header.universes
    if not all(type(number) is int and 1 <= number <= 63999 for number in numbers) or list(numbers) != sorted(
        set(numbers)
    ):
        raise WireError("the header has no universes that can be used")
    if not 0.1 <= header.refresh_hz <= 10_000 or not math.isfinite(header.offset_ms + header.begins_at):
        raise WireError("the header has no refresh_hz that can be used")
    return header


_HEADER_KINDS: dict[str, Any] = {
    "refresh_hz": (int, float),
    "universes": tuple,
    "offset_ms": (int, float),
    "begins_at": (int, float),
} | dict.fromkeys(("rig", "rig_file", "mapping", "mapping_file", "song", "title", "program", "made"), str)


def _json(data: bytes, what: str) -> Any:
    def no_constant(word: str) -> Any:
        raise ValueError(f"{word} is no number")

    def whole(word: str) -> int:
        # More digits than a real number can have: whoever takes it for one would stumble.
        return int(word) if len(word) <= MOST_DIGITS else no_constant(f"{word[:20]}…")

    try:
        return json.loads(data.decode("utf-8"), parse_constant=no_constant, parse_int=whole)
    except (ValueError, RecursionError) as error:
        raise WireError(f"{what} cannot be read: {error}") from error


def text_rows(which: int, data: bytes) -> list[tuple[int, bytes]]:
    """(key, row) of a text cut into pieces; `which` is 0 for the header, 1 up for later mappings."""
    pieces = [data[at : at + PIECE] for at in range(0, len(data), PIECE)] or [b""]
    rows = []
    for number, piece in enumerate(pieces):
        body = bytearray()
        for value in (which, number, len(pieces)):
            put_int(body, value)
        rows.append((place(which, number), pack(TEXT, bytes(body) + piece)))
    return rows


def join_texts(rows: Iterable[bytes]) -> dict[int, bytes]:
    """The texts that are whole, in whatever order their pieces come; damaged and double ones do no harm."""
    pieces: dict[int, dict[int, bytes]] = {}
    counts: dict[int, int] = {}
    for row in rows:
        try:
            body = unpack(row, TEXT)
            which, number = body.integer("a text's number"), body.integer("a piece")
            counts[which] = body.integer("the number of pieces", 1_000_000)
        except WireError:
            continue
        pieces.setdefault(which, {})[number] = body.rest()
    return {
        which: b"".join(found[number] for number in range(counts[which]))
        for which, found in pieces.items()
        if all(number in found for number in range(counts[which]))
    }


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that was noted beside a frame: what a guard held back, an output that fell.

    Args:
        k: the frame. kind: one word. data: anything JSON can say.
    """

    k: int
    kind: str
    data: Any = None


def remarks_row(n: int, remarks: Iterable[Remark]) -> bytes:
    """The n-th row of remarks (from 1).

    Raises:
        ValueError: JSON cannot say what a remark holds.
    """
    body = bytearray()
    put_int(body, n)
    text = json.dumps([[r.k, r.kind, r.data] for r in remarks], allow_nan=False, separators=(",", ":"))
    return pack(REMARKS, bytes(body) + text.encode("utf-8"))


@dataclass(frozen=True, slots=True)
class RemarksRow:
    """A row of remarks as read; `n` is its number, from 1, and its key."""

    n: int
    remarks: tuple[Remark, ...]

    @property
    def key(self) -> int:
        """Its place in the table."""
        return self.n


def read_remarks(row: bytes) -> RemarksRow:
    """A row of remarks.

    Raises:
        WireError: damaged, or not remarks.
    """
    body = unpack(row, REMARKS)
    n = body.integer("the row's number")
    found = _json(body.rest(), "a row of remarks")
    if not isinstance(found, list):
        raise WireError("expected a list of remarks")
    out = []
    for item in found:
        if not (
            isinstance(item, list)
            and len(item) == 3
            and type(item[0]) is int
            and 0 <= item[0] <= LARGEST_INT
            and isinstance(item[1], str)
        ):
            raise WireError("expected a remark of a frame's number, a word and data")
        out.append(Remark(*item))
    return RemarksRow(n, tuple(out))


@dataclass(frozen=True, slots=True)
class End:
    """The closing mark: how many rows of each kind, the number after the last frame, frames the disk cost."""

    frames: int
    events: int
    remarks: int
    next_k: int
    lost: int


def end_row(end: End) -> bytes:
    """The closing mark as a row."""
    body = bytearray()
    for value in (end.frames, end.events, end.remarks, end.next_k, end.lost):
        put_int(body, value)
    return pack(END, bytes(body))


def read_end(row: bytes) -> End:
    """The closing mark.

    Raises:
        WireError: damaged, or another kind.
    """
    body = unpack(row, END)
    end = End(*(body.integer("a count") for _ in range(5)))
    body.done()
    return end
