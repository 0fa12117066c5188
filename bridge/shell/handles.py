"""Knows: how it shows that this program may open no more files, and what the player can do about it.

Must never know: what was to be opened.
"""

from __future__ import annotations

import errno
import sys

from bridge.values.errors import DeviceError


def used_up(error: BaseException) -> bool:
    """True where the limit of this program, or of the whole system, was reached."""
    return isinstance(error, OSError) and error.errno in (errno.EMFILE, errno.ENFILE)


def explain(so: str) -> DeviceError:
    """The error, and what comes of it."""
    remedy = "end other programs"
    if sys.platform != "win32":
        remedy += ", or type 'ulimit -n 1024' in this terminal and start again"
    return DeviceError(f"too many open files, so {so}", remedy)
