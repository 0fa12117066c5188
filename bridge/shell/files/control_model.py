"""Knows: the words of an entry under `controls`: one model for each thing it can set or do.

Must never know: what sets it off (`control_triggers`), or what the engine makes of it.

To add one: a model here, a row in SETS or DOES, and one in ControlEntry for the schema.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import Discriminator, Field, Tag

from bridge.shell.files.compound import Pair
from bridge.shell.files.control_triggers import Does, Sets
from bridge.shell.files.leaves import Flag, Number, Word
from bridge.shell.files.name_leaves import Name, Names
from bridge.shell.files.nodes import Scalar, Table

LONGEST_FADE_MS = 3_600_000.0
"""An hour."""

A_TEXTURE = "a name under textures; every texture unless given"

PLAIN = ("release_all", "tap", "record", "next", "previous", "start", "stop")
"""Words of `does` that need nothing else said."""


class SetsMaster(Sets):
    """A master: of the whole rig, or of some lamps."""

    sets: Annotated[str, Word("sets", ("master",))] = Field(description="master")
    lamps: Annotated[tuple[Scalar, ...], Names()] = Field(
        (), description="lamps and groups it is the master of; all unless given"
    )


class SetsLevel(Sets):
    """The level of some lamps."""

    stand_ins: ClassVar = {"lamps": "all"}

    sets: Annotated[str, Word("sets", ("level",))] = Field(description="level")
    lamps: Annotated[tuple[Scalar, ...], Names()] = Field(description="lamps and groups, one name or a list")


class SetsFeel(Sets):
    """A part of a feel, for notes struck from then on."""

    sets: Annotated[str, Word("sets", ("attack_ms", "decay_ms", "release_ms"))] = Field(
        description="attack_ms, decay_ms or release_ms"
    )
    feel: Annotated[Scalar | None, Name()] = Field(
        None, description="a name under feels; every feel unless given"
    )
    between: Annotated[tuple[float, float] | None, Pair("low, high", 0.0, 60_000.0)] = Field(
        None, description="milliseconds at its lower and upper end; [0, 2000] unless given"
    )

    usual: ClassVar[tuple[float, float]] = (0.0, 2000.0)
    unit: ClassVar[float] = 0.001


class SetsSustain(Sets):
    """The sustain of a feel, for notes struck from then on."""

    sets: Annotated[str, Word("sets", ("sustain",))] = Field(description="sustain")
    feel: Annotated[Scalar | None, Name()] = Field(
        None, description="a name under feels; every feel unless given"
    )


class SetsTempo(Sets):
    """The tempo."""

    sets: Annotated[str, Word("sets", ("tempo",))] = Field(description="tempo")
    between: Annotated[tuple[float, float] | None, Pair("low, high", 1.0, 999.0)] = Field(
        None, description="beats a minute at its lower and upper end; [40, 240] unless given"
    )

    usual: ClassVar[tuple[float, float]] = (40.0, 240.0)


class SetsLook(Sets):
    """How far a look stands."""

    stand_ins: ClassVar = {"look": "none"}

    sets: Annotated[str, Word("sets", ("look",))] = Field(description="look")
    look: Annotated[Scalar, Name()] = Field(description="a name under looks")


class SetsFade(Sets):
    """The fade of looks that give none."""

    sets: Annotated[str, Word("sets", ("fade_ms",))] = Field(description="fade_ms")
    between: Annotated[tuple[float, float] | None, Pair("low, high", 0.0, LONGEST_FADE_MS)] = Field(
        None, description="milliseconds at its lower and upper end; [0, 10000] unless given"
    )

    usual: ClassVar[tuple[float, float]] = (0.0, 10_000.0)
    unit: ClassVar[float] = 0.001


class SetsTexture(Sets):
    """A setting of a texture that is a share: its strength, its amount, its width."""

    sets: Annotated[str, Word("sets", ("strength", "amount", "width"))] = Field(
        description="strength, amount or width"
    )
    texture: Annotated[Scalar | None, Name()] = Field(None, description=A_TEXTURE)


class SetsSpeed(SetsTexture):
    """How fast a texture runs: a factor on its own speed, whether that is in cycles a second or in beats."""

    sets: Annotated[str, Word("sets", ("speed",))] = Field(description="speed")
    between: Annotated[tuple[float, float] | None, Pair("low, high", 0.0, 64.0)] = Field(
        None, description="times its own speed at the lower and upper end; [0, 2] unless given"
    )

    usual: ClassVar[tuple[float, float]] = (0.0, 2.0)


class SetsScale(SetsTexture):
    """The scale of a texture."""

    sets: Annotated[str, Word("sets", ("scale",))] = Field(description="scale")
    between: Annotated[tuple[float, float] | None, Pair("low, high", 0.01, 1000.0)] = Field(
        None, description="metres (lamps of a chase) at the lower and upper end; [0.5, 5] unless given"
    )

    usual: ClassVar[tuple[float, float]] = (0.5, 5.0)


class SetsDirection(SetsTexture):
    """Where a texture moves."""

    sets: Annotated[str, Word("sets", ("direction",))] = Field(description="direction")
    between: Annotated[tuple[float, float] | None, Pair("low, high", -3600.0, 3600.0)] = Field(
        None, description="degrees at the lower and upper end; [0, 360] unless given"
    )

    usual: ClassVar[tuple[float, float]] = (0.0, 360.0)


class SetsCentre(SetsTexture):
    """Where the middle of a texture's rings is."""

    sets: Annotated[str, Word("sets", ("centre_x", "centre_y"))] = Field(description="centre_x or centre_y")
    between: Annotated[tuple[float, float] | None, Pair("low, high", -10_000.0, 10_000.0)] = Field(
        None, description="metres at the lower and upper end; [-5, 5] unless given"
    )

    usual: ClassVar[tuple[float, float]] = (-5.0, 5.0)


class DoesBlackout(Does):
    """All lamps dark while it is held."""

    does: Annotated[str, Word("does", ("blackout",))] = Field(description="blackout")
    toggle: Annotated[bool, Flag()] = Field(
        False, description="true: press for dark, press again for light; else dark while held"
    )


class DoesPlain(Does):
    """Lets go of everything, starts or ends a take, or moves through the songs of a set list."""

    does: Annotated[str, Word("does", PLAIN)] = Field(
        description="release_all: lets go of every key, pedal, latch and shape; tap: on the beat, twice or "
        "more, sets the tempo; record: starts or ends a take; "
        "next, previous, start, stop: the songs of a set list"
    )


class DoesLook(Does):
    """Brings in a look."""

    stand_ins: ClassVar = {"look": "none"}

    does: Annotated[str, Word("does", ("look",))] = Field(description="look")
    look: Annotated[Scalar, Name()] = Field(description="a name under looks, or none for no look")
    fade_ms: Annotated[float | None, Number(0.0, LONGEST_FADE_MS)] = Field(
        None,
        description="milliseconds of crossfade; what a control has set with fade_ms, else 0, unless given",
    )


class DoesTexture(Does):
    """Starts a texture, which stays until another is started."""

    stand_ins: ClassVar = {"texture": "none"}

    does: Annotated[str, Word("does", ("texture",))] = Field(description="texture")
    texture: Annotated[Scalar, Name()] = Field(description="a name under textures, or none to end what is on")
    fade_ms: Annotated[float | None, Number(0.0, LONGEST_FADE_MS)] = Field(
        None,
        description="milliseconds of crossfade; what a control has set with fade_ms, else 0, unless given",
    )


SETS: dict[str, type[Sets]] = {
    "master": SetsMaster,
    "level": SetsLevel,
    "attack_ms": SetsFeel,
    "decay_ms": SetsFeel,
    "sustain": SetsSustain,
    "release_ms": SetsFeel,
    "tempo": SetsTempo,
    "look": SetsLook,
    "fade_ms": SetsFade,
    **dict.fromkeys(("strength", "amount", "width"), SetsTexture),
    "speed": SetsSpeed,
    "scale": SetsScale,
    "direction": SetsDirection,
    **dict.fromkeys(("centre_x", "centre_y"), SetsCentre),
}
DOES: dict[str, type[Does]] = {
    "blackout": DoesBlackout,
    "look": DoesLook,
    "texture": DoesTexture,
    **dict.fromkeys(PLAIN, DoesPlain),
}


def model_of(node: object) -> str | None:
    """The name of the model of an entry."""
    if isinstance(node, Table):
        for key, known in (("sets", SETS), ("does", DOES)):
            word = node.get(key)
            if isinstance(word, Scalar):
                found: Any = known.get(word.raw)
                return found.__name__ if found else None
    return None


ControlEntry = Annotated[
    Annotated[SetsMaster, Tag("SetsMaster")]
    | Annotated[SetsLevel, Tag("SetsLevel")]
    | Annotated[SetsFeel, Tag("SetsFeel")]
    | Annotated[SetsSustain, Tag("SetsSustain")]
    | Annotated[SetsTempo, Tag("SetsTempo")]
    | Annotated[SetsLook, Tag("SetsLook")]
    | Annotated[SetsFade, Tag("SetsFade")]
    | Annotated[SetsTexture, Tag("SetsTexture")]
    | Annotated[SetsSpeed, Tag("SetsSpeed")]
    | Annotated[SetsScale, Tag("SetsScale")]
    | Annotated[SetsDirection, Tag("SetsDirection")]
    | Annotated[SetsCentre, Tag("SetsCentre")]
    | Annotated[DoesTexture, Tag("DoesTexture")]
    | Annotated[DoesBlackout, Tag("DoesBlackout")]
    | Annotated[DoesPlain, Tag("DoesPlain")]
    | Annotated[DoesLook, Tag("DoesLook")],
    Discriminator(model_of),
]
