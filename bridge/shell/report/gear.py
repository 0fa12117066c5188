"""Knows: the parts of a report that tell of things: outputs up and down, guards and supplies, the machine.

Must never know: lateness, or how the page is set.
"""

from __future__ import annotations

from bridge.shell.guard_lines import OFF
from bridge.shell.report.collect import Collected
from bridge.shell.report.drawing import heading, note, over, said, strip, table, text
from bridge.shell.report.facts import Facts
from bridge.shell.report.output_log import OutputLog
from bridge.shell.report.spread import CHARTS
from bridge.shell.report.words import clock, counted, length, percent
from bridge.values.beat import OutputState

STATES = ("up", "opening", "down")
BANDS = "Filled: up. Grey: opening. Empty: down, if only for a moment of that stretch."

GUARDS_READING = (
    "How long is looked at a few times a second. A guard is a program: fuses, wires and whoever stands by "
    "the switch protect people. That a guard held nothing back proves no light safe."
)
SUPPLIES_READING = (
    "Sums of what the lamps were told, by the rig file, looked at a few times a second. Nothing was "
    "measured, and the peak of pulse-width dimming is higher: see lampwright check."
)


def outputs(show: Collected, facts: Facts) -> str:
    """Each output: when it was up, why not, what it sent."""
    begin = heading("Outputs")
    if not show.outputs:
        return begin + said("None: nothing left this machine.")
    ends = [*facts.states, *[None] * len(show.outputs)]
    rows = [(log.name, _up(log), *_ends(log, end)) for log, end in zip(show.outputs, ends, strict=False)]
    bands = "".join(_band(log) for log in show.outputs[: 2 * CHARTS] if log.states.values)
    return (
        begin
        + f"<figure><figcaption>{text(BANDS)}</figcaption>{bands}</figure>"
        + table("Outputs", ("output", "up", "packets", "failures", "at the end"), rows, quiet=True)
        + _spells(show)
        + note("A packet that left is not one that arrived: neither a network nor a DMX line answers.")
    )


def _band(log: OutputLog) -> str:
    told = f"{log.name}: up {_up(log)} of the show"
    return over(log.name) + strip(told, log.states.values, log.states.width, STATES, axis=True)


def _spells(show: Collected) -> str:
    rows = [
        (log.name, f"{clock(one.begin, True)} to {clock(one.end, True)}", one.word, one.note or "not told")
        for log in show.outputs
        for one in log.spells
        # Every output is opened once, and in no time: that is no news.
        if one.word != "opening" or one.note or one.end - one.begin >= 1.0
    ]
    more = sum(log.troubles - len(log.spells) for log in show.outputs)
    told = table("When an output was not up", ("output", "in the show", "state", "why"), rows) if rows else ""
    return told + (note(f"{counted(more, 'more time')} not listed.") if more else "")


def _up(log: OutputLog) -> str:
    return percent(log.up_seconds / log.seconds) if log.seconds > 0.0 else "not seen"


def _ends(log: OutputLog, end: OutputState | None) -> tuple[str, str, str]:
    if end is None:
        return f"{log.packets:,}", "not known", "not known"
    return f"{end.sent:,}", f"{end.failed:,}", end.note or end.state


def guards(show: Collected, facts: Facts) -> str:
    """What each guard held back, and the currents of the supplies."""
    rows = []
    for name, mode in facts.rig.guards.items():
        times = facts.held.get(name, (0.0, 0))[1]
        at = show.guards.index(name) if name in show.guards else -1
        seconds, most = (show.held_seconds[at], show.held_most[at]) if at >= 0 else (0.0, 0.0)
        if mode == "off":
            rows.append((name, "OFF", "", "", OFF.get(name, "")))
            continue
        warned = "" if mode == "limit" else "it only tells; everything goes out"
        count, held = (
            (counted(times, "time"), length(seconds) if seconds else "moments") if times else ("never", "")
        )
        rows.append((name, mode, count, held, f"{_most(most)}{warned}"))
    found = table("Guards", ("guard", "set to", "began to hold", "held for", "how much"), rows, quiet=True)
    return heading("Guards") + found + _supplies(show, facts) + note(GUARDS_READING)


def _supplies(show: Collected, facts: Facts) -> str:
    rows = [
        (supply.name, f"{now:.2f} A", f"{supply.amps * (1.0 - supply.headroom):.2f} A", f"{supply.amps:g} A")
        for supply, now in zip(facts.rig.supplies, show.amps, strict=False)
    ]
    if not rows:
        return ""
    head = ("supply", "highest current told", "may be used", "gives")
    return table("Supplies", head, rows) + note(SUPPLIES_READING)


def _most(share: float) -> str:
    return f"up to {percent(share)} of a lamp. " if share > 0.0 else ""


def machine(show: Collected, facts: Facts) -> str:
    """What it ran on."""
    box, rig = facts.machine, facts.rig
    known, told = facts.priority if facts.priority is not None else (False, "")
    priority = "not known" if facts.priority is None else f"{'yes' if known else 'no'}: {told}"
    rows = [
        ("system", box.system),
        ("cores", str(box.cores or "not known")),
        ("Python", box.python),
        ("real-time priority", priority),
        ("refresh", f"{show.hz:g} frames a second"),
        ("rig", f"{counted(len(rig.lamps), 'lamp')} on {counted(len(rig.universes), 'universe')}"),
    ]
    if facts.program:
        rows.insert(0, ("program", facts.program))
    slept = show.away + facts.slept
    if slept >= 1.0:
        rows.append(("slept during the show", length(slept)))
    if facts.error:
        rows.append(("last error of ours", facts.error))
    return heading("The machine") + table("The machine", (), rows, quiet=True)
