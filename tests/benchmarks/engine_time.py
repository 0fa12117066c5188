"""What one frame costs the engine: 64 keys down over 24, 512 and 4096 lamps, and 500 rules over 512 lamps.

The levels move all the time (a decay of a minute), so that nothing can be kept from the frame before. With
guards means `limit` for load, flash and heat. Counted is the processor's time, so that other programs on the
machine do not show.

Run it by hand: `python -m tests.benchmarks.engine_time`. Not part of the test run.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Sequence
from dataclasses import replace

from bridge.core.engine import Engine
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.events import NoteOn
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from tests.benchmarks.show import machine, spread, table

FRAMES, HZ, KEYS = 1200, 40.0, range(32, 96)

RIG = """\
rig: Benchmark
refresh_hz: 40
supplies: {{main: {{volts: 12, amps: {amps}}}}}
lamp_types: {{lamp: {{watts: 8, response: cie, floor: 0.02}}}}
grids:
{grids}
guards: {{load: limit, flash: limit, heat: limit}}
"""

MAPPING = """\
mapping: Benchmark
feel: slow
feels: {{slow: {{attack_ms: 50, decay_ms: 60000, sustain: 0.2, release_ms: 500}}}}
keys:
{keys}
"""


def rig(columns: int, rows: int, universes: int = 1) -> Rig:
    """So many lamps in each universe, on one supply that holds half of them at full."""
    grids = [
        f"  - {{name: g{number}, columns: {columns}, rows: {rows}, at: [0, {number * rows}], "
        f"spacing: [1, 1], type: lamp, supply: main, universe: {number}, slot: 1}}"
        for number in range(1, universes + 1)
    ]
    amps = max(1, columns * rows * universes * 8 // 24)
    return rig_from_text(RIG.format(grids="\n".join(grids), amps=amps))[0]


def keys_over(lamps: Rig) -> Mapping:
    """64 keys, all lamps dealt out among them."""
    names = [lamp.name for lamp in lamps.lamps]
    lines = []
    for place, note in enumerate(KEYS):
        mine = names[place :: len(KEYS)] or [names[place % len(names)]]
        lines.append(f"  - {{notes: {note}, lamps: [{', '.join(mine)}], spread: together}}")
    return mapping_from_text(MAPPING.format(keys="\n".join(lines)), lamps)[0]


def many_rules(lamps: Rig, count: int) -> Mapping:
    """Rules of one note and one lamp each; every key down is heard by seven or eight of them."""
    lines = [
        f"  - {{notes: {KEYS[number % len(KEYS)]}, lamps: {lamps.lamps[number % len(lamps.lamps)].name}}}"
        for number in range(count)
    ]
    return mapping_from_text(MAPPING.format(keys="\n".join(lines)), lamps)[0]


def milliseconds(lamps: Rig, mapping: Mapping) -> Sequence[float]:
    """What each frame took of the processor once all 64 keys are down."""
    engine = Engine(lamps, mapping)
    engine.advance([NoteOn(0.0, "file", 1, note, 64 + note // 2) for note in KEYS], 0.0)
    took = []
    gc.collect()
    gc.disable()
    for k in range(1, FRAMES + 1):
        begin = time.thread_time()
        engine.advance([], k / HZ)
        took.append((time.thread_time() - begin) * 1e3)
    gc.enable()
    return took[40:]


def main() -> None:
    """Print the table."""
    conditions = machine()
    off = dict.fromkeys(("load", "flash", "heat"), "off")
    rows = []
    for name, lamps, rules in (
        ("24 lamps", rig(6, 4), 0),
        ("512 lamps", rig(32, 16), 0),
        ("4096 lamps, 8 universes", rig(32, 16, 8), 0),
        ("512 lamps, 500 rules", rig(32, 16), 500),
    ):
        mapping = many_rules(lamps, rules) if rules else keys_over(lamps)
        for guards, which in (("off", replace(lamps, guards=off)), ("on", lamps)):
            took = milliseconds(which, mapping)
            share = 100 * sorted(took)[len(took) // 2] * HZ / 1e3
            rows.append((name, guards, *spread(took, 3), f"{share:.1f} %"))
    head = ("rig, 64 keys down", "guards", "p50 ms", "p99 ms", "max ms", "of a frame at 40 Hz")
    table("Engine: processor time per frame", head, rows, (conditions,))


if __name__ == "__main__":
    main()
