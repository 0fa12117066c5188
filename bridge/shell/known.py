"""Knows: the mappings that may come into force in a show, each as its file says now.

Must never know: how files are read or watched; what a mapping says.

A file that is saved changes the show only while its mapping is in force; otherwise it waits for its turn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.shell.feeds import Feed
from bridge.values.events import Event, NewMapping
from bridge.values.mapping import Mapping

Files = Sequence[tuple[Path, Mapping]]
"""Mapping files and what each said when it was read; the first is the one the show begins with."""


@dataclass(frozen=True, slots=True)
class Filed:
    """A mapping that was saved to file number `of` while the show went on; as the mapping of an event."""

    mapping: Mapping
    of: int


class Known:
    """The mappings by the numbers of their files; two mappings of one file are one.

    Args:
        files: as the show begins; a file may be named more than once.
    """

    def __init__(self, files: Files) -> None:
        self.paths = tuple(dict.fromkeys(path for path, _ in files))
        self._now: list[Mapping] = []
        # All there ever were, so that none is taken for another that got its place in memory.
        self._kept: list[Mapping] = []
        self._numbers: dict[int, int] = {}
        self._texts: dict[int, str] = {}
        for path, mapping in files:
            number = self.paths.index(path)
            if number == len(self._now):
                self._now.append(mapping)
            self._remember(number, mapping)

    def _remember(self, number: int, mapping: Mapping) -> None:
        self._kept.append(mapping)
        self._numbers[id(mapping)] = number

    @property
    def files(self) -> tuple[tuple[Path, Mapping], ...]:
        """Each file once, with what it said last."""
        return tuple(zip(self.paths, self._now, strict=True))

    def number(self, mapping: object) -> int:
        """The number of a mapping's file, -1 for one of no file here."""
        return self._numbers.get(id(mapping), -1)

    def save(self, number: int, mapping: Mapping, text: str) -> None:
        """File `number` says something else now."""
        self._now[number] = mapping
        self._texts[number] = text
        self._remember(number, mapping)

    def renewed(self, event: NewMapping) -> NewMapping:
        """The same change, to what the file says now."""
        number = self.number(event.mapping)
        if number < 0 or number not in self._texts:
            return event
        return replace(event, mapping=self._now[number], text=self._texts[number])


class Renewing:
    """A feed whose mappings are as their files say now; a file that is saved counts where it is in force.

    Args:
        in_force: the mapping that the engine plays.
    """

    def __init__(self, feed: Feed, known: Known, in_force: Callable[[], object]) -> None:
        self._feed, self._known, self._in_force = feed, known, in_force

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        events = self._feed.take(until)
        if not any(isinstance(event, NewMapping) for event in events):
            return events
        out: list[Event] = []
        for event in events:
            if not isinstance(event, NewMapping):
                out.append(event)
            elif not isinstance(event.mapping, Filed):
                out.append(self._known.renewed(event))
            else:
                saved = event.mapping
                plays = self._known.number(self._in_force()) == saved.of
                self._known.save(saved.of, saved.mapping, event.text)
                if plays:
                    out.append(replace(event, mapping=saved.mapping))
        return out
