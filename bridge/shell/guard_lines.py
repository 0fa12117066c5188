"""Knows: how the guards of a rig are said to the player: which are off, and what each holds back.

Must never know: how a guard decides, or who shows the lines.
"""

from __future__ import annotations

from bridge.core.engine import Engine
from bridge.values.rig import Rig

OFF = {
    "heat": "nothing eases back a lamp that stands too long at full",
    "load": "nothing keeps the supplies and decoders from more current than they may give",
    "flash": "nothing keeps the light to three flashes in any second, and faster flashing can set off "
    "seizures: warn the audience at the door",
}
"""Guard -> what its absence means."""


def off_lines(rig: Rig) -> list[str]:
    """A line for each guard that the rig file switches off; to be said at every start."""
    return [
        f"the {name} guard is off, as the rig file says (guards: {{{name}: off}}): {meaning}"
        for name, meaning in OFF.items()
        if rig.guards.get(name) == "off"
    ]


def held_lines(engine: Engine) -> list[str]:
    """A line for each guard that holds back now, or in `warn` only tells that it would."""
    lines = []
    for name, guard in engine.guards.items():
        share, times = guard.held
        if share <= 0.0:
            continue
        limits = engine.rig.guards.get(name, "limit") == "limit"
        verb = "holds back" if limits else "is set to warn; limiting, it would now hold back"
        lines.append(
            f"the {name} guard {verb} up to {round(100 * share)} % of a lamp ({_times(times)} so far)"
        )
    return lines


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
