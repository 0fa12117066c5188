"""Knows: how mistakes are collected, worded alike, and shown with what was probably meant.

Must never know: what any file is about.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from typing import Protocol

from bridge.values.errors import FileError, Problem

GUESSES = 50
"""Near-misses looked for in one file; comparing words is slow, and more than that are no slips."""

MOST = 1000
"""Mistakes told of one file; the rest is counted."""

COMPARED = 4000
"""Known words a near-miss is compared with."""


NEAR = 0.65
"""How alike a near-miss must be, 0..1: `kyes` is near `keys`, `clock` is not near `looks`."""


class Placed(Protocol):
    """Anything with a 1-based line and column; line 0 is the file as a whole."""

    @property
    def line(self) -> int: ...

    @property
    def column(self) -> int: ...


class Place:
    """A bare place in a file."""

    __slots__ = ("column", "line")

    def __init__(self, line: int = 0, column: int = 0) -> None:
        self.line = line
        self.column = column


WHOLE_FILE = Place()


class Report:
    """Everything found wrong or odd in one file so far.

    Args:
        file: the file's name as the player gave it.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self._problems: dict[bool, dict[Problem, None]] = {False: {}, True: {}}
        self._untold = 0
        self._guesses = 0

    def error(self, place: Placed, what: str, right: str = "") -> None:
        """A mistake: `what` is wrong, and what would be `right`. The same one twice counts once."""
        self._add(Problem(place.line, place.column, what, right, self.file))

    def warn(self, place: Placed, what: str, right: str = "") -> None:
        """Something odd that can be played."""
        self._add(Problem(place.line, place.column, what, right, self.file, warning=True))

    def _add(self, problem: Problem) -> None:
        known = self._problems[problem.warning]
        if problem not in known and len(known) >= MOST:
            self._untold += 1
        else:
            known[problem] = None

    def unknown(self, place: Placed, kind: str, word: str, known: Iterable[str]) -> None:
        """A word that is none of the known ones."""
        right = self.near(word, list(known)) or "none is defined in this file"
        self.error(place, f"unknown {kind} {quote(word)}", right)

    def near(self, word: str, known: Sequence[str], label: str = "known") -> str:
        """What was probably meant, and what there is: `did you mean 'soft'? known: hard, linear, soft`."""
        listing = f"{label}: {listed(known)}" if known else ""
        return " ".join(part for part in (self.meant(word, known), listing) if part)

    def meant(self, word: str, known: Sequence[str]) -> str:
        """What was probably meant: `did you mean 'soft'?`, or nothing where no known word is near."""
        self._guesses += 1
        if self._guesses > GUESSES:
            return ""
        lower = {name.casefold(): name for name in reversed(known[:COMPARED])}
        close = difflib.get_close_matches(word.casefold()[:100], lower, n=1, cutoff=NEAR)
        return f"did you mean {quote(lower[close[0]])}?" if close else ""

    @property
    def failed(self) -> bool:
        """True once there is a mistake."""
        return bool(self._problems[False])

    @property
    def full(self) -> bool:
        """True once no more mistakes are told: hints need not be looked for."""
        return len(self._problems[False]) >= MOST

    def finish(self) -> list[Problem]:
        """The warnings in the order of the file.

        Raises:
            FileError: there were mistakes; holds them all, in the order of the file.
        """
        if self.failed:
            mistakes = sorted(self._problems[False])
            if self._untold:
                mistakes.append(Problem(0, 0, f"{self._untold} mistakes more", "mend these first", self.file))
            raise FileError(mistakes)
        return sorted(self._problems[True])


def quote(text: str, limit: int = 40) -> str:
    """A player's words as shown in a message: on one line, shortened, in quotes."""
    flat = "".join(letter if letter.isprintable() else " " for letter in text[: limit + 1])
    return f"'{flat}'" if len(flat) <= limit else f"'{flat[: limit - 1]}…'"


def listed(names: Sequence[str], limit: int = 24) -> str:
    """Names with commas, the rest counted: `a, b, c and 12 more`."""
    shown = ", ".join(name if len(name) <= 60 else name[:59] + "…" for name in names[:limit])
    return shown if len(names) <= limit else f"{shown} and {len(names) - limit} more"
