"""Knows: what `identify` does: a show whose only source walks the lamps one by one.

Must never know: wires, slots of the moment, or how a lamp is lit.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bridge.commands.loading import Say
from bridge.commands.performing import outputs, perform
from bridge.plan import Plan
from bridge.shell.feeds import ListFeed
from bridge.shell.files import read_rig
from bridge.values.errors import UsageError
from bridge.values.events import Do, Event
from bridge.values.mapping import Mapping


class Walk(ListFeed):
    """Lights lamp after lamp and says which, as the moment comes."""

    def __init__(self, events: Sequence[Event], lines: dict[float, str], say: Say) -> None:
        super().__init__(events)
        self._lines, self._say = lines, say

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        taken = super().take(until)
        for event in taken:
            if isinstance(event, Do) and event.value > 0.0:
                self._say(self._lines[event.stamp])
        return taken


def identify(say: Say, rig_path: Path, out: Sequence[str] | None, level: float, each: float) -> int:
    """Walk the rig."""
    rig, warnings = read_rig(rig_path)
    for warning in warnings:
        say(str(warning))
    specs = outputs(rig, out)
    if not specs:
        raise UsageError("the rig names no output, so no lamp would light; add --out, like --out sacn:HOST/1")
    events: list[Event] = []
    lines: dict[float, str] = {}
    for number, lamp in enumerate(rig.lamps):
        at = number * each
        slots = f"{lamp.slot} and {lamp.slot + 1}" if lamp.bits == 16 else f"{lamp.slot}"
        lines[at] = f"{number + 1} of {len(rig.lamps)}: {lamp.name}, universe {lamp.universe} slot {slots}"
        events += [Do(at, "light", lamp.name, level), Do(at + each, "light", lamp.name, 0.0)]
    say(
        "Each lamp lights alone, in the order of the rig file. One that stays dark, or another\n"
        "that lights in its place, is patched or wired differently from what the file says. Ctrl-C ends."
    )
    plan = Plan(rig, Mapping("identify"), specs, [Walk(events, lines, say)], len(rig.lamps) * each + 0.1)
    plan.title = "identify"
    return perform(say, plan)
