"""Knows: the loads of supplies as bars, the runs of cable as a table, and what to look at first.

Must never know: where lamps hang, or their slots.
"""

from __future__ import annotations

from html import escape
from typing import Final

from bridge.shell.sums import SECTIONS, Load, cable_rows, fuse_short, supply_loads
from bridge.values.rig import Rig

BAR: Final = 120.0
"""Millimetres of a bar that is full."""


def bars(rig: Rig) -> str:
    """A bar for each supply: connected, worst, typical, budget and what it gives. Every text is escaped."""
    out = []
    for supply, load in zip(rig.supplies, supply_loads(rig), strict=True):
        out.append(
            f'<div class="supply"><div class="who"><b>{escape(supply.name)}</b> {supply.volts:g} V, '
            f'{supply.amps:g} A</div>{_bar(load)}<div class="sum">{_sum(load)}</div></div>'
        )
    return "\n".join(out)


def _bar(load: Load) -> str:
    full = max(load.gives, load.connected)
    wide = {name: BAR * amps / full for name, amps in _amps(load).items()}
    shown = f"{load.connected:.3g} A connected, {load.worst:.3g} A worst, of {load.budget:.3g} A"
    marks = [
        f'<rect x="0" y="1" width="{wide["connected"]:.2f}" height="6" class="connected"/>',
        f'<rect x="0" y="1" width="{wide["worst"]:.2f}" height="6" class="worst"/>',
        f'<rect x="0" y="1" width="{wide["typical"]:.2f}" height="6" class="typical"/>',
        f'<rect x="0" y="1" width="{wide["gives"]:.2f}" height="6" class="frame"/>',
        f'<line x1="{wide["budget"]:.2f}" x2="{wide["budget"]:.2f}" y1="0" y2="8" class="budget"/>',
    ]
    return (
        f'<svg class="bar" viewBox="-0.5 0 {BAR + 1:g} 8" width="{BAR + 1:g}mm" height="8mm" role="img" '
        f'aria-label="{shown}">{"".join(marks)}</svg>'
    )


def _amps(load: Load) -> dict[str, float]:
    return {
        "connected": load.connected,
        "worst": load.worst,
        "typical": load.typical,
        "gives": load.gives,
        "budget": load.budget,
    }


def _sum(load: Load) -> str:
    over = " <b>TOO MUCH: over what the supply gives</b>" if load.connected > load.gives * (1 + 1e-9) else ""
    held = ""
    if not over and load.worst > load.budget * (1 + 1e-9):
        held = " (the load guard dims all of them together)"
    unknown = f"; {len(load.unknown)} lamps of unknown amps not counted" if load.unknown else ""
    return (
        f"typical {load.typical:.3g} A · worst {load.worst:.3g} A · connected (peak) "
        f"{load.connected:.3g} A · may be used {load.budget:.3g} A{held}{over}{unknown} · "
        f"{fuse_short(load)}"
    )


def cables(rig: Rig) -> str:
    """The runs of copper with what is lost in each; empty where the file describes none."""
    rows = [
        f'<tr><td class="tick"><span class="box"></span></td><td class="lamp">{escape(row.name)}</td>'
        f"<td>{escape(row.ends)}</td><td>{escape(row.wire)}</td><td>{row.amps}</td><td>{row.at_load}</td>"
        f"<td>{row.fuse}</td></tr>"
        for row in cable_rows(rig)
    ]
    if not rows:
        return ""
    words = ("done", "cable", "runs", "wire", "carries", "at the load", "fuse")
    head = "".join(f"<th>{word}</th>" for word in words)
    return (
        f'<h2>Cables</h2><table class="cables"><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>"
    )


def warnings(rig: Rig) -> list[str]:
    """What the sums warn of, each with what it is about; not escaped."""
    found = []
    for title, lines_of in SECTIONS:
        about = ""
        for line in lines_of(rig):
            text = line.strip()
            if text.startswith("warning: "):
                found.append(f"{title}, {about}: {text.removeprefix('warning: ')}")
            elif line == text:
                about = text.split(":")[0]
    return found
