"""Knows: where each field of the packets of streaming ACN (ANSI E1.31-2018) stands, and which never change.

Must never know: levels, senders, sockets, or when a packet goes out.

Each packet is a table of fields; building, checking and the docs walk the same table. Values were checked
against packets of an independent library, not against the paper; see tests/reference/sacn_e131.csv.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Field:
    """One row of a packet: `value` where every packet of the kind has the same bytes there."""

    offset: int
    length: int
    name: str
    value: bytes | None = None


LENGTH = "flags and length"
"""Ending of the names of the fields that count the bytes from themselves to the end of the packet."""

_EXTENDED = b"\x00\x00\x00\x08"


def _root(vector: bytes) -> tuple[Field, ...]:
    return (
        Field(0, 2, "root: preamble size", b"\x00\x10"),
        Field(2, 2, "root: post-amble size", b"\x00\x00"),
        Field(4, 12, "root: ACN packet identifier", b"ASC-E1.17\x00\x00\x00"),
        Field(16, 2, f"root: {LENGTH}"),
        Field(18, 4, "root: vector", vector),
        Field(22, 16, "root: CID"),
        Field(38, 2, f"framing: {LENGTH}"),
    )


DATA_FIELDS = (
    *_root(b"\x00\x00\x00\x04"),
    Field(40, 4, "framing: vector", b"\x00\x00\x00\x02"),
    Field(44, 64, "framing: source name"),
    Field(108, 1, "framing: priority"),
    Field(109, 2, "framing: synchronization address"),
    Field(111, 1, "framing: sequence number"),
    Field(112, 1, "framing: options"),
    Field(113, 2, "framing: universe"),
    Field(115, 2, f"DMP: {LENGTH}"),
    Field(117, 1, "DMP: vector", b"\x02"),
    Field(118, 1, "DMP: address type and data type", b"\xa1"),
    Field(119, 2, "DMP: first property address", b"\x00\x00"),
    Field(121, 2, "DMP: address increment", b"\x00\x01"),
    Field(123, 2, "DMP: property value count"),
    Field(125, 1, "DMP: property value 0 = START code"),
)
"""A data packet up to its slots; slot n, from 1, is byte 125 + n (Table 4-1)."""

SYNC_FIELDS = (
    *_root(_EXTENDED),
    Field(40, 4, "framing: vector", b"\x00\x00\x00\x01"),
    Field(44, 1, "framing: sequence number"),
    Field(45, 2, "framing: synchronization address"),
    Field(47, 2, "framing: reserved", b"\x00\x00"),
)
"""A synchronization packet (Table 4-2)."""

DISCOVERY_FIELDS = (
    *_root(_EXTENDED),
    Field(40, 4, "framing: vector", b"\x00\x00\x00\x02"),
    Field(44, 64, "framing: source name"),
    Field(108, 4, "framing: reserved", b"\x00\x00\x00\x00"),
    Field(112, 2, f"discovery layer: {LENGTH}"),
    Field(114, 4, "discovery layer: vector", b"\x00\x00\x00\x01"),
    Field(118, 1, "discovery layer: page"),
    Field(119, 1, "discovery layer: last page"),
)
"""A page of a universe discovery up to its list of universes at byte 120 (Table 4-3)."""


def build(fields: tuple[Field, ...], values: Mapping[str, bytes], tail: bytes) -> bytearray:
    """A packet of these fields, the tail after them; the lengths are worked out here (clause 5.4)."""
    packet = bytearray(fields[-1].offset + fields[-1].length) + tail
    for field in fields:
        if field.name.endswith(LENGTH):
            value = (0x7000 | len(packet) - field.offset).to_bytes(2)
        else:
            value = values[field.name] if field.value is None else field.value
        if len(value) != field.length:
            raise ValueError(f"{field.name} is {field.length} bytes, not {len(value)}")
        packet[field.offset : field.offset + field.length] = value
    return packet
