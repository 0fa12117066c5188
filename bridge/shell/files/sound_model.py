"""Knows: the words of the sections `sound` and `time`: every key, its type, its range and what it means.

Must never know: how music is heard, or what its rules do in the engine.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import Field

from bridge.shell.files.check import SECTION, Entry, one_of_keys
from bridge.shell.files.compound import BETWEEN, TouchCurve
from bridge.shell.files.leaves import (
    Flaw,
    Leaf,
    LeafError,
    Number,
    Schema,
    Text,
    Whole,
    Word,
    each,
    every,
    one_or_more,
)
from bridge.shell.files.name_leaves import Name, Names
from bridge.shell.files.nodes import Node, Scalar, describe
from bridge.shell.files.note_sets import NoteSet
from bridge.values.mapping import Curve
from bridge.values.sound import TEMPO_SOURCES

HEARD = ("band", "onset")
"""What a rule of `sound` listens to: one of these keys."""

LIT = ("lamps", "chase", "texture", "plays")
"""What it sets off: one of these keys."""

MOST_BANDS = 24

_HZ = Number(20.0, 20_000.0)


@dataclass(frozen=True)
class Crossovers(Leaf):
    """Frequencies in hertz, rising."""

    def read(self, node: Node) -> tuple[float, ...]:
        """The frequencies."""
        found = tuple(every(each(node, "a frequency"), _HZ.read))
        if len(found) >= MOST_BANDS:
            raise LeafError(Flaw(node, f"has {len(found)} frequencies", f"give at most {MOST_BANDS - 1}"))
        for low, high in itertools.pairwise(found):
            if high <= low:
                raise LeafError(Flaw(node, f"has {high:g} after {low:g}", "let them rise, like [250, 2500]"))
        return found

    def schema(self) -> Schema:
        """A list of numbers."""
        return one_or_more(_HZ.schema())


@dataclass(frozen=True)
class Order(Leaf):
    """Words of TEMPO_SOURCES, each once."""

    def read(self, node: Node) -> tuple[str, ...]:
        """The words."""
        found = tuple(every(each(node, "a source"), Word("source", TEMPO_SOURCES).read))
        if len(set(found)) < len(found):
            raise LeafError(Flaw(node, "names one twice", f"give each of {', '.join(TEMPO_SOURCES)} once"))
        return found

    def schema(self) -> Schema:
        """A list of words."""
        return one_or_more(Word("source", TEMPO_SOURCES).schema())


@dataclass(frozen=True)
class Gain(Leaf):
    """auto or off."""

    def read(self, node: Node) -> bool:
        """True for auto."""
        if not isinstance(node, Scalar) or node.raw not in ("auto", "off"):
            raise LeafError(Flaw(node, f"is {describe(node)}", "give auto or off"))
        return node.raw == "auto"

    def schema(self) -> Schema:
        """The words."""
        return {"enum": ["auto", "off"]}


class SoundEntry(Entry):
    """What a band of the music, or its strokes, set off."""

    model_config = one_of_keys(*HEARD, anyOf=[{"required": [key]} for key in LIT])

    band: Annotated[Scalar | None, Name()] = Field(
        None, description="a band whose level lights lamps; this or onset"
    )
    onset: Annotated[Scalar | None, Name()] = Field(
        None, description="a band each of whose strokes sets something off; this or band"
    )
    lamps: Annotated[tuple[Scalar, ...] | None, Names()] = Field(
        None, description="lamps and groups it lights, one name or a list"
    )
    shown: Annotated[str, Word("word for as:", ("brightness", "bar"))] = Field(
        "brightness",
        alias="as",
        description="with band: brightness of all its lamps (unless given), or a bar that rises from the "
        "lowest lamps to the highest (from left to right where all hang alike)",
    )
    chase: Annotated[tuple[Scalar, ...] | None, Names()] = Field(
        None, description="with onset: each stroke lights the next of these lamps, round and round"
    )
    texture: Annotated[Scalar | None, Name()] = Field(
        None, description="with onset: each stroke starts this texture, a name under textures"
    )
    plays: Annotated[tuple[Scalar, ...] | None, NoteSet()] = Field(
        None, description="with onset: each stroke plays these notes, for rules under keys to hear"
    )
    channel: Annotated[int, Whole(1, 16)] = Field(
        10, description="with plays: the MIDI channel it plays on, 1 to 16; 10 unless given"
    )
    curve: Annotated[Curve | None, TouchCurve()] = Field(
        None, description="from loudness or strength, as 0 to 127, to level; the mapping's unless given"
    )
    between: Annotated[tuple[float, float], BETWEEN] = Field(
        (0.0, 1.0), description="levels of the faintest and the loudest, [low, high]; [0, 1] unless given"
    )
    attack_ms: Annotated[float, Number(0.0, 60_000.0)] = Field(
        0.0, description="with onset: milliseconds up to the level; 0 unless given"
    )
    decay_ms: Annotated[float, Number(0.0, 60_000.0)] = Field(
        250.0, description="with onset: milliseconds from there to dark; 250 unless given"
    )
    least: Annotated[float, Number(0.0, 1.0)] = Field(
        0.0, description="with onset: strokes weaker than this are not heard, 0 to 1; 0 unless given"
    )


class SoundSection(Entry):
    """How music is heard, and what it sets off."""

    hints: ClassVar = {
        "lamps": "write it in an entry under rules:",
        "gate": "say gate_db: and decibels below full scale, like -60",
        "sensitivity": "gain: auto finds it; ceiling_db says how far it may go",
    }

    crossovers: Annotated[tuple[float, ...], Crossovers()] = Field(
        (250.0, 2500.0), description="hertz at which bands part, rising; [250, 2500] unless given"
    )
    bands: Annotated[tuple[Scalar, ...] | None, Names()] = Field(
        None,
        description="names of the bands from the lowest up, one more than crossovers; bass, middle and "
        "treble unless given, band 1, band 2 … where there are not three",
    )
    attack_ms: Annotated[float, Number(0.0, 10_000.0)] = Field(
        5.0, description="milliseconds in which a level goes 63 % of its way up; 5 unless given"
    )
    release_ms: Annotated[float, Number(0.0, 10_000.0)] = Field(
        150.0, description="milliseconds in which a level goes 63 % of its way down; 150 unless given"
    )
    gain: Annotated[bool, Gain()] = Field(
        True,
        description="auto (unless given): each band is measured against its own loudest of late; off: "
        "against a full sine",
    )
    ceiling_db: Annotated[float, Number(0.0, 80.0)] = Field(
        40.0, description="decibels that gain: auto adds at most; 40 unless given"
    )
    gate_db: Annotated[float, Number(-120.0, 0.0)] = Field(
        -60.0, description="decibels below full scale under which a band is dark; -60 unless given"
    )
    rules: list[SoundEntry] | None = Field(
        None, description="what bands and their strokes set off", json_schema_extra={SECTION: True}
    )


class TimeSection(Entry):
    """What rules the beat."""

    hints: ClassVar = {
        "tempo": "say tempo: at the top of the mapping",
        "tap": "say {notes: …, does: tap} under controls:",
    }

    order: Annotated[tuple[str, ...], Order()] = Field(
        TEMPO_SOURCES,
        description="what can rule the beat: clock (a MIDI clock), tap (does: tap), sound (the music that is "
        "heard); the first that is there rules; [clock, tap, sound] unless given",
    )
    clock_from: Annotated[Scalar | None, Name()] = Field(
        None, description="a name under inputs: the only port whose MIDI clock counts; any unless given"
    )
    clock_to: Annotated[str, Text("part of a port's name")] = Field(
        "", description="part of the name of a MIDI output to which our clock is sent; none unless given"
    )
