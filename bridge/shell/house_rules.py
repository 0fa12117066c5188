"""Knows: how what mapping files say comes into force: saved by hand, or taught from the page.

Must never know: how it is watched or read; who plays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bridge.shell.files import read_mapping
from bridge.shell.known import Filed, Files
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
    of: int = 0

    def __call__(self, stamp: float) -> NewMapping:
        """The event; whether it changes anything is for `known.Renewing` to say."""
        return NewMapping(stamp, Filed(self.mapping, self.of), text=self.text)


class Rules:
    """What the files say.

    Args:
        files: the mapping files and what each said as the show began; the page teaches the first.
        rig: what they are read against.
        send: takes ("event", Saved) and ("notices", lines) to the show.

    Attributes:
        mappings: what each file says now.
        in_force: the number of the file whose mapping is in force, -1 for none of them.
        show: told of a mapping that came into force by its file.
    """

    def __init__(self, files: Files, rig: Rig, send: Callable[[str, object], None]) -> None:
        self._rig, self._send = rig, send
        self._paths = [path for path, _ in files]
        self.mappings = [mapping for _, mapping in files]
        self._watches = [MappingWatch(path, rig) for path in self._paths]
        self._taught = ""
        self._wrong: dict[int, list[str]] = {}
        self.in_force = 0
        self.show: Callable[[Mapping], None] = lambda _mapping: None

    def taught(self, mapping: Mapping, text: str) -> None:
        """The page has written the file: in force at once, and no news when the file is next looked at."""
        self._taught = text
        self._say(0, mapping, text)
        if self.in_force > 0:
            self._send("notices", [f"{self._paths[0]} was taught; it is not in force now"])

    def look(self) -> None:
        """See whether a file was saved."""
        for number, watch in enumerate(self._watches):
            found = watch.look()
            if isinstance(found, tuple):
                if number or found[1] != self._taught:
                    self._put(number, *found)
                if not number:
                    self._taught = ""
            elif found:
                self._mistaken(number, found)

    def catch_up(self) -> None:
        """Call once: what was saved since the show began counts, though a house may have died since."""
        for number, path in enumerate(self._paths):
            try:
                mapping, _ = read_mapping(path, self._rig)
                text = path.read_text(encoding="utf-8-sig")
            except FileError as error:
                if path.exists():
                    self._mistaken(number, [str(problem) for problem in error.problems])
                continue
            except OSError:
                continue
            if not same_mapping(self.mappings[number], mapping):
                self._put(number, mapping, text)

    def _mistaken(self, number: int, lines: list[str]) -> None:
        self._wrong[number] = [*lines, STILL_BEFORE]
        self._send("notices", self._notices())

    def _put(self, number: int, mapping: Mapping, text: str) -> None:
        self._say(number, mapping, text)
        if number == self.in_force:
            self.show(mapping)

    def _say(self, number: int, mapping: Mapping, text: str) -> None:
        self.mappings[number] = mapping
        self._wrong.pop(number, None)
        self._send("event", Saved(mapping, text, number))
        self._send("notices", self._notices())

    def _notices(self) -> list[str]:
        return [line for number in sorted(self._wrong) for line in self._wrong[number]]
