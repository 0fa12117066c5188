"""Knows: how the levels of a long film are kept in a file that two processes read, so that they are not sent.

Must never know: what a film shows, who sends it.

The house decodes and the show plays: a film of many megabytes in a message would hold up frames while the
show takes it from the pipe. So it goes by name, and the other side maps the same pages.
"""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from multiprocessing.util import Finalize
from typing import Any

import numpy as np

from bridge.values.texture import Words

LONG = 1_000_000
"""Bytes from which a film goes by name."""


class Kept(np.ndarray[Any, Any]):
    """Levels of a film in a file; pickled, only its name crosses."""

    path: str

    def __reduce__(self) -> str | tuple[Any, ...]:
        path = getattr(self, "path", "")
        if not path:
            return np.asarray(self).copy().__reduce__()
        return _mapped, (path, self.shape)


def _mapped(path: str, shape: tuple[int, ...]) -> Kept:
    out = np.memmap(path, dtype=np.uint16, mode="r", shape=shape).view(Kept)
    out.path = path
    return out


def keep(levels: Words) -> Words:
    """The same levels, in a file of their own if they are many; it is gone when this process ends."""
    if levels.nbytes < LONG:
        return levels
    handle, path = tempfile.mkstemp(prefix="lampwright-", suffix=".film")
    with os.fdopen(handle, "wb") as file:
        file.write(np.ascontiguousarray(levels).data)
    # A process of the multiprocessing module leaves without atexit, but not without these.
    Finalize(None, _away, (path,), exitpriority=1)
    return _mapped(path, levels.shape)


def _away(path: str) -> None:
    with suppress(OSError):
        os.unlink(path)
