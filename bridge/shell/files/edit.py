"""Knows: how a few words of a player's file are changed while every other letter of it stays.

Must never know: rigs, mappings, or why a word changes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from bridge.shell.files.nodes import Scalar, Table
from bridge.shell.files.report import Placed

_BREAKS = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
"""What the parser counts as the end of a line."""

BOM = "\ufeff"


class EditError(Exception):
    """The file is written in a way that cannot be changed word by word; says where."""


@dataclass(slots=True)
class Edits:
    """Changes to a text, gathered first and made together.

    Args:
        text: the file as it is, a byte order mark and its own line ends included.
    """

    text: str
    _starts: list[int] = field(init=False)
    _changes: dict[tuple[int, int], str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # The parser does not count a byte order mark.
        first = len(BOM) if self.text.startswith(BOM) else 0
        self._starts = [first, *(found.end() for found in _BREAKS.finditer(self.text))]

    def replace(self, word: Scalar, new: str) -> None:
        """Put another word in the place of one.

        Raises:
            EditError: it is not written there as such (an alias, a quoted word, a tag).
        """
        start = self._offset(word)
        self._change(start, self._end(word), new, word)

    def replace_pair(self, table: Table, key: str, new: str) -> None:
        """Put `new` in the place of a key and its value, which must be a single word.

        Raises:
            EditError: as `replace`.
        """
        value = table[key]
        if not isinstance(value, Scalar):
            raise EditError(f"line {value.line}: {key} is no single word")
        start = self._offset(table.keys_at[key])
        self._end(table.keys_at[key])
        self._change(start, self._end(value), new, value)

    def insert_pair(self, table: Table, pair: str) -> None:
        """Put `key: value` before the first key of a table, in the style in which that is written."""
        first = next(iter(table.keys_at.values()))
        start = self._offset(first)
        self._end(first)
        at = self._offset(table)
        flow = self.text[at : at + 1] == "{"
        between = ", " if flow else self._line_end() + " " * (first.column - 1)
        self._change(start, start, pair + between, first)

    def insert(self, place: Placed, new: str) -> None:
        """Put `new` at a place."""
        at = self._offset(place)
        self._change(at, at, new, place)

    def done(self) -> str:
        """The text with all changes made."""
        out = self.text
        for (start, end), new in sorted(self._changes.items(), reverse=True):
            out = out[:start] + new + out[end:]
        return out

    def letter(self, place: Placed) -> str:
        """The letter at a place; empty behind the end."""
        at = self._offset(place)
        return self.text[at : at + 1]

    def _line_end(self) -> str:
        found = re.search("\r\n|\r|\n", self.text)
        return found[0] if found else "\n"

    def _offset(self, place: Placed) -> int:
        if not 1 <= place.line <= len(self._starts):
            raise EditError(f"line {place.line}: this place is not in the file")
        return self._starts[place.line - 1] + place.column - 1

    def _end(self, word: Scalar) -> int:
        start = self._offset(word)
        end = start + len(word.raw)
        after = self.text[end : end + 1]
        if self.text[start:end] != word.raw or not (after == "" or after in " \t\r\n,:]}#"):
            raise EditError(f"line {word.line}: {word.raw} is not written plainly here")
        return end

    def _change(self, start: int, end: int, new: str, place: Placed) -> None:
        if self._changes.setdefault((start, end), new) != new:
            # One word that stands for several, by an alias, would have to become two.
            raise EditError(f"line {place.line}: one word stands here for several that now differ")
