"""Knows: whether a film came whole whose decoder reads what is there and says nothing of the rest.

Must never know: lamps, mappings; how a film is decoded.

Matroska, WebM and MP4 need none of this (`films`). An AVI file says its size and its number of pictures at
its beginning, and its decoder heeds neither; a transport stream is made of packets of one size. Sources: RIFF
chunks and their sizes from the Multimedia Programming Interface and Data Specifications 1.0 (1991); the
places of the numbers in the main header of an AVI file from memory of its published reference; ISO/IEC
13818-1, 2.4.3.2: packets of 188 bytes that begin with 47 hex.
"""

from __future__ import annotations

import struct
from pathlib import Path

PACKET, SYNC = 188, 0x47
PACKETS = 5
"""Packets that must begin alike for a file to count as a transport stream."""


def cut_short(path: Path, length: float) -> str:
    """What is missing of a film, in words; empty where nothing is known to be missing.

    Args:
        length: seconds of it that could be read.

    Raises:
        OSError: it cannot be read.
    """
    with path.open("rb") as file:
        head = file.read(PACKETS * PACKET)
        size = file.seek(0, 2)
    if head[:4] == b"RIFF" and head[8:12] == b"AVI ":
        return _of_avi(head, size, length)
    if head[::PACKET] == bytes([SYNC]) * PACKETS and size % PACKET:
        return f"the film is cut off in the middle of a packet; {length:.1f} s can be read"
    return ""


def _of_avi(head: bytes, size: int, length: float) -> str:
    (stated,) = struct.unpack("<I", head[4:8])
    # A writer that could not go back leaves no size; a film over 1 GB has more such chunks, the first of
    # which is whole.
    if stated == 0 or stated + 8 <= size:
        return ""
    seconds = 0.0
    if len(head) >= 52 and head[24:28] == b"avih":
        micros, frames = struct.unpack("<I", head[32:36])[0], struct.unpack("<I", head[48:52])[0]
        seconds = micros * frames / 1e6
    of = f"of {seconds:.1f} s " if seconds > length else f"of {stated + 8} bytes {size} are here, and "
    return f"the film is cut off: {of}only {length:.1f} s can be read"
