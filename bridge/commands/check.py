"""Knows: what `check` says of a rig and a mapping.

Must never know: how files are read, or any formula.
"""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from bridge.commands.loading import Say, load
from bridge.shell.cautions import cautions
from bridge.shell.files import read_rig
from bridge.shell.outputs import lights_nothing, spec_name
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from bridge.wire.dmx_serial import highest_refresh_hz


def check(say: Say, rig_path: Path, mapping_path: Path | None) -> int:
    """Say what is wrong, what is odd, and what the rig is.

    Raises:
        FileError: what is wrong, all at once.
    """
    if mapping_path is None and rig_path == Path("rig.yaml") and Path("mapping.yaml").exists():
        mapping_path = Path("mapping.yaml")
    mapping: Mapping | None = None
    if mapping_path is None:
        rig, found = read_rig(rig_path)
        warnings = [str(warning) for warning in found]
    else:
        rig, mapping, warnings = load(rig_path, mapping_path)
    say(f"{rig_path}: {rig.name}: {len(rig.lamps)} lamps on {_count(len(rig.universes), 'universe')}")
    if mapping is not None:
        rules = len(mapping.keys) + len(mapping.sets) + len(mapping.does)
        say(f"{mapping_path}: {mapping.name}: {_count(rules, 'rule')}, {_count(len(mapping.looks), 'look')}")
    for warning in warnings:
        say(warning)
    _patch(say, rig)
    _rates(say, rig)
    _outputs(say, rig)
    say("\nCautions")
    for caution in cautions(rig):
        say(textwrap.fill(caution, 100, initial_indent="  - ", subsequent_indent="    "))
    return 0


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _patch(say: Say, rig: Rig) -> None:
    for universe in rig.universes:
        say(f"\nUniverse {universe}, slot: lamp")
        lamps = sorted((lamp for lamp in rig.lamps if lamp.universe == universe), key=lambda lamp: lamp.slot)
        cells = []
        for lamp in lamps:
            slot = f"{lamp.slot:>3}+{lamp.slot + 1}" if lamp.bits == 16 else f"{lamp.slot:>3}"
            cells.append(f"{slot}: {lamp.name}")
        say(_columns(cells))
        free = _gaps([slot for lamp in lamps for slot in range(lamp.slot, lamp.slot + lamp.bits // 8)])
        if free:
            say(f"  not in use: {free}")
    by_slot: dict[tuple[int, int], list[str]] = defaultdict(list)
    for lamp in rig.lamps:
        by_slot[lamp.universe, lamp.slot].append(lamp.name)
    for (universe, number), names in by_slot.items():
        if len(names) > 1:
            say(f"  slot {number} of universe {universe} is shared by {', '.join(names)}")


def _columns(cells: Sequence[str], width: int = 100) -> str:
    wide = max(len(cell) for cell in cells) + 3
    across = max(1, width // wide)
    down = -(-len(cells) // across)
    rows = [cells[row::down] for row in range(down)]
    return "\n".join("  " + "".join(cell.ljust(wide) for cell in row).rstrip() for row in rows)


def _gaps(slots: Sequence[int]) -> str:
    """Slots below the highest that no lamp uses, as ranges."""
    out, used = [], set(slots)
    start = None
    for slot in range(1, max(used) + 2):
        if slot not in used and slot <= max(used):
            start = slot if start is None else start
        elif start is not None:
            out.append(f"{start}" if start == slot - 1 else f"{start} to {slot - 1}")
            start = None
    return ", ".join(out)


def _rates(say: Say, rig: Rig) -> None:
    say("\nRefresh rate")
    for universe in rig.universes:
        top = rig.top_slot(universe)
        most = highest_refresh_hz(top)
        say(
            f"  universe {universe}: {rig.refresh_hz:g} a second; {top} slots allow {most:.2f} at most "
            f"(ANSI E1.11: 1 s / max(1204 us, 92 us + 12 us + 44 us x {top + 1}))"
        )


def _outputs(say: Say, rig: Rig) -> None:
    say("\nOutputs")
    for spec in rig.outputs:
        note = lights_nothing(spec)
        say(f"  universe {spec.sends} to {spec_name(spec)}" + (f"; {note}" if note else ""))
    if not rig.outputs:
        say("  none: nothing leaves this machine; the terminal shows the rig")
