"""Knows: what can set off an entry under `controls`: the keys that name a knob, a press or the music.

Must never know: what such an entry sets or does.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from bridge.shell.files.check import Entry, if_then, one_of_keys
from bridge.shell.files.compound import BETWEEN, TouchCurve
from bridge.shell.files.hints import CONTROL_HINTS
from bridge.shell.files.leaves import Flag, OneOf, Whole
from bridge.shell.files.name_leaves import Name
from bridge.shell.files.nodes import Scalar
from bridge.shell.files.note_sets import NoteSet
from bridge.values.mapping import Curve
from bridge.values.sound import MUSIC

CONTROL = Whole(0, 119, "; the rest are channel mode messages")
PARAMETER = Whole(0, 16383, ", coarse x 128 + fine")

TURNED = ("control", "bend", "pressure", "rpn", "nrpn", *MUSIC)
"""Keys of what can set a value; the first is the one to offer."""

PRESSED = ("notes", "control", "program", "bend", "pressure", "rpn", "nrpn", *MUSIC)
"""Keys of what can set something off."""

FLAGS = ("bend", "pressure", "beat", "tempo")
FINE_HALF = if_then({"bits": {"const": 14}}, {"control": {"maximum": 31}}, ["control"])


class Heard(Entry):
    """Where notes and controllers are heard from."""

    source: Annotated[Scalar | None, Name()] = Field(
        None, alias="from", description="a name under inputs; any input unless given"
    )
    channel: Annotated[int | None, Whole(1, 16)] = Field(
        None, description="MIDI channel, 1 to 16; any unless given"
    )


class Turned(Heard):
    """What may be turned."""

    hints: ClassVar = CONTROL_HINTS

    control: Annotated[int | None, CONTROL] = Field(None, description="controller number, 0 to 119")
    bits: Annotated[int, OneOf((7, 14))] = Field(
        7,
        description="14: the controller, 0 to 31, is the coarse half, 32 up from it the fine one; else 7",
    )
    bend: Annotated[bool, Flag()] = Field(False, description="true: the pitch wheel")
    pressure: Annotated[bool, Flag()] = Field(False, description="true: channel pressure")
    rpn: Annotated[int | None, PARAMETER] = Field(None, description="registered parameter number, 0 to 16383")
    nrpn: Annotated[int | None, PARAMETER] = Field(
        None, description="non-registered parameter number, 0 to 16383"
    )
    band: Annotated[Scalar | None, Name()] = Field(
        None, description="a band of the music that is heard: its level"
    )
    onset: Annotated[Scalar | None, Name()] = Field(
        None, description="a band of the music that is heard: the strength of its strokes; each is a press"
    )
    beat: Annotated[bool, Flag()] = Field(False, description="true: the way from one beat to the next")
    tempo: Annotated[bool, Flag()] = Field(
        False, description="true: the tempo, its ends at 40 and 240 beats a minute"
    )


class Sets(Turned):
    """A controller that sets a value."""

    model_config = one_of_keys(*TURNED, flags=FLAGS, allOf=[FINE_HALF])

    curve: Annotated[Curve, TouchCurve()] = Field(
        "linear", description="from the controller's way, 0 to 127, to its value; linear unless given"
    )
    between: Annotated[tuple[float, float] | None, BETWEEN] = Field(
        None, description="what its lower and upper end set, [low, high]; [0, 1] unless given"
    )
    takeover: Annotated[bool, Flag()] = Field(
        False, description="true: does nothing until it meets the value in force, so that nothing jumps"
    )

    usual: ClassVar[tuple[float, float]] = (0.0, 1.0)
    unit: ClassVar[float] = 1.0
    """What one of the file is in the unit of the rule: 0.001 where the file says milliseconds."""


class Does(Turned):
    """A note, a controller at 64 or more, or a program change that does something."""

    model_config = one_of_keys(*PRESSED, flags=FLAGS, allOf=[FINE_HALF])

    notes: Annotated[tuple[Scalar, ...] | None, NoteSet()] = Field(None, description="notes that set it off")
    program: Annotated[int | None, Whole(1, 128)] = Field(
        None, description="program change, 1 to 128 as instruments show it"
    )
