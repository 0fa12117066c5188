"""Knows: how a fault of wiring is said, and what to do about it.

Must never know: how it was found.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.parts.switches import switch_text
from bridge.values.rig import Lamps, Rig
from bridge.values.wiring import Diagnosis, Fault, Slot

FROM = {
    "lower_left": "lower left",
    "lower_right": "lower right",
    "upper_left": "upper left",
    "upper_right": "upper right",
}
RUN = {"rows": "row by row", "columns": "column by column", "snake": "row by row to and fro"}
SHOWN = 8


def fault_lines(rig: Rig, diagnosis: Diagnosis) -> list[str]:
    """A line for each fault: what was seen, what it is, what would mend it."""
    lines = [_said(rig, fault, diagnosis.faults) for fault in diagnosis.faults]
    lines += [
        f"{rig.lamps[lamp].name} was not seen; {_slot(rig, diagnosis.hangs[lamp])} is what is left for it"
        for lamp in diagnosis.guessed
    ]
    if diagnosis.lost:
        lines.append(
            "where these hang nobody has seen, and another lamp is on their slot: "
            f"{_names(rig, diagnosis.lost)}; walk the rest, too"
        )
    return lines


def _said(rig: Rig, fault: Fault, all_of_them: Sequence[Fault]) -> str:
    names = _names(rig, fault.lamps)
    if fault.kind == "swapped":
        one, other = (rig.lamps[lamp].name for lamp in fault.lamps)
        (a, b) = (_slot(rig, slot) for slot in fault.slots)
        return f"swapped pair: {one} hangs on {a}, {other} on {b}; swap their wires, or let the file say so"
    if fault.kind == "crossed":
        hang = ", ".join(
            f"{rig.lamps[lamp].name} on {_slot(rig, slot)}"
            for lamp, slot in list(zip(fault.lamps, fault.slots, strict=True))[:SHOWN]
        )
        return (
            f"crossed wires, {len(fault.lamps)} in a circle: {hang}; put them right, or let the file say so"
        )
    if fault.kind == "shifted":
        return _shifted(rig, fault, all_of_them)
    if fault.kind == "order":
        run = f"{RUN[fault.order]} from the {FROM[fault.corner]}"
        return (
            f"the slots of {fault.where} run {run}: its order is another than the file's; write "
            f"order: {fault.order}, from: {fault.corner}, or let the file list its slots"
        )
    if fault.kind == "reversed":
        return (
            f"{fault.order} {fault.corner} of {fault.where} is the other way round ({names}); plug it in "
            "from its other end, or let the file say so"
        )
    if fault.kind == "moved":
        at = _slot(rig, fault.slots[0])
        return f"{names} hangs on {at}, not where the file has it; move it, or let the file say so"
    if fault.kind == "doubled":
        others = _names(rig, fault.lamps[1:])
        return (
            f"{rig.lamps[fault.lamps[0]].name} hangs on {_slot(rig, fault.slots[0])} together with "
            f"{others}; give it an output of its own"
        )
    if fault.kind == "bridged":
        a, b = (_slot(rig, slot) for slot in fault.slots)
        return (
            f"{names} lights with {a} and with {b}: two outputs are joined; switch the supply off and "
            "part them, joined outputs can burn"
        )
    if fault.kind == "dead":
        return (
            f"{names} stays dark ({_slot(rig, fault.slots[0])} does not light it): look at the lamp, its "
            "fuse, its wire, and the output"
        )
    if fault.kind == "dark":
        what = {"decoder": "decoder ", "universe": "universe "}.get(fault.what, "")
        return (
            f"nothing of {what}{fault.where} lights ({len(fault.lamps)} lamps tried): look at its supply "
            "and fuse, its data cable, and its address"
        )
    lit = _names(rig, fault.lamps[1:]) or "nothing"
    return f"odd: {_slot(rig, fault.slots[0])} lights {lit}, and no fault we know explains it; walk once more"


def _shifted(rig: Rig, fault: Fault, all_of_them: Sequence[Fault]) -> str:
    slots = f"{abs(fault.by)} slots" if abs(fault.by) != 1 else "one slot"
    way = f"{slots} too {'high' if fault.by > 0 else 'low'}"
    box = next((box for box in rig.decoders if fault.what == "decoder" and box.name == fault.where), None)
    universe = fault.slots[0][0]
    if box is None:
        what = f"universe {fault.where}" if fault.what == "universe" else fault.where
        off = "off by one: " if abs(fault.by) == 1 else ""
        return f"{off}all of {what} answers {way}; set its start address, or let the file say so"
    if universe != box.universe:
        return (
            f"wrong line: decoder {box.name} answers in universe {universe}, not {box.universe}; plug it "
            "into the other data line"
        )
    now = box.start + fault.by
    right = f"set its switches to {box.start:03d} (on: {switch_text(box.start)}), "
    right += f"or let the file say start: {now}"
    other = next(
        (one for one in rig.decoders if one.universe == universe and one.start == now and one is not box),
        None,
    )
    if other is not None:
        back = any(
            one.kind == "shifted" and one.where == other.name and one.by == -fault.by for one in all_of_them
        )
        wrong = f"has the address of {other.name}" + (
            ", and that has this one's: the two are exchanged" if back else ""
        )
        return f"wrong box: decoder {box.name} {wrong}; {right}"
    off = "off by one" if abs(fault.by) == 1 else "wrong start address"
    return f"{off}: decoder {box.name} answers from slot {now} on, {way}; {right}"


def _slot(rig: Rig, slot: Slot) -> str:
    return f"slot {slot[1]}" if len(rig.universes) == 1 else f"universe {slot[0]} slot {slot[1]}"


def _names(rig: Rig, lamps: Lamps) -> str:
    names = [rig.lamps[lamp].name for lamp in lamps]
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    return ", ".join(names[:SHOWN]) + more
