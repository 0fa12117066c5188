"""Knows: which lamps share a name or a slot that they must not share.

Must never know: how lamps are made, groups, outputs.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.shell.files.report import Report, quote
from bridge.shell.files.rig_lamps import Origin
from bridge.values.rig import Lamp


def check_names(lamps: Sequence[Lamp], origins: Sequence[Origin], report: Report) -> None:
    """Report names that two lamps have, and a lamp whose name is the beginning of another's."""
    first: dict[str, Origin] = {}
    for origin in {id(origin): origin for origin in origins}.values():
        if origin.name.raw == "all":
            report.error(origin.name, "'all' is the group of every lamp", "call it something else")
    for lamp, origin in zip(lamps, origins, strict=True):
        before = first.setdefault(lamp.name, origin)
        if before is not origin:
            # Two grids of one name are told once, not lamp by lamp.
            alike = before.name.raw == origin.name.raw != lamp.name
            what = f"a second {quote(origin.name.raw)}" if alike else f"a second lamp {quote(lamp.name)}"
            report.error(origin.name, what, f"the first is on line {before.name.line}; rename one of them")
    for lamp, origin in zip(lamps, origins, strict=True):
        parts = lamp.name.split(".")
        for count in range(1, len(parts)):
            top = ".".join(parts[:count])
            if top in first:
                what = (
                    f"{quote(top)} is the lamp of line {first[top].name.line}, and other lamps begin with it"
                )
                report.error(origin.name, what, "rename one of them")


def check_slots(lamps: Sequence[Lamp], origins: Sequence[Origin], report: Report) -> None:
    """Report two lamps on one slot unless both share it; one report for each pair of entries."""
    taken: dict[tuple[int, int], int] = {}
    clashes: dict[tuple[int, int], list[tuple[Lamp, Lamp, int]]] = {}
    for lamp, origin in zip(lamps, origins, strict=True):
        for slot in range(lamp.slot, lamp.slot + lamp.bits // 8):
            there = taken.setdefault((lamp.universe, slot), lamp.index)
            other = origins[there]
            if there != lamp.index and not (origin.shares and other.shares):
                clashes.setdefault((id(other), id(origin)), []).append((lamps[there], lamp, slot))
    for found in clashes.values():
        first, second, slot = found[0]
        more = f", and {len(found) - 1} more slots" if len(found) > 1 else ""
        what = (
            f"slot {slot} of universe {second.universe} carries both {quote(first.name)} (line "
            f"{origins[first.index].name.line}) and {quote(second.name)} (line "
            f"{origins[second.index].name.line}){more}"
        )
        report.error(origins[second.index].slot, what, "give one another slot, or let both say shares: true")
