"""Knows: how notes are written in a mapping: numbers, names, ranges, drums, and lists of them.

Must never know: what the notes do.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass

from bridge.parts.notes import HIGHEST, NAME, is_white, note_number
from bridge.parts.percussion import known_percussion, percussion_note
from bridge.shell.files.leaves import Flaw, Leaf, LeafError, Schema, Text, each, every, one_or_more
from bridge.shell.files.nodes import Node, Scalar, describe
from bridge.shell.files.report import Report, quote

RIGHT = (
    f"give 0 to {HIGHEST}, a name like C4, F#3 or Bb2, a range like C3..B4, white C3..B4, "
    "or a drum like Side Stick"
)

_WRITTEN = re.compile(r"(?:(white|black)\s+)?(.+?)(?:\s*\.\.\s*(.+))?", re.DOTALL)
_DIGITS = re.compile(r"[0-9]{1,4}", re.ASCII)
_NOTE = f"({NAME}|[0-9]{{1,4}})"
_KICK = "Bass Drum 1"
"""What players call a kick; the standard does not have the word."""


@dataclass(frozen=True)
class NoteSet(Leaf):
    """Notes as written, kept with their places: what their names mean depends on the file's middle C."""

    def read(self, node: Node) -> tuple[Scalar, ...]:
        """The entries of the list, or the only one."""
        return tuple(every(each(node, "a note"), self._one))

    def _one(self, node: Node) -> Scalar:
        if not isinstance(node, Scalar) or node.value is None or isinstance(node.value, bool):
            raise LeafError(Flaw(node, f"is {describe(node)}", RIGHT))
        return node

    def schema(self) -> Schema:
        """A number, a name, a range, or a list of them."""
        number = {"type": "integer", "minimum": 0, "maximum": HIGHEST}
        name = {"type": "string", "pattern": rf"^\s*((white|black)\s+)?{_NOTE}(\s*\.\.\s*{_NOTE})?\s*$"}
        # Editors complete the names as they stand in the standard; reading is kinder about case and hyphens.
        drum = {"type": "string", "examples": known_percussion(), "pattern": "^[A-Za-z][A-Za-z0-9 -]{3,}$"}
        return one_or_more({"anyOf": [number, name, drum]})


@dataclass(frozen=True)
class MiddleC(Leaf):
    """What note 60 is called: a C."""

    def read(self, node: Node) -> str:
        """The name."""
        name = Text("the name of a C").read(node)
        try:
            note_number(name, name)
        except ValueError as error:
            raise LeafError(Flaw(node, f"{error}", "give C4 or C3", whole=True)) from None
        return name

    def schema(self) -> Schema:
        """The name of a C."""
        return {"type": "string", "pattern": "^[Cc]-?[0-9]{1,2}$"}


def notes_of(written: Iterable[Scalar], middle_c: str, report: Report) -> tuple[int, ...]:
    """Note numbers 0..127 in the order of the file, each where it is mentioned first.

    What is no note is reported.
    """
    out: dict[int, None] = {}
    for scalar in written:
        try:
            out.update(dict.fromkeys(_notes(scalar, middle_c)))
        except ValueError as error:
            report.error(scalar, str(error), f"{_meant(scalar.raw)}{RIGHT}")
    return tuple(out)


def _meant(written: str) -> str:
    """The drums that were probably meant; empty where the text is like none."""
    plain = written.casefold().strip()
    if len(plain) < 3 or not plain[0].isalpha() or ".." in plain or any(map(str.isdigit, plain)):
        return ""
    drums = {drum.casefold(): drum for drum in known_percussion()}
    near = [drum for word, drum in drums.items() if plain in word]
    near = near or [drums[word] for word in difflib.get_close_matches(plain[:60], drums, n=1, cutoff=0.65)]
    shared = [[drum for name, drum in drums.items() if word in name.split()] for word in plain.split()]
    near = near or min(filter(None, shared), key=len, default=[])
    near = near or ([_KICK] if "kick" in plain else [])
    return f"did you mean {' or '.join(near[:4])}? " if near else ""


def _notes(scalar: Scalar, middle_c: str) -> Iterable[int]:
    """The notes of one entry.

    Raises:
        ValueError: there are none; says why.
    """
    if not isinstance(scalar.value, int | str):
        raise ValueError(f"{describe(scalar)} is not a note")
    if isinstance(scalar.value, int):
        return [_in_range(scalar.value)]
    with suppress(KeyError):
        return [percussion_note(scalar.raw)]
    # One space for many: over a thousand in a row the pattern would try each in each of its places.
    found = _WRITTEN.fullmatch(" ".join(scalar.raw.split()))
    if not found:
        raise ValueError(f"{describe(scalar)} is not a note")
    keys, first, last = found.groups()
    low = _note(first, middle_c)
    high = low if last is None else _note(last, middle_c)
    if low > high:
        raise ValueError(f"the range {quote(scalar.raw)} runs down")
    notes = [note for note in range(low, high + 1) if keys is None or is_white(note) == (keys == "white")]
    if not notes:
        raise ValueError(f"{quote(scalar.raw)} has no {keys} key")
    return notes


def _note(text: str, middle_c: str) -> int:
    if _DIGITS.fullmatch(text):
        return _in_range(int(text))
    try:
        return note_number(text, middle_c)
    except ValueError as error:
        if "would be" in str(error):
            raise
        raise ValueError(f"{quote(text)} is not a note") from None


def _in_range(number: int) -> int:
    if not 0 <= number <= HIGHEST:
        raise ValueError(f"note {number} is out of range")
    return number
