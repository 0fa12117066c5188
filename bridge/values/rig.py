"""Knows: the rig as the engine needs it: lamps on slots, supplies, groups, outputs; all frozen.

Must never know: notes, the text of a rig file, devices, or the level of the moment.

Lamps are told apart by their index 0..N-1 in the order of the file; the group `all` is that order.
"""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Mapping as ReadOnly
from dataclasses import dataclass, field

Points = tuple[tuple[float, float], ...]
"""A curve drawn by points, both coordinates 0..1, the first ascending."""

Lamps = tuple[int, ...]
"""Lamp indices in the order of the rig."""


@dataclass(frozen=True, slots=True)
class Led:
    """The LEDs in a lamp on a fixed supply: strings side by side, each with a resistor of its own.

    Args:
        drop_v: volts that one LED drops. amps: what each string carries at full.
        in_series: LEDs in a string. strings: how many strings.
    """

    drop_v: float
    amps: float
    in_series: int = 1
    strings: int = 1


@dataclass(frozen=True, slots=True)
class Lamp:
    """One dimmable light with one colour.

    Args:
        name: the whole name, like `roof.1.2` (column.row) or `west.red`.
        universe: 1..63999; slot: 1..512, the coarse one where `bits` is 16 (fine is slot + 1).
        at: metres as the audience sees it, x to the right, y up.
        response: name of a response (linear, square, cie, dali) or its points (level, drive).
        floor, ceiling: drive 0..1 just above level 0 and at level 1.
        rest: level 0..1 when nothing plays the lamp.
        watts: at full drive; amps: at full drive where the file gives amps; 0 where unknown.
        supply: name of a supply, or empty.
        heat: seconds at full the lamp may stand and the seconds of rest it then needs; None: no limit.
        led: what is in it where it is LEDs with resistors; None where the file does not say.
    """

    name: str
    index: int
    universe: int
    slot: int
    bits: int = 8
    at: tuple[float, float] = (0.0, 0.0)
    colour: str = "white"
    kind: str = ""
    response: str | Points = "linear"
    floor: float = 0.0
    ceiling: float = 1.0
    rest: float = 0.0
    watts: float = 0.0
    amps: float = 0.0
    supply: str = ""
    heat: tuple[float, float] | None = None
    line: int = 0
    led: Led | None = None


@dataclass(frozen=True, slots=True)
class Supply:
    """A power supply: volts, the amps it may give, and the share 0..1 of them kept back."""

    name: str
    volts: float
    amps: float
    headroom: float = 0.2


@dataclass(frozen=True, slots=True)
class Decoder:
    """A box that turns slots into current: slots from `start`, and what each slot and the box may carry.

    Args:
        amps_per_slot, amps: 0 for no limit.
    """

    name: str
    universe: int
    start: int
    slots: int
    amps_per_slot: float = 0.0
    amps: float = 0.0

    def carries(self, lamp: Lamp) -> bool:
        """True if all slots of the lamp are slots of this box."""
        last = lamp.slot + lamp.bits // 16
        return lamp.universe == self.universe and self.start <= lamp.slot and last < self.start + self.slots


@dataclass(frozen=True, slots=True)
class Cable:
    """A two-conductor run of copper from a supply or a decoder to what it feeds.

    Args:
        length_m: one way; mm2: cross section of each conductor.
        lamps: indices of all lamps whose current it carries. decoders: boxes at its far end.
        source: name of the supply or decoder it comes from, or empty.
        wire: flexible or stranded (IEC 60228 class 5 or 2).
        rated_amps: what the wire may carry by the local code; 0 where the file does not say.
    """

    name: str
    length_m: float
    mm2: float
    lamps: Lamps = ()
    decoders: tuple[str, ...] = ()
    source: str = ""
    wire: str = "flexible"
    rated_amps: float = 0.0


@dataclass(frozen=True, slots=True)
class DmxLine:
    """The data line of a universe: receivers on it, its length, and whether its far end is terminated."""

    universe: int
    devices: int
    length_m: float = 0.0
    terminated: bool = False


@dataclass(frozen=True, slots=True)
class OutputSpec:
    """Where frames go.

    Args:
        kind: a word of the registry OUTPUTS: sacn, artnet, serial, memory.
        name: how the output is shown, like `sacn 127.0.0.1 universe 1`.
        sends: the universe of the rig that goes out; carried_as: the number it goes out under.
        host: network outputs: an address, or empty for multicast (sACN).
        interface: address of the network interface to send from; empty for the system's choice.
        port: serial device name, `auto`, or a USB serial number.
        framing: serial: break or packet.
        priority: sACN 0..200.
        pad_to: least number of slots sent, 24..512; 0 sends up to the highest slot in use.
        break_us: length of the serial break in microseconds.
        refresh_hz: its own lower rate; 0 for every frame.
        early: send at once when a key goes down, beside the steady frames.
        gap: early: least seconds from one packet to the next that the receiver takes; 0 for what ANSI E1.11
            lets a line of so many slots carry.
        whole: network outputs: all universes of the rig go out, universe `sends` as `carried_as` and the
            others at the same distances; `sends` 0 stands for the lowest. See `numbers`.
        sync: sACN: the universe on which a synchronization packet follows each picture; 0 for none.
        discover: sACN: its universes are on the list that goes to the discovery group every ten seconds.
    """

    kind: str
    name: str = ""
    sends: int = 1
    carried_as: int = 1
    host: str = ""
    interface: str = ""
    port: str = ""
    framing: str = "break"
    priority: int = 100
    pad_to: int = 0
    break_us: int = 176
    refresh_hz: float = 0.0
    early: bool = False
    gap: float = 0.0
    whole: bool = False
    sync: int = 0
    discover: bool = True
    line: int = 0

    def numbers(self, universes: Iterable[int]) -> dict[int, int]:
        """Which universes of the rig go out -> the numbers they go out under, ascending.

        Args:
            universes: those the rig has; 1 where it has none.
        """
        if not self.whole:
            return {self.sends: self.carried_as}
        found = sorted(universes) or [1]
        shift = self.carried_as - (self.sends or found[0])
        return {universe: universe + shift for universe in found}


@dataclass(frozen=True, slots=True)
class Grid:
    """Lamps in columns and rows, for shapes that move over them.

    Args:
        cells: rows from the bottom up, each from left to right: lamp index, or -1 where there is none.
    """

    name: str
    cells: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Rig:
    """The lamps, supplies and outputs there are.

    Args:
        groups: every name a mapping can use for more than one lamp: groups, grids (`roof`), columns
            (`roof.1`), heads (`west`), and `all`.
        grids: the grids of the file, by their cells.
        view_deg, distance_m: the field of view in which flashes are counted, and how near people stand.
        guards: `load`, `flash`, `heat`, each limit, warn or off.
        cables, dmx: the copper that feeds the lamps, and the data lines, as far as the file tells.
        on_exit: blackout or hold.
    """

    name: str = ""
    lamps: tuple[Lamp, ...] = ()
    refresh_hz: float = 40.0
    on_exit: str = "blackout"
    supplies: tuple[Supply, ...] = ()
    groups: ReadOnly[str, Lamps] = field(default_factory=dict)
    grids: tuple[Grid, ...] = ()
    decoders: tuple[Decoder, ...] = ()
    cables: tuple[Cable, ...] = ()
    dmx: tuple[DmxLine, ...] = ()
    view_deg: float = 10.0
    distance_m: float = 5.0
    outputs: tuple[OutputSpec, ...] = ()
    guards: ReadOnly[str, str] = field(
        default_factory=lambda: {"load": "limit", "flash": "limit", "heat": "warn"}
    )

    @property
    def universes(self) -> tuple[int, ...]:
        """Universe numbers in use, ascending."""
        return tuple(sorted({lamp.universe for lamp in self.lamps}))

    def top_slot(self, universe: int) -> int:
        """The highest slot in use on a universe, 0 where it has none."""
        return max(
            (lamp.slot + lamp.bits // 16 for lamp in self.lamps if lamp.universe == universe), default=0
        )
