"""Knows: what `check` says of a rig and a mapping.

Must never know: how files are read, or any formula.
"""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from bridge.commands.evening import check_set, first_mapping
from bridge.commands.loading import Say, load
from bridge.shell.awake import on_battery
from bridge.shell.cautions import cautions
from bridge.shell.draw_keyboard import keyboard_chart
from bridge.shell.explain import explain
from bridge.shell.files import read_rig
from bridge.shell.outputs import lights_nothing, spec_name
from bridge.shell.sheet import must_be_page, write_sheet
from bridge.shell.sums import sum_lines
from bridge.shell.sums.addresses import ranges
from bridge.values.errors import UsageError
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig


def check(
    say: Say,
    rig_path: Path,
    mapping_path: Path | None,
    chart: Path | None = None,
    sheet: Path | None = None,
    set_list: Path | None = None,
) -> int:
    """Say what is wrong, what is odd, what the rig is and what plays it.

    Args:
        chart: where to write a picture of the keys and pads with the names of their lamps.
        sheet: where to write the page to wire and check the rig by.
        set_list: the evening to check, with every file it names.

    Raises:
        FileError: what is wrong, all at once.
        UsageError: a chart without a mapping; a sheet that is no page.
        DeviceError: the chart or the sheet cannot be written.
    """
    if sheet is not None:
        must_be_page(sheet)
    if mapping_path is None and rig_path == Path("rig.yaml") and Path("mapping.yaml").exists():
        mapping_path = Path("mapping.yaml")
    if mapping_path is None and set_list is not None:
        mapping_path = first_mapping(set_list)
    mapping: Mapping | None = None
    if mapping_path is None:
        rig, found = read_rig(rig_path)
        warnings = [str(warning) for warning in found]
    else:
        rig, mapping, warnings = load(rig_path, mapping_path)
    say(f"{rig_path}: {rig.name}: {len(rig.lamps)} lamps on {_count(len(rig.universes), 'universe')}")
    if mapping is not None:
        say(f"{mapping_path}: {mapping.name}: {_counts(mapping)}")
    for warning in warnings:
        say(warning)
    if on_battery():
        say("this computer runs on its battery, which may slow it down and end the show: plug it in")
    _patch(say, rig)
    if mapping is not None:
        for line in explain(rig, mapping):
            say(line)
    for line in sum_lines(rig):
        say(line)
    _outputs(say, rig)
    say("\nCautions")
    for caution in cautions(rig):
        say(textwrap.fill(caution, 100, initial_indent="  - ", subsequent_indent="    "))
    if set_list is not None:
        if mapping is None:
            raise UsageError(
                "--set checks an evening; add --mapping FILE, or write mapping.yaml here, "
                "which plays the songs that name none"
            )
        check_set(say, set_list, rig, mapping, rig_path)
    if sheet is not None:
        write_sheet(rig, sheet)
        say(f"\nwrote {sheet}: open it in a browser and print it on A4")
    if chart is not None:
        if mapping is None:
            raise UsageError("--chart draws the keys of a mapping; add --mapping and its file")
        keyboard_chart(rig, mapping, chart)
        say(f"\nwrote {chart}")
    return 0


def _counts(mapping: Mapping) -> str:
    """How much of everything a mapping has; rules are those of keys, controls and sound."""
    rules = (mapping.keys, mapping.texture_keys, mapping.sets, mapping.does, mapping.sound)
    return ", ".join(
        (
            _count(sum(len(some) for some in rules), "rule"),
            _count(len(mapping.chords), "chord shape"),
            _count(len(mapping.looks), "look"),
            _count(len(mapping.textures), "texture"),
        )
    )


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


def _outputs(say: Say, rig: Rig) -> None:
    say("\nOutputs")
    for spec in rig.outputs:
        note = lights_nothing(spec)
        sent = list(spec.numbers(rig.universes))
        word = "universes" if len(sent) > 1 else "universe"
        say(f"  {word} {ranges(sent)} to {spec_name(spec)}" + (f"; {note}" if note else ""))
    if not rig.outputs:
        say("  none: nothing leaves this machine; the terminal shows the rig")
