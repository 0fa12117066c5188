"""Knows: what the terminal we were started in can show: whether it can be drawn on, and which letters it has.

Must never know: what is shown.

A terminal that calls itself dumb can only be written on line by line (terminfo's entry `dumb`). One whose
encoding lacks a letter of ours gets the nearest one of ASCII, width for width where that can be, so that
pictures keep their shape.
"""

from __future__ import annotations

import codecs
import os
import sys
from typing import Any, TextIO

DUMB = ("dumb", "unknown")
"""Values of TERM of what cannot move its cursor."""

NEAREST = {
    **dict(zip("·▁▂▃▄▅▆▇█", ".:-=+*%@#", strict=True)),
    **dict(zip("▏▎▍▌▋▊▉", "::||||#", strict=True)),
    **dict(zip("●○◆◇", "oo*+", strict=True)),
    **dict(zip("–—‘’“”×²°", "--''\"\"x2 ", strict=True)),
    "…": "...",
    "→": "->",
    "←": "<-",
}
"""Letters that we write -> what stands for them; `?` for any other."""

_HANDLER = "lampwright"


def can_draw(stream: TextIO | None = None) -> bool:
    """True where standard output (or another stream) is a terminal that can be drawn on."""
    stream = sys.stdout if stream is None else stream
    return stream is not None and stream.isatty() and os.environ.get("TERM", "").casefold() not in DUMB


def is_stdout(path: str | os.PathLike[str]) -> bool:
    """True where a path is our own standard output, such as /dev/stdout: nothing else may be said there."""
    try:
        return os.path.samestat(os.stat(path), os.fstat(1))
    except (OSError, ValueError):
        return False


def any_letter(*streams: Any) -> None:
    """From now on no letter is an error on these streams, standard output and errors unless given.

    Without it one name with an accent would end a show whose terminal has no such letter.
    """
    codecs.register_error(_HANDLER, _nearest)
    for stream in streams or (sys.stdout, sys.stderr):
        # What was put in place of a stream need not be one that can be set up.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_HANDLER)


def _nearest(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    found = error.object[error.start : error.end]
    return "".join(NEAREST.get(letter, "?") for letter in found), error.end
