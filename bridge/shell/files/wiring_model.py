"""Knows: the words of a rig file about boxes, copper and data lines: decoders, cables, dmx, audience, led.

Must never know: lamps, or what is worked out from these words.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from bridge.shell.files.check import Entry
from bridge.shell.files.leaves import Flag, Number, Whole, Word
from bridge.shell.files.name_leaves import Name, Names
from bridge.shell.files.nodes import Scalar
from bridge.values.frame import SLOTS

UNIVERSE = Whole(1, 63_999)


class LedEntry(Entry):
    """LEDs on a fixed supply: strings side by side, each with a resistor of its own."""

    drop_v: Annotated[float, Number(0.0, 100.0, over=True)] = Field(
        description="volts that one LED drops, from its data sheet"
    )
    amps: Annotated[float, Number(0.0, 100.0, over=True)] = Field(
        description="amps that each string carries at full"
    )
    in_series: Annotated[int, Whole(1, 1000)] = Field(1, description="LEDs in a string; 1 unless given")
    strings: Annotated[int, Whole(1, 10_000)] = Field(
        1, description="strings side by side in the lamp; 1 unless given"
    )


class DecoderEntry(Entry):
    """A box that turns slots into current."""

    stand_ins: ClassVar = {"slots": "1"}

    slots: Annotated[int, Whole(1, SLOTS)] = Field(description="how many slots it takes, 1 to 512")
    start: Annotated[int, Whole(1, SLOTS, "; slot 1 is the first")] = Field(
        1, description="its start address, the slot of its first output; 1 unless given"
    )
    universe: Annotated[int, UNIVERSE] = Field(1, description="the DMX universe; 1 unless given")
    amps_per_slot: Annotated[float, Number(0.0, 1_000.0)] = Field(
        0.0, description="amps each of its outputs may carry; no limit unless given"
    )
    amps: Annotated[float, Number(0.0, 10_000.0)] = Field(
        0.0, description="amps all of its outputs together may carry; no limit unless given"
    )


class CableEntry(Entry):
    """A run of two copper conductors from a supply or a decoder to what it feeds."""

    stand_ins: ClassVar = {"name": "cable", "length_m": "1", "mm2": "1"}

    name: Annotated[Scalar, Name()] = Field(description="the cable's name")
    carries: Annotated[tuple[Scalar, ...], Names()] = Field(
        description="what it feeds: names of lamps or groups, or of decoders with all that hangs on them"
    )
    length_m: Annotated[float, Number(0.0, 10_000.0, over=True)] = Field(
        description="metres one way; the way back is counted too"
    )
    mm2: Annotated[float, Number(0.0, 1_000.0, over=True)] = Field(
        description="cross section of each conductor in square millimetres"
    )
    source: Annotated[Scalar | None, Name()] = Field(
        None, alias="from", description="the supply or decoder it comes from"
    )
    wire: Annotated[str, Word("wire", ("flexible", "stranded"))] = Field(
        "flexible", description="flexible (IEC 60228 class 5, unless given), or stranded (class 2)"
    )
    rated_amps: Annotated[float, Number(0.0, 1_000.0)] = Field(
        0.0, description="amps the wire may carry, as the local code says; left out of the sums unless given"
    )


class DmxEntry(Entry):
    """The data line of a universe."""

    devices: Annotated[int, Whole(1, 512)] = Field(description="receivers on the line")
    length_m: Annotated[float, Number(0.0, 10_000.0)] = Field(
        0.0, description="metres from the sender to the last receiver"
    )
    terminated: Annotated[bool, Flag()] = Field(
        False, description="true where 120 ohm sit across the pair at the far end; false unless given"
    )
    universe: Annotated[int, UNIVERSE] = Field(1, description="the DMX universe; 1 unless given")


class AudienceEntry(Entry):
    """Where people stand: what they can see at once is what flashes are counted in."""

    distance_m: Annotated[float, Number(0.1, 10_000.0)] = Field(
        5.0, description="metres from the nearest of the audience to the rig; 5 unless given"
    )
    view_deg: Annotated[float, Number(1.0, 170.0)] = Field(
        10.0, description="the field of view in degrees that counts as one; 10 unless given"
    )
