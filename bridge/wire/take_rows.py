"""Knows: how a row of a take is framed, checked and found again, and how numbers and texts stand in it.

Must never know: databases, file names, clocks, or what a row is about.

A row is a magic word, a version, a kind, a length, its body and a CRC-32 (ITU-T V.42, zlib's) over all of
that, so that a flipped bit is seen, and a row can be found again in a file whose tables are lost.
"""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Iterator
from typing import Protocol

from bridge.values.errors import WireError

MAGIC = b"\xf4Lw"
VERSION = 1
"""Format of rows and of the file around them; a higher one is never guessed at."""

TEXT, FRAMES, EVENTS, REMARKS, END = 1, 2, 3, 4, 5
"""Kinds of row."""

HEAD = struct.Struct("<3sBBI")
CRC = struct.Struct("<I")
REAL = struct.Struct("<d")
LARGEST_INT = (1 << 62) - 1
MOST_EARLY = 999


def place(k: int, j: int) -> int:
    """The key of what begins at frame (k, j) in its table; ascending as frames are."""
    return k * (MOST_EARLY + 1) + j


def pack(kind: int, body: bytes) -> bytes:
    """A whole row around a body."""
    row = HEAD.pack(MAGIC, VERSION, kind, len(body)) + body
    return row + CRC.pack(zlib.crc32(row))


def unpack(row: bytes, wanted: int) -> Cursor:
    """The body of a row of the kind `wanted`, its check done.

    Raises:
        WireError: no row of ours, damaged, of a newer version, or of another kind.
    """
    if len(row) < HEAD.size + CRC.size or row[:3] != MAGIC:
        raise WireError(
            f"expected a row that begins with {MAGIC.hex(' ')}, found {row[:3].hex(' ') or 'nothing'}"
        )
    _, version, kind, length = HEAD.unpack_from(row)
    if version > VERSION:
        raise WireError(f"a row of version {version}; this program reads up to {VERSION}")
    if length != len(row) - HEAD.size - CRC.size:
        raise WireError(f"a row of {len(row)} bytes says that its body has {length}")
    if zlib.crc32(row[: -CRC.size]) != CRC.unpack_from(row, len(row) - CRC.size)[0]:
        raise WireError("a damaged row: its check does not fit its bytes")
    if kind != wanted:
        raise WireError(f"expected a row of kind {wanted}, found {kind}")
    return Cursor(row[HEAD.size : -CRC.size])


class Stretch(Protocol):
    """Bytes that may be too many to read at once: `bytes`, or a file mapped into memory."""

    def find(self, sub: bytes, start: int, /) -> int:
        """Where `sub` stands first from `start` on, -1 for nowhere."""

    def __getitem__(self, key: slice, /) -> bytes:
        """Some of them."""

    def __len__(self) -> int:
        """How many they are."""


def find_rows(data: Stretch) -> Iterator[tuple[int, bytes]]:
    """(kind, row) of every whole and undamaged row that stands anywhere in `data`, in order of place."""
    at = data.find(MAGIC, 0)
    while at >= 0:
        step = 1
        if at + HEAD.size <= len(data):
            _, version, kind, length = HEAD.unpack(data[at : at + HEAD.size])
            ends = at + HEAD.size + length + CRC.size
            if version == VERSION and ends <= len(data):
                row = data[at:ends]
                if zlib.crc32(row[: -CRC.size]) == CRC.unpack(row[-CRC.size :])[0]:
                    yield kind, row
                    step = len(row)
        at = data.find(MAGIC, at + step)


def put_int(out: bytearray, value: int) -> None:
    """Append a whole number 0..LARGEST_INT: seven bits a byte, the lowest first, bit 7 where more follow."""
    if not 0 <= value <= LARGEST_INT:
        raise ValueError(f"a take cannot hold the number {value}")
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)


def put_real(out: bytearray, value: float) -> None:
    """Append a number with a fraction, to the bit."""
    if not math.isfinite(value):
        raise ValueError(f"a take cannot hold the number {value}")
    out += REAL.pack(value)


def put_text(out: bytearray, text: str) -> None:
    """Append a text, its length first; half a surrogate pair, as bad file names have, passes unchanged."""
    data = text.encode("utf-8", "surrogatepass")
    put_int(out, len(data))
    out += data


class Cursor:
    """A place in a body; every step that cannot be taken is a WireError."""

    __slots__ = ("_at", "_data")

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._at = 0

    def integer(self, what: str, most: int = LARGEST_INT) -> int:
        """The next whole number, 0..most."""
        data, at, value, shift = self._data, self._at, 0, 0
        while True:
            if at >= len(data) or shift > 56:
                raise WireError(f"byte {self._at} of a row: expected {what}")
            byte = data[at]
            at += 1
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                break
            shift += 7
        if value > most:
            raise WireError(f"byte {self._at} of a row: expected {what} up to {most}, found {value}")
        self._at = at
        return value

    def real(self, what: str) -> float:
        """The next number with a fraction (IEEE 754, 64 bits); infinities and no-numbers are refused."""
        (value,) = REAL.unpack(self.take(REAL.size, what))
        if not math.isfinite(value):
            raise WireError(f"byte {self._at - 8} of a row: expected {what}, found {value}")
        return float(value)

    def text(self, what: str) -> str:
        """The next text."""
        try:
            return self.take(self.integer(what), what).decode("utf-8", "surrogatepass")
        except UnicodeDecodeError as error:
            raise WireError(f"byte {self._at} of a row: expected {what} in UTF-8") from error

    def take(self, length: int, what: str) -> bytes:
        """The next `length` bytes."""
        if length > len(self._data) - self._at:
            raise WireError(f"byte {self._at} of a row: expected {what} of {length} bytes, and it ends here")
        self._at += length
        return self._data[self._at - length : self._at]

    def rest(self) -> bytes:
        """What is left."""
        return self.take(len(self._data) - self._at, "the rest")

    def done(self) -> None:
        """Nothing may be left."""
        if self._at != len(self._data):
            raise WireError(f"byte {self._at} of a row: expected its end")


def inflate(data: bytes, most: int, what: str) -> bytes:
    """Undo deflate (RFC 1950), setting aside no more than `most` bytes.

    Raises:
        WireError: not deflated, cut off, longer than `most`, or followed by rubbish.
    """
    machine = zlib.decompressobj()
    try:
        out = machine.decompress(data, most + 1)
    except zlib.error as error:
        raise WireError(f"{what} cannot be unpacked: {error}") from error
    if len(out) > most or not machine.eof or machine.unused_data:
        raise WireError(f"{what} cannot be unpacked: expected at most {most} bytes and an end")
    return out
