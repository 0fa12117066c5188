"""Knows: every message the page may send: one schema, each value with its range.

Must never know: what is done about a message, or files: no message has a place for a path.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

LARGEST = 8192
"""Bytes of a message."""

DOES = (
    "blackout_on",
    "blackout_off",
    "release_all",
    "look",
    "master",
    "light",
    "record_on",
    "record_off",
    "replay",
    "replay_stop",
    "loop_on",
    "loop_off",
    "set_next",
    "set_previous",
    "set_start",
    "set_stop",
)
"""Words that become `Do` events.

`name` is a look (empty for none; value: seconds of fade), a lamp (light: value is its level, 0 lets go) or
the number of a take (replay). master: value is the level.
"""

Byte7 = Annotated[int, Field(ge=0, le=127)]
Channel = Annotated[int, Field(ge=1, le=16)]
Name = Annotated[str, Field(max_length=200)]
Level = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]
Metres = Annotated[float, Field(ge=-10_000.0, le=10_000.0, allow_inf_nan=False)]


class Said(BaseModel):
    """The root of all messages: unknown keys and other types are refused."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Note(Said):
    """A key was struck, or with velocity 0 let go; `source` is the input it plays as, empty for none."""

    word: Literal["note"]
    note: Byte7
    velocity: Byte7
    channel: Channel = 1
    source: Name = ""


class Turn(Said):
    """A controller moved."""

    word: Literal["control"]
    control: Byte7
    value: Byte7
    channel: Channel = 1
    source: Name = ""


class Bent(Said):
    """The pitch wheel moved."""

    word: Literal["bend"]
    value: Annotated[int, Field(ge=-8192, le=8191)]
    channel: Channel = 1
    source: Name = ""


class Pressed(Said):
    """The keyboard as a whole was pressed."""

    word: Literal["pressure"]
    value: Byte7
    channel: Channel = 1
    source: Name = ""


class Ask(Said):
    """Something is to be done: a word of DOES."""

    word: Literal["do"]
    what: Literal[DOES]  # type: ignore[valid-type]
    name: Name = ""
    value: Annotated[float, Field(ge=0.0, le=3600.0, allow_inf_nan=False)] = 0.0


class Seen(Said):
    """Picture number `n` was drawn: the next may come."""

    word: Literal["seen"]
    n: Annotated[int, Field(ge=0, le=2**53)]


class Teach(Said):
    """What was pressed shall play something: a rule for the mapping file."""

    word: Literal["teach"]
    kind: Literal["note", "control", "bend", "pressure"]
    number: Byte7 = 0
    source: Name = ""
    channel: Channel | None = None
    then: Literal["light", "level", "master", "blackout", "release_all", "look"]
    lamps: Annotated[list[Name], Field(max_length=64)] = []
    look: Name = ""
    mode: Literal["hold", "latch", "shot"] = "hold"
    feel: Name = ""
    low: Level = 0.0
    high: Level = 1.0


class Move(Said):
    """A lamp, with the grid or head it belongs to, shall hang elsewhere: metres to the right and up."""

    word: Literal["move"]
    lamp: Name
    right: Metres
    up: Metres


class Patch(Said):
    """A new lamp."""

    word: Literal["patch"]
    name: Name
    slot: Annotated[int, Field(ge=1, le=512)]
    universe: Annotated[int, Field(ge=1, le=63_999)] = 1
    x: Metres
    y: Metres
    kind: Name = ""
    supply: Name = ""
    colour: Name = ""


class Undo(Said):
    """The last lesson shall be taken back."""

    word: Literal["undo"]


Message: TypeAlias = Note | Turn | Bent | Pressed | Ask | Seen | Teach | Move | Patch | Undo

_ADAPTER: TypeAdapter[Message] = TypeAdapter(Annotated[Message, Field(discriminator="word")])


def read(text: str) -> Message:
    """A message from its JSON.

    Raises:
        pydantic.ValidationError: it is none (a ValueError).
    """
    return _ADAPTER.validate_json(text)
