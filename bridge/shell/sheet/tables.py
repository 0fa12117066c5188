"""Knows: the patch as tables to tick off: a row for each lamp, by decoder where the rig has any.

Must never know: where a lamp hangs on the picture, or loads.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Final

from bridge.core.guards import amps_of
from bridge.parts.switches import switches
from bridge.shell.sheet.inks import letters, tint
from bridge.shell.sums.loads import counted, hanging, volts_of
from bridge.values.rig import Decoder, Lamp, Rig

ROW: Final = 4.85
HEAD: Final = 9.0
"""Millimetres of a row, and of what stands above the rows of a part."""

FEWEST: Final = 4
"""Rows that are worth beginning on what is left of a sheet."""


@dataclass(frozen=True, slots=True)
class Part:
    """Lamps that hang together: those of a decoder, or of a universe that has none."""

    title: str
    lamps: list[Lamp]
    box: Decoder | None


def parts(rig: Rig) -> list[Part]:
    """The lamps by decoder; then those of each universe that no decoder takes."""
    found = hanging(rig)
    out = [Part(_box_title(box, found[box.name]), found[box.name], box) for box in rig.decoders]
    boxed = {lamp.index for lamps in found.values() for lamp in lamps}
    for universe in rig.universes:
        rest = [lamp for lamp in rig.lamps if lamp.universe == universe and lamp.index not in boxed]
        if rest:
            some = any(box.universe == universe for box in rig.decoders)
            title = f"Universe {universe}" + (": on no decoder of the file" if some else "")
            out.append(Part(title, sorted(rest, key=lambda lamp: lamp.slot), None))
    return out


def patch(rig: Rig, room: float, sheet: float) -> str:
    """All tables, two side by side, cut so that each stands whole on a sheet. Every text is escaped.

    Args:
        room: millimetres left on the first sheet. sheet: millimetres of a whole one.
    """
    signs = letters(lamp.colour for lamp in rig.lamps)
    volts = volts_of(rig)
    out = []
    for part in parts(rig):
        out.append('<section class="part">')
        setting = (
            f'<span class="dip">address {part.box.start:03d} {dip(part.box.start)}</span>' if part.box else ""
        )
        out.append(f"<h3>{escape(part.title)} {setting}</h3>")
        if not part.lamps:
            out.append('<p class="none">No lamp of the file hangs on it.</p>')
        lamps = part.lamps
        while lamps:
            if room < HEAD + min(FEWEST, len(lamps)) * ROW:
                room = sheet
            rows = int((room - HEAD) / ROW)
            some, lamps = lamps[: 2 * rows], lamps[2 * rows :]
            half = -(-len(some) // 2) if len(some) > FEWEST else len(some)
            room -= HEAD + half * ROW
            out.append('<div class="pair">')
            out += [_table(part, side, signs, volts) for side in (some[:half], some[half:]) if side]
            out.append("</div>")
        out.append("</section>")
    return "\n".join(out)


def _table(part: Part, lamps: list[Lamp], signs: dict[str, str], volts: dict[str, float]) -> str:
    # A decoder is set once; where lamps stand alone, each may have switches of its own.
    third = "output" if part.box else "switches 1 to 9"
    head = f"<tr><th>done</th><th>slot</th><th>{third}</th><th>lamp</th><th>colour</th><th>amps</th></tr>"
    kind = ("boxed" if part.box else "bare") + (" wide" if any(lamp.bits == 16 for lamp in lamps) else "")
    return (
        f'<table class="{kind}"><thead>{head}</thead><tbody>'
        + "".join(_row(part, lamp, signs, volts) for lamp in lamps)
        + "</tbody></table>"
    )


def _row(part: Part, lamp: Lamp, signs: dict[str, str], volts: dict[str, float]) -> str:
    slot = f"{lamp.slot}+{lamp.slot + 1}" if lamp.bits == 16 else str(lamp.slot)
    third = str(lamp.slot - part.box.start + 1) if part.box else dip(lamp.slot)
    amps = amps_of(lamp, volts)
    kind = f' <span class="kind">{escape(lamp.kind)}</span>' if lamp.kind else ""
    return (
        f'<tr><td class="tick"><span class="box"></span></td><td class="slot">{slot}</td><td>{third}</td>'
        f'<td class="lamp">{escape(lamp.name)}{kind}</td>'
        f'<td><span class="swatch" style="background:{tint(lamp.colour)}">{signs[lamp.colour]}</span></td>'
        f'<td class="amps">{f"{amps:.2g}" if amps else "?"}</td></tr>'
    )


def _box_title(box: Decoder, lamps: list[Lamp]) -> str:
    last = box.start + box.slots - 1
    return f"{box.name}: universe {box.universe}, slots {box.start} to {last}, {counted(len(lamps), 'lamp')}"


def dip(address: int) -> str:
    """Nine switches as drawn on the box, switch 1 at the left; on is up and black."""
    on = switches(address)
    if on is None:
        return '<span class="dip-none">nine switches cannot say 512</span>'
    said = ", ".join(str(place + 1) for place, is_on in enumerate(on) if is_on)
    bits = []
    for place, is_on in enumerate(on):
        top = 0.4 if is_on else 2.6
        bits.append(f'<rect x="{place * 2.4 + 0.2:g}" y="0.2" width="2" height="4.6" class="well"/>')
        kind = "on" if is_on else "off"
        bits.append(f'<rect x="{place * 2.4 + 0.4:g}" y="{top:g}" width="1.6" height="2" class="{kind}"/>')
    return (
        f'<svg class="switches" viewBox="0 0 21.6 5" width="21.6mm" height="5mm" role="img" '
        f'aria-label="switches on: {said}">{"".join(bits)}</svg>'
    )
