"""Knows: the words of a rig file: every key, its type, its range and what it means.

Must never know: how lamps are built from it, or what is on which slot.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from bridge.shell.files.check import Entry, one_of_keys
from bridge.shell.files.compound import AT, SPACING, Colour, ResponseCurve
from bridge.shell.files.leaves import Flag, Number, OneOf, Text, Whole, Word
from bridge.shell.files.name_leaves import Name
from bridge.shell.files.nodes import Scalar
from bridge.shell.files.output_model import OutputEntry
from bridge.shell.files.rig_leaves import Members, Places
from bridge.shell.files.wiring_model import AudienceEntry, CableEntry, DecoderEntry, DmxEntry, LedEntry
from bridge.values.frame import SLOTS
from bridge.values.rig import Points

Share = Annotated[float | None, Number(0.0, 1.0)]
SlotNumber = Whole(1, SLOTS, "; slot 1 is the first")
UniverseNumber = Whole(1, 63_999)

HIGHEST_HZ = 830.56
"""The highest refresh rate of any universe: one packet each 1204 us (ANSI E1.11)."""


class Heat(Entry):
    """How long a lamp may stand at full, and how long it then rests."""

    full_s: Annotated[float, Number(0.0, 86_400.0, over=True)] = Field(description="seconds at full")
    rest_s: Annotated[float, Number(0.0, 86_400.0)] = Field(description="seconds of rest after them")


class Light(Entry):
    """What a lamp, a grid, a lamp type and a part of one can all say about their light."""

    watts: Annotated[float | None, Number(0.0, 10_000.0)] = Field(
        None, description="watts of each light at full drive"
    )
    amps: Annotated[float | None, Number(0.0, 1_000.0)] = Field(
        None, description="amps of each light at full drive, where they are better known than its watts"
    )
    response: Annotated[str | Points | None, ResponseCurve()] = Field(
        None,
        description="from level to drive: linear (unless given), square, cie, dali, or [level, drive] points",
    )
    floor: Share = Field(None, description="drive just above level 0, from 0 to 1; 0 unless given")
    ceiling: Share = Field(None, description="drive at level 1, from 0 to 1; 1 unless given")
    bits: Annotated[int | None, OneOf((8, 16))] = Field(
        None, description="8 for one slot (unless given), 16 for two, coarse then fine"
    )
    colour: Annotated[str | None, Colour()] = Field(
        None, description="a colour's name, or '#rrggbb' in quotes; white unless given"
    )
    rest: Share = Field(None, description="level from 0 to 1 of a lamp that nothing plays; 0 unless given")
    heat: Heat | None = Field(None, description="seconds a lamp may stand at full, and rest")
    led: LedEntry | None = Field(
        None, description="LEDs with resistors on a fixed supply; gives the amps where the file does not"
    )


class Part(Light):
    """One light of a head."""

    slot: Annotated[int | None, Whole(0, SLOTS - 1)] = Field(
        None, description="slots after the head's first one; the next free one unless given"
    )
    at: Annotated[tuple[float, float], AT] = Field(
        (0.0, 0.0), description="metres from the head's place: [x, y]"
    )


class LampType(Light):
    """What lamps of one kind have in common."""

    parts: dict[str, Part] | None = Field(None, description="the lights of a head that has several, by name")


class HungEntry(Light):
    """What lamps and grids have in common."""

    model_config = one_of_keys("slot", "slots")

    type: Annotated[Scalar | None, Name()] = Field(None, description="a name under lamp_types")
    supply: Annotated[Scalar | None, Name()] = Field(None, description="a name under supplies")
    universe: Annotated[int, UniverseNumber] = Field(1, description="the DMX universe; 1 unless given")
    slot: Annotated[int | None, SlotNumber] = Field(None, description="the first slot, 1 to 512")
    at: Annotated[tuple[float, float], AT] = Field(
        (0.0, 0.0), description="metres as the audience sees it: [x to the right, y up]"
    )
    shares: Annotated[bool, Flag()] = Field(
        False, description="true lets lamps share a slot with others that say so too"
    )


class LampEntry(HungEntry):
    """A lamp, or a head of several."""

    stand_ins: ClassVar = {"name": "lamp"}

    name: Annotated[Scalar, Name()] = Field(description="the lamp's name")
    slots: dict[str, Annotated[int, SlotNumber]] | None = Field(
        None, description="the slot of each part, where the wires are not in order: {red: 1, amber: 9}"
    )


class GridEntry(HungEntry):
    """Lamps in columns and rows; makes lamps called name.column.row."""

    stand_ins: ClassVar = {"name": "grid", "columns": "1", "rows": "1"}

    name: Annotated[Scalar, Name()] = Field(description="the grid's name")
    columns: Annotated[int, Whole(1, SLOTS)] = Field(description="columns, counted from the left")
    rows: Annotated[int, Whole(1, SLOTS)] = Field(description="rows, counted from below")
    spacing: Annotated[tuple[float, float], SPACING] = Field(
        (1.0, 1.0), description="metres from column to column and from row to row: [x, y]"
    )
    order: Annotated[str, Word("order", ("rows", "columns", "snake"))] = Field(
        "rows",
        description="how the slots run: rows, row by row (unless given); columns, column by column; "
        "snake, row by row to and fro",
    )
    corner: Annotated[str, Word("corner", ("lower_left", "lower_right", "upper_left", "upper_right"))] = (
        Field(
            "lower_left",
            alias="from",
            description="the corner where the slots begin: lower_left (unless given), lower_right, "
            "upper_left, upper_right",
        )
    )
    skip: Annotated[tuple[tuple[int, int, Scalar], ...], Places()] = Field(
        (),
        description="places without a lamp, which take no slot, as column.row: [1.4, 2.4]",
    )
    slots: list[Annotated[int, SlotNumber]] | None = Field(
        None, description="the slot of each lamp in the grid's order, where they do not follow one another"
    )


class SupplyEntry(Entry):
    """A power supply."""

    volts: Annotated[float, Number(0.0, 1_000.0, over=True)] = Field(description="volts it gives")
    amps: Annotated[float, Number(0.0, 10_000.0, over=True)] = Field(description="amps it may give")
    headroom: Annotated[float, Number(0.0, 0.95)] = Field(
        0.2, description="share of the amps kept back, 0 to 0.95; 0.2 unless given"
    )


Strength = Annotated[str, Word("guard setting", ("limit", "warn", "off"))]


class GuardsEntry(Entry):
    """How strictly each guard works."""

    load: Strength = Field("limit", description="keeps each supply within its amps less its headroom")
    flash: Strength = Field("limit", description="keeps flashes to three in any second")
    heat: Strength = Field("warn", description="limits the seconds a lamp stands at full")


class RigFile(Entry):
    """A rig: the lamps, supplies and outputs there are."""

    rig: Annotated[str, Text("the rig's name")] = Field("", description="the rig's name, for people")
    refresh_hz: Annotated[float, Number(1.0, HIGHEST_HZ)] = Field(
        40.0, description="pictures a second; 40 unless given, and at most 44 for a full universe"
    )
    on_exit: Annotated[str, Word("on_exit", ("blackout", "hold"))] = Field(
        "blackout", description="what goes out last: blackout (unless given), or hold for the last picture"
    )
    supplies: dict[str, SupplyEntry] | None = Field(None, description="power supplies, by name")
    lamp_types: dict[str, LampType] | None = Field(None, description="kinds of lamps, by name")
    grids: list[GridEntry] | None = Field(None, description="lamps in columns and rows")
    lamps: list[LampEntry] | None = Field(None, description="lamps and heads one by one")
    groups: dict[str, Annotated[object, Members()]] | None = Field(
        None, description="names for several lamps: [names], or {colour: red}"
    )
    outputs: list[OutputEntry] | None = Field(None, description="where the light goes; nowhere unless given")
    decoders: dict[str, DecoderEntry] | None = Field(
        None, description="boxes that turn slots into current, by name"
    )
    cables: list[CableEntry] | None = Field(None, description="runs of copper, for the voltage lost in them")
    dmx: DmxEntry | list[DmxEntry] | None = Field(
        None, description="the data line, or a list with one for each universe"
    )
    audience: AudienceEntry | None = Field(None, description="where people stand")
    guards: GuardsEntry | None = Field(None, description="limits that protect people and hardware")
