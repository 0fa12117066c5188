"""Knows: how a standard MIDI file that was given is read, and how long a song can sensibly be.

Must never know: mappings, ports, or what its notes light.
"""

from __future__ import annotations

import os

from bridge.shell.given_file import given_bytes
from bridge.values.errors import FileError, Problem, WireError
from bridge.wire import smf

LARGEST = 50_000_000
"""Bytes of a MIDI file."""

LONGEST = 86_400.0
"""Seconds of a song: a day. Beyond it a file has a slip: one wait of 2^28 ticks, or a tempo that crawls."""

WANTED = "a standard MIDI file (.mid)"


def read_song(path: str | os.PathLike[str]) -> smf.Song:
    """A MIDI file.

    Raises:
        FileError: it cannot be read, or is none.
    """
    data = given_bytes(path, LARGEST, WANTED)
    try:
        return smf.parse(data)
    except WireError as error:
        raise FileError([Problem(0, 0, str(error), WANTED, os.fspath(path))]) from error


def too_long(path: str | os.PathLike[str], ends: float, right: str) -> Problem | None:
    """What is odd about a song that lasts over a day; None for any other.

    Args:
        ends: seconds. right: what would be right, such as an option that ends it sooner.
    """
    if ends <= LONGEST:
        return None
    what = f"lasts {ends / 3600:,.0f} hours, and a song has {LONGEST / 3600:.0f} at most"
    return Problem(0, 0, what, right, os.fspath(path))
