"""Knows: when a mapping file was saved, and what it now says.

Must never know: what is done with a mapping; who plays.
"""

from __future__ import annotations

import os
from pathlib import Path

from bridge.shell.files import read_mapping
from bridge.values.errors import FileError
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

State = tuple[int, int, int]


class MappingWatch:
    """Looks at a file now and then and reads it once it has changed and stands still.

    Args:
        path: the mapping file; rig: what it is read against.
    """

    def __init__(self, path: Path, rig: Rig) -> None:
        self._path, self._rig = path, rig
        self._read = self._seen = self._state()

    def _state(self) -> State | None:
        try:
            found = os.stat(self._path)
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def look(self) -> tuple[Mapping, str] | list[str] | None:
        """A new mapping and the text it was read from, or what is wrong; None while nothing has changed.

        An editor may write in pieces, so a change counts when two looks in a row see the same file.
        """
        state = self._state()
        if state is None or state == self._read or state != self._seen:
            self._seen = state
            return None
        self._read = state
        try:
            mapping, _ = read_mapping(self._path, self._rig)
            text = self._path.read_text(encoding="utf-8-sig")
        except FileError as error:
            return [str(problem) for problem in error.problems]
        except OSError:
            # Gone again since it was read; the next look will see what has become of it.
            return None
        return mapping, text
