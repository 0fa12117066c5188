"""Knows: how lamps come from the entries under `lamps` and `grids`.

Must never know: which lamps collide, groups, outputs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from bridge.shell.files.check import check
from bridge.shell.files.name_leaves import unfit
from bridge.shell.files.nodes import Node, Scalar, Table
from bridge.shell.files.report import Placed, Report, quote
from bridge.shell.files.rig_checks import Hanging, floors_fit, one_slot, parts_fit, refers, skip_fits
from bridge.shell.files.rig_grid import cells_of, run
from bridge.shell.files.rig_model import GridEntry, LampEntry, LampType
from bridge.shell.files.rig_types import Bulb, Types, bulbs, span
from bridge.values.frame import SLOTS
from bridge.values.rig import Grid, Lamp, Supply

MOST_LAMPS = 32_768
"""Lamps a rig may have: 64 full universes."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place where lights hang: its name, its first slot or the slot of each part, and metres."""

    name: str
    slot: int | Mapping[str, int]
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a lamp came from: the places of its entry's name and slot, and whether it shares its slots."""

    name: Scalar
    slot: Placed
    shares: bool


@dataclass(slots=True)
class Hung:
    """What has been hung so far. `broken` has the names of entries that made no lamp and were reported."""

    report: Report
    types: Types
    supplies: Mapping[str, Supply | None]
    lamps: list[Lamp] = field(default_factory=list)
    origins: list[Origin] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)
    grids: list[Grid] = field(default_factory=list)

    def lamp(self, node: Node) -> None:
        """Hang the lamp, or the lights of a head, that an entry of `lamps` describes."""
        item = check(LampEntry, node, self.report, "a lamp")
        if item is None:
            self._lost(node)
            return
        entry = item.value
        if not self._usable(item):
            self._lost(node)
            return
        lights = bulbs(entry, self._kind(item))
        if entry.slots is not None and not parts_fit(item, entry.slots, lights, self.report):
            self._lost(node)
            return
        first = entry.slots if entry.slots is not None else entry.slot or 1
        self._hang(item, lights, [Spot(entry.name.raw, first, entry.at)])

    def grid(self, node: Node) -> None:
        """Hang the lamps that an entry of `grids` describes."""
        item = check(GridEntry, node, self.report, "a grid")
        if item is None:
            self._lost(node)
            return
        grid = item.value
        whole = item.good("columns", "rows") and skip_fits(item, self.report)
        if not self._usable(item) or not whole:
            self._lost(node)
            return
        count = grid.columns * grid.rows - len({place[:2] for place in grid.skip})
        if grid.slots is not None and len(grid.slots) != count:
            what = f"slots has {len(grid.slots)} entries for {count} lamps"
            self.report.error(item.node.place("slots"), what, f"give {count}, in the grid's order")
            self._lost(node)
            return
        lights = bulbs(grid, self._kind(item))
        first = len(self.lamps)
        self._hang(item, lights, _spots(grid, span(lights)))
        self.grids += cells_of(grid.name.raw, self.lamps[first:])

    def _usable(self, item: Hanging) -> bool:
        known = refers(item, self.types, self.supplies, self.report)
        return one_slot(item, self.report) and known and item.good("name", "universe", "shares")

    def _kind(self, item: Hanging) -> LampType | None:
        found = self.types.get(item.value.type.raw) if item.value.type else None
        return found.value if found else None

    def _lost(self, node: Node) -> None:
        """Remember the name of an entry that could not be read, so that nobody else complains of it."""
        name = node.get("name") if isinstance(node, Table) else None
        if isinstance(name, Scalar) and not unfit(name.raw):
            self.broken.add(name.raw)

    def _hang(self, item: Hanging, lights: tuple[Bulb, ...], spots: Iterable[Spot]) -> None:
        entry = item.value
        floors_fit(item, self.types, lights, self.report)
        origin = Origin(entry.name, item.node.place("slot" if entry.slots is None else "slots"), entry.shares)
        for spot in spots:
            for bulb in lights:
                name = f"{spot.name}.{bulb.part}" if bulb.part else spot.name
                slot = spot.slot + bulb.offset if isinstance(spot.slot, int) else spot.slot[bulb.part]
                last = slot + bulb.bits // 8 - 1
                if last > SLOTS:
                    what = f"lamp {quote(name)} would take slot {last}"
                    right = f"a universe ends at {SLOTS}, and a lamp's slots never cross into the next"
                    self.report.error(origin.slot, what, right)
                elif len(self.lamps) >= MOST_LAMPS:
                    self.report.error(item.node, f"more than {MOST_LAMPS} lamps", "divide the rig in two")
                else:
                    self.origins.append(origin)
                    self.lamps.append(self._lamp(item, bulb, name, slot, spot.at))
                    continue
                self.broken.add(entry.name.raw)
                return

    def _lamp(self, item: Hanging, bulb: Bulb, name: str, slot: int, at: tuple[float, float]) -> Lamp:
        entry = item.value
        supply = self.supplies.get(entry.supply.raw) if entry.supply else None
        return Lamp(
            name=name,
            index=len(self.lamps),
            universe=entry.universe,
            slot=slot,
            bits=bulb.bits,
            at=(at[0] + bulb.at[0], at[1] + bulb.at[1]),
            colour=bulb.colour,
            kind=entry.type.raw if entry.type else "",
            response=bulb.response,
            floor=bulb.floor,
            ceiling=bulb.ceiling,
            rest=bulb.rest,
            # Lamps are weighed against each other by watts, so one that is known by its amps has them too.
            watts=bulb.watts or bulb.amps * (supply.volts if supply else 0.0),
            amps=bulb.amps,
            supply=entry.supply.raw if entry.supply else "",
            heat=bulb.heat,
            line=item.node.line,
            led=bulb.led,
        )


def _spots(grid: GridEntry, step: int) -> Iterator[Spot]:
    skipped = {place[:2] for place in grid.skip}
    number = 0
    for column, row in run(grid.columns, grid.rows, grid.order, grid.corner):
        if (column, row) in skipped:
            continue
        slot = grid.slots[number] if grid.slots is not None else (grid.slot or 1) + number * step
        at = (grid.at[0] + (column - 1) * grid.spacing[0], grid.at[1] + (row - 1) * grid.spacing[1])
        yield Spot(f"{grid.name.raw}.{column}.{row}", slot, at)
        number += 1
