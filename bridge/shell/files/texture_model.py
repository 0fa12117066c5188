"""Knows: the words of the section `textures`, and of keys that play one: every key, its range, its meaning.

Must never know: which lamps a name stands for, what a texture shows, how pictures are decoded.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, ClassVar, NamedTuple

from pydantic import Field

from bridge.parts.textures import PROFILES, TEXTURES
from bridge.shell.files.check import Entry, one_of_keys
from bridge.shell.files.compound import AT, BETWEEN, Colour, Span, TouchCurve
from bridge.shell.files.control_triggers import Heard
from bridge.shell.files.leaves import (
    LEAST,
    Flag,
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
from bridge.shell.files.name_leaves import Name, Names, unfit
from bridge.shell.files.nodes import Listing, Node, Scalar, describe
from bridge.shell.files.note_sets import NoteSet
from bridge.shell.files.report import quote
from bridge.shell.pictures.layout import AREAS, FITS
from bridge.values.mapping import Curve
from bridge.values.texture import MIXES, TEXTURE_MODES

SOURCES = ("kind", "picture", "steps")
"""What a texture shows: one of these keys."""

MADE = ("scale", "amount", "width", "centre", "seed", "profile", "count", "angle", "colour")
SHOWN = ("fit", "radius", "area", "blend")
"""Keys that only go with `kind`, and only with `picture`."""

DARK = "dark"
"""The step in which nothing is seen."""

LONGEST_MS = 3_600_000.0
MOST_BEATS = 4096.0

SPEEDS = {
    "fast": "say hz: cycles a second, or beats: beats a cycle",
    "speed": "say hz: cycles a second, or beats: beats a cycle",
    "seconds": "say hz: cycles a second; 0.5 for two seconds",
    "file": "say picture: and the file's name",
    "film": "say picture: and the film's name",
    "image": "say picture: and the file's name",
    "sequence": "say steps: and a list of them",
    "keys": "a rule under keys: plays it, with texture: and its name",
    "feel": "rules under keys: have a feel; here say fade_ms",
}


class WrittenStep(NamedTuple):
    """A step as it stands in the file."""

    name: Scalar
    beats: float
    fade: float


# A name ends in what is no blank: else many blanks in a row would be tried each in each of their places.
_STEP = re.compile(r"(\S|\S.*?\S)\s+([0-9.]+)(?:\s+fade\s+([0-9.]+))?")
STEP_RIGHT = "write a texture and its beats, like 'ripple 16' or 'ripple 16 fade 4'"


@dataclass(frozen=True)
class StepList(Leaf):
    """Steps, a text each, or several in one text with commas: `name beats` or `name beats fade beats`."""

    def read(self, node: Node) -> tuple[WrittenStep, ...]:
        """The steps."""
        written: list[Node] = []
        for part in each(node, "a step"):
            if isinstance(part, Scalar) and part.value is not None:
                pieces = re.split(r"[,\n]", part.raw)
                texts = [piece.strip() for piece in pieces if piece.strip()] or [part.raw]
                written += [Scalar(text, text, part.line, part.column) for text in texts]
            else:
                written.append(part)
        return tuple(every(written, self._step))

    @staticmethod
    def _step(node: Node) -> WrittenStep:
        if not isinstance(node, Scalar) or node.value is None:
            raise LeafError(Flaw(node, f"has {describe(node)} for a step", STEP_RIGHT))
        found = _STEP.fullmatch(node.raw)
        if found is None:
            raise LeafError(Flaw(node, f"has {quote(node.raw)} for a step", STEP_RIGHT))
        name, beats, fade = found[1], _number(found[2]), _number(found[3] or "0")
        if reason := unfit(name):
            raise LeafError(Flaw(node, *reason, whole=True))
        if beats is None or not LEAST <= beats <= MOST_BEATS:
            right = f"give beats over 0, at most {MOST_BEATS:g}"
            raise LeafError(Flaw(node, f"has {quote(node.raw)}, which lasts no number of beats", right))
        if fade is None or fade > beats:
            raise LeafError(
                Flaw(node, f"has {quote(node.raw)}, which fades for longer than it lasts", STEP_RIGHT)
            )
        return WrittenStep(Scalar(name, name, node.line, node.column), beats, fade)

    def schema(self) -> Schema:
        """A text, or a list of them."""
        return one_or_more({"type": "string", "minLength": 3})


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


@dataclass(frozen=True)
class Centre(Leaf):
    """The middle of rings: a place in metres, `key`, or a lamp or group."""

    def read(self, node: Node) -> tuple[float, float] | Scalar:
        """Two numbers, or the name."""
        if isinstance(node, Listing):
            place: tuple[float, float] = AT.read(node)
            return place
        if not isinstance(node, Scalar) or node.value is None:
            raise LeafError(
                Flaw(node, f"is {describe(node)}", "give [x, y] in metres, key, or a lamp or group")
            )
        name: Scalar = Name().read(node)
        return name

    def schema(self) -> Schema:
        """A pair of numbers, or a name."""
        return {"anyOf": [AT.schema(), Name().schema()]}


class TextureEntry(Entry):
    """A texture: made by arithmetic (`kind`), decoded (`picture`), or a sequence of others (`steps`)."""

    model_config = one_of_keys(*SOURCES, allOf=[{"not": {"required": ["hz", "beats"]}}])
    hints: ClassVar = SPEEDS

    kind: Annotated[str | None, Word("texture", tuple(TEXTURES))] = Field(
        None,
        description="wave, rings, crossing (two waves), drift (noise), drops, glints, chase, swell or fill",
    )
    picture: Annotated[str | None, Text("the name of a picture or a film")] = Field(
        None, description="a picture, animated image or film, named from the folder of this file"
    )
    steps: Annotated[tuple[WrittenStep, ...] | None, StepList()] = Field(
        None, description="other textures one after the other: 'ripple 16', 'ripple 16 fade 4', 'dark 4'"
    )
    lamps: Annotated[tuple[Scalar, ...] | None, Names()] = Field(
        None, description="lamps and groups it covers, in the order of a chase; all unless given"
    )
    hz: Annotated[float | None, Number(0.0, 50.0)] = Field(
        None, description="cycles a second; 0 stands still"
    )
    beats: Annotated[float | None, Number(0.0, MOST_BEATS, over=True)] = Field(
        None, description="beats a cycle lasts, in place of hz"
    )
    backwards: Annotated[bool, Flag()] = Field(False, description="true: it runs backwards")
    direction: Annotated[float | None, Number(-3600.0, 3600.0)] = Field(
        None, description="degrees: 0 to the right, 90 up, 180 to the left, 270 or -90 down"
    )
    scale: Annotated[float | None, Number(0.01, 1000.0)] = Field(
        None,
        description="metres of a wave, ring, patch, lane of drops or soft edge; lamps of a chase's tail",
    )
    amount: Annotated[float | None, Number(0.0, 1.0)] = Field(
        None, description="0 to 1: how much noise, how many drops or glints, how far it is filled"
    )
    width: Annotated[float | None, Number(0.0, 1.0, over=True)] = Field(
        None, description="share of a cycle that is lit, over 0 to 1"
    )
    centre: Annotated[tuple[float, float] | Scalar | None, Centre()] = Field(
        None,
        description="of rings: [x, y] in metres, a lamp or group, or key: the lamp of the key just struck",
    )
    profile: Annotated[str, Word("profile", tuple(PROFILES))] = Field(
        "sine", description="how light rises and falls in a cycle; sine unless given"
    )
    count: Annotated[int, Whole(0, 1000)] = Field(
        0, description="waves or rings that pass and are gone; lights of a chase; no end and 1 unless given"
    )
    angle: Annotated[float, Number(0.0, 180.0)] = Field(
        90.0, description="degrees between the two waves of crossing; 90 unless given"
    )
    seed: Annotated[int, Whole(0, 2**31)] = Field(
        0, description="another number, another pattern of drift, drops or glints; 0 unless given"
    )
    colour: Annotated[str | None, Colour()] = Field(
        None, description="each coloured lamp takes its share of this colour; all of it unless given"
    )
    fit: Annotated[str, Word("fit", FITS)] = Field(
        "fill",
        description="of a picture over the outline of the lamps: fill (cut at the edges, unless given), fit "
        "(all of it inside), stretch",
    )
    radius: Annotated[float | None, Number(0.0, 1000.0)] = Field(
        None, description="metres around a lamp that it shows; half the way to the next lamp unless given"
    )
    area: Annotated[str, Word("area", AREAS)] = Field(
        "box", description="box: all around counts alike (unless given); gauss: less with the distance"
    )
    blend: Annotated[bool, Flag()] = Field(
        False, description="true: each frame of a film changes smoothly to the next"
    )
    between: Annotated[tuple[float, float], BETWEEN] = Field(
        (0.0, 1.0), description="levels of its darkest and its brightest, [low, high]; [0, 1] unless given"
    )
    strength: Annotated[float, Number(0.0, 1.0)] = Field(
        1.0, description="how strong it is, 0 to 1; 1 unless given"
    )
    mix: Annotated[str, Word("mix", MIXES)] = Field(
        "highest",
        description="how it joins the textures under it: highest (unless given), add, multiply, replace",
    )
    masks: Annotated[str, Word("word for masks:", ("keys",))] = Field(
        "", description="keys: the light of keys passes only where this is lit"
    )
    masked_by: Annotated[str, Word("word for masked_by:", ("keys",))] = Field(
        "", description="keys: this is seen only where keys light lamps"
    )
    run: Annotated[bool, Flag()] = Field(False, description="true: it runs by itself, without a key")
    fade_ms: Annotated[float, Number(0.0, LONGEST_MS)] = Field(
        0.0, description="milliseconds in which it comes and goes where no rule says so; 0 unless given"
    )


class TextureKeyEntry(Heard):
    """What notes do to a texture."""

    stand_ins: ClassVar = {"notes": "0", "texture": "none"}
    hints: ClassVar = {"merge": "a texture has mix:", "attack_ms": "say feel:, or fade_ms"}

    notes: Annotated[tuple[Scalar, ...], NoteSet()] = Field(
        description="0 to 127, a name like C4, a range like C3..B4, white or black C3..B4, or a list of these"
    )
    texture: Annotated[Scalar, Name()] = Field(description="a name under textures")
    mode: Annotated[str, Word("mode", TEXTURE_MODES)] = Field(
        "hold",
        description="hold: seen while the key or the sustain pedal is down (unless given); latch: press on, "
        "press off; start: stays until another is started; punch: alone and at once while the key is down",
    )
    at: Annotated[tuple[Scalar, ...] | None, Names()] = Field(
        None, description="for centre: key, the lamps of the notes, first note, first lamp, round and round"
    )
    feel: Annotated[Scalar | None, Name()] = Field(
        None, description="a name under feels: how its strength comes and goes"
    )
    fade_ms: Annotated[float | None, Number(0.0, LONGEST_MS)] = Field(
        None, description="milliseconds in which it comes and goes, in place of a feel"
    )
    between: Annotated[tuple[float, float], BETWEEN] = Field(
        (0.0, 1.0), description="strengths of the softest and the hardest strike; [0, 1] unless given"
    )
    curve: Annotated[Curve | None, TouchCurve()] = Field(
        None, description="from velocity to strength: a curve's name, or [velocity, strength] points"
    )
    velocity: Annotated[tuple[int, int], Span(1, 127)] = Field(
        (1, 127), description="strikes it hears, softest..hardest, like 1..60; all unless given"
    )
    pedal: Annotated[str, Word("pedal", ("follow", "ignore"))] = Field(
        "follow", description="whether the sustain pedal holds it; follow unless given"
    )
