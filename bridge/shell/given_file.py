"""Knows: what a file that was given to be read must be: a plain file, and no larger than its kind can be.

Must never know: what is in it.

A pipe, a device or a socket may hold its reader for ever, and some have no end; a file of many gigabytes is
a slip. Both are said at once, before anything is read. The one exception is the text of a rig, a mapping or a
set list, which a shell may hand over through a pipe that ends.
"""

from __future__ import annotations

import os
import select
import stat
import time
from pathlib import Path

from bridge.values.errors import FileError, Problem

PATIENCE = 5.0
"""Seconds in which a pipe must have said all it has to say."""

PLAIN = "save it in a plain file and give that"
"""What would be right in place of what `odd` names."""

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def odd(path: str | os.PathLike[str]) -> str:
    """What a path leads to in place of a plain file: a folder, a pipe, …; empty for a plain file.

    Raises:
        OSError, ValueError: nothing is there, or it may not be looked at.
    """
    mode = os.stat(path).st_mode
    if stat.S_ISREG(mode):
        return ""
    return next((what for test, what in _KINDS if test(mode)), "no plain file")


def piped_bytes(path: str | os.PathLike[str], most: int) -> bytes:
    """What another program writes to a pipe, to its end; at most a little over `most` bytes.

    Raises:
        TimeoutError: it does not end in time.
        OSError: it cannot be read.
    """
    # Asked not to wait, since opening a pipe that nobody writes to would wait for ever.
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    out, until = bytearray(), time.monotonic() + PATIENCE
    try:
        while len(out) <= most:
            ready, _, _ = select.select([handle], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                raise TimeoutError(0, f"this pipe does not end within {PATIENCE:g} seconds")
            piece = os.read(handle, 65536)
            if not piece:
                break
            out += piece
    finally:
        os.close(handle)
    return bytes(out)


def given_bytes(path: str | os.PathLike[str], most: int, right: str) -> bytes:
    """All bytes of a plain file.

    Args:
        most: bytes it may have. right: what was wanted, for messages, as in `a standard MIDI file (.mid)`.

    Raises:
        FileError: it is not there, is no plain file, is too large, or cannot be read.
    """
    try:
        if what := odd(path):
            raise _flawed(path, f"this is {what}", f"give {right}" if what == "a folder" else PLAIN)
        if os.stat(path).st_size > most:
            raise _flawed(path, f"larger than {most // 1_000_000} MB", right)
        with Path(path).open("rb") as file:
            data = file.read(most + 1)
    except FileNotFoundError as error:
        raise _flawed(path, "there is no such file", "check its name and the folder you are in") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise _flawed(path, f"cannot be read: {reason}", right) from error
    if len(data) > most:
        raise _flawed(path, f"larger than {most // 1_000_000} MB", right)
    return data


def _flawed(path: str | os.PathLike[str], what: str, right: str) -> FileError:
    return FileError([Problem(0, 0, what, right, os.fspath(path))])
