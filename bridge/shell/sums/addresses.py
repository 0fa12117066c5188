"""Knows: which slots are taken by what, where there are gaps and overlaps, how fast a universe can be sent.

Must never know: amps and volts, or how a sum is shown on paper.
"""

from __future__ import annotations

from bridge.parts.switches import switch_text
from bridge.shell.outputs import spec_name
from bridge.shell.sums.loads import counted, listed
from bridge.values.rig import Decoder, Lamp, Rig
from bridge.wire.dmx_serial import LEAST_BREAK_US, LEAST_MARK_US, LEAST_PACKET_US, SLOT_US, highest_refresh_hz


def address_lines(rig: Rig) -> list[str]:
    """The slots of each universe: decoders and their start addresses, gaps, overlaps, lamps on no decoder."""
    lines: list[str] = []
    for universe in rig.universes:
        lamps = [lamp for lamp in rig.lamps if lamp.universe == universe]
        boxes = sorted((box for box in rig.decoders if box.universe == universe), key=lambda box: box.start)
        used = sorted({slot for lamp in lamps for slot in slots_of(lamp)})
        lines.append(
            f"universe {universe}: {counted(len(lamps), 'lamp')} on slots {ranges(used)}, {len(used)} of 512"
        )
        for box in boxes:
            lines.append(f"  {_box(box, used)}")
        if boxes:
            lines += _between(boxes, lamps)
        elif gaps := [slot for slot in range(1, used[-1]) if slot not in set(used)]:
            lines.append(f"  gaps: {ranges(gaps)}")
        for slot, sharing in _shared(lamps).items():
            lines.append(f"  slot {slot} is shared by {listed(sharing)}: they light together")
    return lines


def slots_of(lamp: Lamp) -> range:
    """The slots of a lamp."""
    return range(lamp.slot, lamp.slot + lamp.bits // 8)


def _box(box: Decoder, used: list[int]) -> str:
    last = box.start + box.slots - 1
    mine = [slot for slot in used if box.start <= slot <= last]
    free = [slot for slot in range(box.start, last + 1) if slot not in set(mine)]
    rest = f", free: {ranges(free)}" if free else ""
    return (
        f"{box.name}: slots {box.start} to {last}, address {box.start:03d}, "
        f"switches on: {switch_text(box.start)}; {len(mine)} of {box.slots} in use{rest}"
    )


def _between(boxes: list[Decoder], lamps: list[Lamp]) -> list[str]:
    """Gaps between decoders, slots that two of them take, and lamps that none takes."""
    taken: dict[int, list[str]] = {}
    for box in boxes:
        for slot in range(box.start, box.start + box.slots):
            taken.setdefault(slot, []).append(box.name)
    lines = []
    gaps = [slot for slot in range(1, max(taken)) if slot not in taken]
    if gaps:
        lines.append(f"  gaps, on no decoder: {ranges(gaps)}")
    twice: dict[tuple[str, ...], list[int]] = {}
    for slot, names in sorted(taken.items()):
        if len(names) > 1:
            twice.setdefault(tuple(names), []).append(slot)
    for both, slots in twice.items():
        lines.append(
            f"  warning: overlap: {' and '.join(both)} both take {ranges(slots)}, and light together"
        )
    lost = [lamp.name for lamp in lamps if not any(box.carries(lamp) for box in boxes)]
    if lost:
        lines.append(f"  warning: on no decoder: {listed(lost)}")
    return lines


def _shared(lamps: list[Lamp]) -> dict[int, list[str]]:
    by_slot: dict[int, list[str]] = {}
    for lamp in lamps:
        for slot in slots_of(lamp):
            by_slot.setdefault(slot, []).append(lamp.name)
    return {slot: names for slot, names in sorted(by_slot.items()) if len(names) > 1}


def ranges(slots: list[int]) -> str:
    """Slots as ranges: `1 to 24, 40`."""
    out: list[str] = []
    first = last = slots[0]
    for slot in [*slots[1:], -1]:
        if slot == last + 1:
            last = slot
            continue
        out.append(f"{first}" if first == last else f"{first} to {last}")
        first = last = slot
    return ", ".join(out[:12]) + (f" and {len(out) - 12} ranges more" if len(out) > 12 else "")


def rate_lines(rig: Rig) -> list[str]:
    """The highest refresh rate that ANSI E1.11 lets each universe have, and each serial line of ours."""
    lines = []
    for universe in rig.universes:
        top = rig.top_slot(universe)
        most = highest_refresh_hz(top, LEAST_BREAK_US)
        lines.append(
            f"universe {universe}: {rig.refresh_hz:g} pictures a second; its {top} slots allow {most:.2f} "
            f"at most ({_formula(top, LEAST_BREAK_US)}; ANSI E1.11)"
        )
    for spec in rig.outputs:
        if spec.kind == "serial" and spec.framing == "break":
            top = max(rig.top_slot(spec.sends), spec.pad_to)
            most = highest_refresh_hz(top, spec.break_us)
            lines.append(f"{spec_name(spec)}: {most:.2f} at most ({_formula(top, spec.break_us)})")
    return lines


def _formula(top: int, break_us: int) -> str:
    return f"1 s / max({LEAST_PACKET_US} us, {break_us} us + {LEAST_MARK_US} us + {SLOT_US} us x {top + 1})"
