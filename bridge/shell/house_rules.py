"""Knows: how what the mapping file says comes into force: saved by hand, or taught from the page.

Must never know: how it is watched or read; who plays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bridge.shell.files import read_mapping
from bridge.shell.page.same import same_mapping
from bridge.shell.watch import MappingWatch
from bridge.values.errors import FileError
from bridge.values.events import NewMapping
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

STILL_BEFORE = "the mapping in force is still the one before"


@dataclass(frozen=True, slots=True)
class Saved:
    """Makes the event of a saved mapping once its time is known; crosses the pipe."""

    mapping: Mapping
    text: str

    def __call__(self, stamp: float) -> NewMapping:
        """The event."""
        return NewMapping(stamp, self.mapping, text=self.text)


class Rules:
    """What is in force, as far as the file tells.

    Args:
        path: the mapping file, None for none; rig: what it is read against.
        send: takes ("event", Saved) and ("notices", lines) to the show.
    """

    def __init__(self, path: Path | None, rig: Rig, send: Callable[[str, object], None]) -> None:
        self._path, self._rig, self._send = path, rig, send
        self._watch = MappingWatch(path, rig) if path is not None else None
        self._taught = ""
        self.show: Callable[[Mapping], None] = lambda _mapping: None
        """Told of a mapping that came into force by the file."""

    def taught(self, mapping: Mapping, text: str) -> None:
        """The page has written the file: in force at once, and no news when the file is next looked at."""
        self._taught = text
        self._send("event", Saved(mapping, text))
        self._send("notices", [])

    def look(self) -> None:
        """See whether the file was saved."""
        found = self._watch.look() if self._watch is not None else None
        if isinstance(found, tuple):
            if found[1] != self._taught:
                self._put(*found)
            self._taught = ""
        elif found:
            self._send("notices", [*found, STILL_BEFORE])

    def catch_up(self, began_with: Mapping) -> None:
        """Call once: what was saved since the show began is in force, though a house may have died since."""
        if self._path is None:
            return
        try:
            mapping, _ = read_mapping(self._path, self._rig)
            text = self._path.read_text(encoding="utf-8-sig")
        except (FileError, OSError):
            return
        if not same_mapping(began_with, mapping):
            self._put(mapping, text)

    def _put(self, mapping: Mapping, text: str) -> None:
        self._send("event", Saved(mapping, text))
        self._send("notices", [])
        self.show(mapping)
