"""Knows: the words of the section `chords`: every key, its type, its range and what it means.

Must never know: which lamps a name stands for, how chords are recognised, or how a shape is drawn.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import Field

from bridge.parts.chords import INVERSIONS, QUALITIES, known_qualities, parse_quality
from bridge.shell.files.check import SECTION, Entry, one_of_keys
from bridge.shell.files.compound import BETWEEN, TouchCurve
from bridge.shell.files.control_triggers import Heard
from bridge.shell.files.hints import SHAPE_HINTS
from bridge.shell.files.leaves import (
    Flag,
    Flaw,
    Leaf,
    LeafError,
    Number,
    Schema,
    Whole,
    Word,
    each,
    every,
    one_or_more,
)
from bridge.shell.files.name_leaves import Name, Names
from bridge.shell.files.nodes import Listing, Node, Scalar, describe
from bridge.shell.files.note_sets import NoteSet
from bridge.shell.files.report import quote
from bridge.values.mapping import Curve

LONGEST_STEP_MS = 600_000.0
KINDS = ("lamps", "levels", "draw", "chase", "texture")
"""What a shape can draw: one of these keys."""

WIDEST = 48
"""Semitones of an interval at most."""

_ROOTED = re.compile(r"[A-G][#b]?\s*(.*)")
"""A chord written with its root, as on a lead sheet."""


@dataclass(frozen=True)
class Quality(Leaf):
    """A chord: its quality by name or symbol, or intervals above the root, from 0."""

    def read(self, node: Node) -> tuple[int, ...]:
        """Semitones above the root, ascending, from 0."""
        if isinstance(node, Listing):
            return self._intervals(node)
        if not isinstance(node, Scalar) or node.value is None:
            raise LeafError(Flaw(node, f"is {describe(node)}", "give major, minor 7, or [0, 3, 7]"))
        found = _quality(node.raw)
        if found is None:
            what = f"unknown chord {quote(node.raw)}"
            raise LeafError(Flaw(node, what, self._right(node.raw), whole=True))
        return found

    @staticmethod
    def _right(text: str) -> str:
        rooted = _ROOTED.fullmatch(text.strip())
        if rooted and (rooted[1] == "" or _quality(rooted[1]) is not None):
            return f"a chord sounds on any root: say {rooted[1] or 'major'}"
        near = difflib.get_close_matches(text.casefold()[:60], known_qualities(), n=1)
        meant = f"did you mean {quote(near[0])}? " if near else ""
        return f"{meant}known: {', '.join(QUALITIES)}; or intervals like [0, 3, 7]"

    @staticmethod
    def _intervals(node: Listing) -> tuple[int, ...]:
        found = every(node, Whole(0, WIDEST).read)
        if 0 not in found:
            right = "count semitones up from the root, which is 0, like [0, 3, 7]"
            raise LeafError(Flaw(node, "has no root", right))
        if len({value % 12 for value in found}) < 2:
            raise LeafError(
                Flaw(node, "is one note only", "give a second that is no octave of it, like [0, 7]")
            )
        return tuple(sorted(set(found)))

    def schema(self) -> Schema:
        """A name, or a list of semitones."""
        names = {"type": ["string", "integer"], "examples": list(known_qualities())}
        return {
            "anyOf": [
                names,
                {
                    "type": "array",
                    "items": Whole(0, WIDEST).schema(),
                    "minItems": 2,
                    "contains": {"const": 0},
                },
            ]
        }


def _quality(text: str) -> tuple[int, ...] | None:
    try:
        return parse_quality(text)
    except KeyError:
        return None


@dataclass(frozen=True)
class Drawing(Leaf):
    """Rows of characters, from the top down: `.` or a blank dark, `*` full, a digit so many tenths.

    A list of texts, or one text of several lines.
    """

    def read(self, node: Node) -> tuple[Scalar, ...]:
        """The rows, each with its place."""
        if isinstance(node, Scalar) and "\n" in node.raw:
            # A block of text (|) begins on the line after its mark.
            lines = node.raw.rstrip("\n").split("\n")
            rows: list[Node] = [Scalar(row, row, node.line + i, 1) for i, row in enumerate(lines, 1)]
        else:
            rows = each(node, "a row")
        return tuple(every(rows, self._row))

    @staticmethod
    def _row(node: Node) -> Scalar:
        if not isinstance(node, Scalar) or node.value is None:
            raise LeafError(Flaw(node, f"is {describe(node)}", "give rows in quotes, like '.**.'"))
        if strange := {letter for letter in node.raw if letter not in " .*0123456789"}:
            what = f"has {quote(''.join(sorted(strange)))} in the row {quote(node.raw)}"
            raise LeafError(Flaw(node, what, "draw with . (dark), * (full) and 1 to 9 (tenths)"))
        return node

    def schema(self) -> Schema:
        """Rows."""
        # A row of digits alone is a number to an editor.
        return one_or_more({"type": ["string", "number"], "pattern": "^[ .*0-9\n]*$"})


class ShapeEntry(Heard):
    """A chord and what it draws: lamps, levels, a drawing or a chase."""

    model_config = one_of_keys(
        *KINDS,
        dependentRequired={"step_ms": ["chase"], "step_beats": ["chase"]},
        allOf=[{"not": {"required": ["step_ms", "step_beats"]}}],
    )
    stand_ins: ClassVar = {"chord": "major"}
    hints: ClassVar = SHAPE_HINTS

    chord: Annotated[tuple[int, ...], Quality()] = Field(
        description="a chord's name or symbol (major, minor 7 …), or semitones above its root, [0, 3, 7]"
    )
    lamps: Annotated[tuple[Scalar, ...] | None, Names()] = Field(
        None, description="lamps and groups it lights in full; this, levels, draw or chase"
    )
    levels: dict[str, Annotated[float, Number(0.0, 1.0)]] | None = Field(
        None, description="lamps and groups, each with a level 0 to 1"
    )
    draw: Annotated[tuple[Scalar, ...] | None, Drawing()] = Field(
        None,
        description="a drawing over a grid, a text a row (or a block of text, |) from the top down: . dark, "
        "* full, 1 to 9 tenths",
    )
    chase: Annotated[tuple[Scalar, ...] | None, Names()] = Field(
        None, description="lamps lit one after the other, round and round"
    )
    texture: Annotated[Scalar | None, Name()] = Field(
        None, description="a texture under textures that it brings in, in place of a shape"
    )
    over: Annotated[Scalar | None, Name(stars=True)] = Field(
        None, description="the grid it is drawn over, moves and turns on; the first grid unless given"
    )
    step_ms: Annotated[float | None, Number(10.0, LONGEST_STEP_MS)] = Field(
        None, description="milliseconds of each step of a chase; 125 unless given"
    )
    step_beats: Annotated[float | None, Number(0.01, 64.0)] = Field(
        None, description="beats of each step of a chase, in place of step_ms"
    )
    inversion: Annotated[str, Word("inversion", tuple(INVERSIONS))] = Field(
        "any", description="any (unless given), root: the root lies lowest, first … fourth"
    )
    exact: Annotated[bool, Flag()] = Field(False, description="true: no other note may be held")
    move: Annotated[str, Word("word for move:", ("root", "bass"))] = Field(
        "", description="root or bass: shifts the shape a column to the right for each semitone above C"
    )
    turn: Annotated[bool, Flag()] = Field(False, description="true: turns by a quarter for each inversion")
    then: Annotated[str, Word("word for then:", ("release", "stay", "next"))] = Field(
        "release",
        description="when the chord ends: release (unless given); stay, until the same chord on the same "
        "root again; next, until the next shape",
    )
    between: Annotated[tuple[float, float], BETWEEN] = Field(
        (0.0, 1.0),
        description="levels of the softest and the hardest strike, [low, high]; [0, 1] unless given",
    )
    curve: Annotated[Curve | None, TouchCurve()] = Field(
        None, description="from the highest velocity to level; the mapping's unless given"
    )
    feel: Annotated[Scalar | None, Name()] = Field(None, description="a name under feels")
    notes: Annotated[tuple[Scalar, ...] | None, NoteSet()] = Field(
        None, description="the keys that count; all unless given"
    )
    takes_keys: Annotated[bool, Flag()] = Field(
        False, description="true: the notes of the chord light nothing else"
    )
    name: Annotated[Scalar | None, Name()] = Field(None, description="what the page calls the shape")


class ChordsEntry(Entry):
    """What chords draw."""

    window_ms: Annotated[float, Number(0.0, 1000.0)] = Field(
        20.0,
        description="milliseconds for which the keys must be still before they are judged; 20 unless given",
    )
    shapes: list[ShapeEntry] | None = Field(
        None, description="chords and what they draw", json_schema_extra={SECTION: True}
    )
