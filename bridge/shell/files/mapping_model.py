"""Knows: the words of a mapping file but for its controls: every key, its type, its range and what it means.

Must never know: which lamps a name stands for, or how rules are built.

A new section is a model here or in a file of its own, a field of MappingFile, and a reader in `mapping.py`.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import ConfigDict, Discriminator, Field, Tag

from bridge.shell.files.check import Entry, if_then
from bridge.shell.files.chord_model import ChordsEntry
from bridge.shell.files.compound import BETWEEN, Span, TouchCurve
from bridge.shell.files.control_model import ControlEntry
from bridge.shell.files.control_triggers import Heard
from bridge.shell.files.hints import FILE_HINTS, KEY_HINTS, LATER_SECTIONS
from bridge.shell.files.leaves import Flag, Number, Text, Whole, Word
from bridge.shell.files.name_leaves import Name, Names
from bridge.shell.files.nodes import Scalar, Table
from bridge.shell.files.note_sets import MiddleC, NoteSet
from bridge.shell.files.sound_model import SoundSection, TimeSection
from bridge.shell.files.texture_model import TextureEntry, TextureKeyEntry
from bridge.values.mapping import Curve

LONGEST_MS = 3_600_000.0
"""An hour."""

Milliseconds = Annotated[float, Number(0.0, LONGEST_MS)]
Level = Annotated[float, Number(0.0, 1.0)]

SPREADS = ("each", "wrap", "across", "together")
MODES = ("hold", "latch", "shot")
MERGES = ("highest", "latest")


class FeelEntry(Entry):
    """An envelope."""

    attack_ms: Milliseconds = Field(0.0, description="milliseconds up to the level; 0 unless given")
    decay_ms: Milliseconds = Field(0.0, description="milliseconds from there to sustain; 0 unless given")
    sustain: Level = Field(1.0, description="share of the level that holds, 0 to 1; 1 unless given")
    release_ms: Milliseconds = Field(0.0, description="milliseconds down to dark; 0 unless given")


class KeyEntry(Heard):
    """What notes do to lamps."""

    model_config = ConfigDict(
        json_schema_extra={
            "allOf": [
                if_then({"one_of": {}}, {"mode": {"const": "latch"}}, ["mode"]),
                if_then({"repeat": {"exclusiveMinimum": 0}}, {"mode": {"const": "hold"}}),
            ]
        }
    )
    stand_ins: ClassVar = {"notes": "0", "lamps": "all"}
    hints: ClassVar = KEY_HINTS

    notes: Annotated[tuple[Scalar, ...], NoteSet()] = Field(
        description="0 to 127, a name like C4, a range like C3..B4, white or black C3..B4, or a list of these"
    )
    lamps: Annotated[tuple[Scalar, ...], Names()] = Field(description="lamps and groups, one name or a list")
    spread: Annotated[str | None, Word("spread", SPREADS)] = Field(
        None,
        description="each: first note, first lamp; wrap: the same, round and round; across: lamps from left "
        "to right; together: every note plays all the lamps; each unless given for several notes and "
        "several lamps, else together",
    )
    between: Annotated[tuple[float, float], BETWEEN] = Field(
        (0.0, 1.0),
        description="levels of the softest and the hardest strike, [low, high]; [0, 1] unless given",
    )
    curve: Annotated[Curve | None, TouchCurve()] = Field(
        None, description="from velocity to level: a curve's name, or [velocity, level] points"
    )
    feel: Annotated[Scalar | None, Name()] = Field(None, description="a name under feels")
    mode: Annotated[str, Word("mode", MODES)] = Field(
        "hold",
        description="hold: while the key or the sustain pedal is down (unless given); latch: press on, press "
        "off; shot: attack and decay run out by themselves",
    )
    merge: Annotated[str | None, Word("merge", MERGES)] = Field(
        None, description="two rules on one lamp: the highest level (unless given), or the latest strike"
    )
    pedal: Annotated[str, Word("pedal", ("follow", "ignore"))] = Field(
        "follow", description="whether the sustain pedal holds these keys; follow unless given"
    )
    velocity: Annotated[tuple[int, int], Span(1, 127)] = Field(
        (1, 127), description="strikes it hears, softest..hardest, like 1..60; all unless given"
    )
    min_velocity: Annotated[int, Whole(1, 127)] = Field(
        1, description="strikes softer than this are not heard; 1 unless given"
    )
    transpose: Annotated[int, Whole(-127, 127)] = Field(
        0,
        description="semitones by which a key counts as higher than it is, 12 for an octave; 0 unless given",
    )
    ignore_repeat_ms: Milliseconds = Field(
        0.0,
        description="milliseconds after a strike in which the same key is not heard again; 0 unless given",
    )
    min_on_ms: Milliseconds = Field(
        0.0, description="milliseconds that a strike lights at least, however short; 0 unless given"
    )
    one_of: Annotated[Scalar | None, Name()] = Field(
        None, description="mode latch: of all latches with the same word here one is on at a time"
    )
    choke: Annotated[Scalar | None, Name()] = Field(
        None, description="a strike ends what other keys with the same word here are sounding"
    )
    solo: Annotated[bool, Flag()] = Field(
        False, description="true: while one of these keys sounds, the light of other keys steps back"
    )
    repeat: Annotated[float, Number(0.0, 64.0)] = Field(
        0.0, description="mode hold: beats from strike to strike while the key is held; 0, once, unless given"
    )
    aftertouch: Annotated[float, Number(0.0, 1.0)] = Field(
        0.0, description="how far full pressure lifts a held note towards full, 0 to 1; 0 unless given"
    )
    release_velocity: Annotated[bool, Flag()] = Field(
        False, description="true: a quick lift releases quicker, a slow one slower"
    )


def rule_of(node: object) -> str:
    """The name of the model of a rule under `keys`."""
    return "TextureKeyEntry" if isinstance(node, Table) and "texture" in node else "KeyEntry"


KeyRuleEntry = Annotated[
    Annotated[KeyEntry, Tag("KeyEntry")] | Annotated[TextureKeyEntry, Tag("TextureKeyEntry")],
    Discriminator(rule_of),
]


class MappingFile(Entry):
    """A mapping: what plays the lamps of a rig."""

    hints: ClassVar = FILE_HINTS
    later: ClassVar = LATER_SECTIONS

    mapping: Annotated[str, Text("the mapping's name")] = Field(
        "", description="the mapping's name, for people"
    )
    middle_c: Annotated[str, MiddleC()] = Field(
        "C4", description="what note 60 is called in this file; C4 unless given"
    )
    curve: Annotated[Curve, TouchCurve()] = Field(
        "linear", description="the curve of every rule that names none; linear unless given"
    )
    feel: Annotated[Scalar | None, Name()] = Field(
        None, description="the feel of every rule that names none; at once on and off unless given"
    )
    merge: Annotated[str, Word("merge", MERGES)] = Field(
        "highest", description="the merge of every rule that names none; highest unless given"
    )
    inputs: dict[str, Annotated[str, Text("part of a port's name")]] | None = Field(
        None, description="names for MIDI ports: a part of each port's name, in any case"
    )
    feels: dict[str, FeelEntry] | None = Field(None, description="envelopes, by name")
    keys: list[KeyRuleEntry] | None = Field(None, description="what notes do to lamps, or to a texture")
    textures: dict[str, TextureEntry] | None = Field(None, description="pictures in motion, by name")
    looks: dict[str, dict[str, Level]] | None = Field(
        None, description="standing pictures, by name: the level of lamps and groups; a later one wins"
    )
    controls: list[ControlEntry] | None = Field(None, description="what controllers and notes set or do")
    chords: ChordsEntry | None = Field(None, description="what chords draw")
    sound: SoundSection | None = Field(None, description="how music is heard, and what it sets off")
    time: TimeSection | None = Field(None, description="what rules the beat")
    tempo: Annotated[float, Number(1.0, 999.0)] = Field(
        120.0, description="beats a minute until something sets another; 120 unless given"
    )
    thru: Annotated[str, Text("part of a port's name")] = Field(
        "", description="part of the name of a MIDI output to which everything that arrives is sent on"
    )
