"""Knows: what can be wrong with one entry of `lamps` or `grids` beyond its single values.

Must never know: other entries, or how lamps are made.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.shell.files.check import Item
from bridge.shell.files.nodes import Table
from bridge.shell.files.report import Report, listed, quote
from bridge.shell.files.rig_model import GridEntry, LampEntry
from bridge.shell.files.rig_types import Bulb, Types
from bridge.values.frame import SLOTS

Hanging = Item[LampEntry] | Item[GridEntry]


def refers(item: Hanging, types: Types, supplies: Mapping[str, object], report: Report) -> bool:
    """Report a supply or type that is not there; True if the entry's lights are known."""
    supply, kind = item.value.supply, item.value.type
    if supply is not None and supply.raw not in supplies:
        report.unknown(supply, "supply", supply.raw, supplies)
    if kind is None:
        return item.good("type")
    if kind.raw not in types:
        report.unknown(kind, "lamp type", kind.raw, types)
    return types.get(kind.raw) is not None


def one_slot(item: Hanging, report: Report) -> bool:
    """Report an entry with no slot, or with both ways of giving one; True if there is one way."""
    if not item.good("slot", "slots"):
        return False
    one, many = item.value.slot is not None, item.value.slots is not None
    if one and many:
        report.error(item.node.keys_at["slots"], "both slot and slots", "give one of them")
    elif not one and not many:
        what = f"{quote(item.value.name.raw)} has no key 'slot'"
        report.error(item.node, what, f"give slot: its first slot, 1 to {SLOTS}")
    return one != many


def parts_fit(
    item: Item[LampEntry], slots: Mapping[str, int], lights: tuple[Bulb, ...], report: Report
) -> bool:
    """Report `slots` that do not name just the parts of the lamp's type; True if they do."""
    node = item.node["slots"]
    parts = [bulb.part for bulb in lights if bulb.part]
    if not parts:
        what = f"slots names parts, and {quote(item.value.name.raw)} has none"
        report.error(node, what, "give slot: a number, or a type with parts")
        return False
    for name in slots:
        if name not in parts and isinstance(node, Table):
            report.unknown(node.keys_at[name], "part", name, parts)
    missing = [name for name in parts if name not in slots]
    if missing:
        report.error(
            node, f"slots has nothing for {listed(missing)}", "give a slot for every part of the type"
        )
    return not missing


def skip_fits(item: Item[GridEntry], report: Report) -> bool:
    """Report places to skip that the grid does not have; True if lamps are left and all is well."""
    grid = item.value
    places = f"its places are 1.1 to {grid.columns}.{grid.rows}, column.row"
    outside = [
        (place, f"skip {column}.{row} is outside the grid")
        for column, row, place in grid.skip
        if not (1 <= column <= grid.columns and 1 <= row <= grid.rows)
    ]
    for place, what in outside:
        report.error(place, what, places)
    empty = not outside and len({place[:2] for place in grid.skip}) == grid.columns * grid.rows
    if empty:
        report.error(item.node.place("skip"), "skip leaves no lamp", "leave at least one place")
    return not outside and not empty and item.good("skip", "order", "from")


def floors_fit(item: Hanging, types: Types, lights: tuple[Bulb, ...], report: Report) -> None:
    """Report a light whose floor is over its ceiling, where that was written."""
    over = next((bulb for bulb in lights if bulb.floor > bulb.ceiling), None)
    if over is None:
        return
    kind = types.get(item.value.type.raw) if item.value.type else None
    tables = [item.node]
    if kind is not None:
        parts = kind.node.get("parts")
        part = parts.get(over.part) if isinstance(parts, Table) else None
        tables += [table for table in (part, kind.node) if isinstance(table, Table)]
    keys = ("floor", "ceiling")
    place = next((table[key] for table in tables for key in keys if key in table), item.node)
    what = f"floor {over.floor:g} is over ceiling {over.ceiling:g}"
    report.error(place, what, "give a floor no higher than the ceiling")
