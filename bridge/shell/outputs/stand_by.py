"""Knows: which outputs a machine that stands by may open beside the machine that plays, and at what priority.

Must never know: how any output works, or whether the other machine lives.

Two machines follow the same keyboard and send the same universes. A receiver shows the source of the highest
priority (ANSI E1.31 clause 6.2.3) and turns to the other when it hears nothing of the first for 2.5 s
(E131_NETWORK_DATA_LOSS_TIMEOUT, clause 6.7.1), or at once when the first says goodbye (clause 6.2.6). So
nobody has to switch anything, but only where the wire knows a priority: elsewhere two senders would fight,
and the output of the one that stands by stays closed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bridge.shell.outputs.spelling import spec_name
from bridge.values.rig import OutputSpec

STEP = 10
"""How much lower the priority is: other sources of a house can be told to stand between."""

_WHY = {
    "artnet": "Art-Net knows no priority, and a node would flicker between two senders",
    "serial": "a serial line has one master",
}


def standing_by(specs: Sequence[OutputSpec]) -> tuple[list[OutputSpec], list[str]]:
    """The outputs of a machine that stands by, and what its player must know of the others.

    sACN outputs get a priority lower by STEP, at least 0; outputs of kinds without a priority are left out.
    Memory is kept: it ends inside this machine.
    """
    kept: list[OutputSpec] = []
    notices: list[str] = []
    for spec in specs:
        if spec.kind == "sacn":
            lower = max(0, spec.priority - STEP)
            kept.append(replace(spec, priority=lower))
            if spec.priority == 0:
                notices.append(
                    f"standing by: {spec_name(spec)} has priority 0 already and cannot be lower: a receiver "
                    f"would mix both machines; give it {STEP} or more in both rig files"
                )
            else:
                notices.append(
                    f"standing by: {spec_name(spec)} goes out at priority {lower}; its lamps follow us "
                    f"2.5 s after the other computer falls silent"
                )
        elif spec.kind in _WHY:
            notices.append(
                f"standing by: {spec_name(spec)} stays closed ({_WHY[spec.kind]}); "
                f"start without --stand-by to use it"
            )
        else:
            kept.append(spec)
    if not any(spec.kind == "sacn" for spec in kept):
        notices.append("standing by: no output can take over; only sACN outputs can")
    return kept, notices
