"""Knows: how `identify` and `new` find out which adapter leads to the lamps, and the line that says so.

Must never know: how a port is asked, or how a slot is lit.
"""

from __future__ import annotations

from bridge.app import Show
from bridge.commands.loading import Say
from bridge.plan import Plan
from bridge.shell.identify.adapters import Adapter, adapters, ask
from bridge.shell.identify.hands import Hands
from bridge.shell.identify.pulse import PULSE_HELP, PULSE_LINES, Pulse, bare_rig
from bridge.values.errors import UsageError
from bridge.values.mapping import Mapping
from bridge.values.rig import OutputSpec

SAFE_LEVEL = 0.3
"""At what level a strange slot is driven: enough to see, little enough for whatever hangs there."""

BEWARE = (
    "A slot may drive anything: make sure that nothing on the line can hurt somebody when it starts (a "
    "motor, smoke, a flame). Each slot pulses alone, at a low level."
)


def find_adapter(say: Say, hands: Hands, given: list[OutputSpec]) -> Adapter | None:
    """The adapter with which something moved; None where none did, or nobody was there to say.

    Args:
        given: outputs named on the command line: asked in place of the ports that are here.

    Raises:
        UsageError: an output is given that is no serial port.
        KeyboardInterrupt: it was interrupted, and the line is dark again.
    """
    if any(spec.kind != "serial" for spec in given):
        raise UsageError(
            "there is no rig here, so only serial ports can be looked into; give --out break:PORT"
        )
    found = [ask(spec.port) for spec in given] if given else adapters()
    if not found:
        say("no USB serial port is here: plug the DMX interface in; `lampwright ports` lists what there is")
        return None
    for adapter in found:
        say(f"{adapter.shown}: {adapter.verdict}")
    usable = [adapter for adapter in found if not adapter.trouble]
    if usable:
        say(BEWARE)
        say(PULSE_HELP if hands.keys else PULSE_LINES)
    for adapter in usable:
        found_here, go_on = _try(say, hands, adapter)
        if found_here:
            return adapter
        if not go_on:
            return None
    return None


def _try(say: Say, hands: Hands, adapter: Adapter) -> tuple[bool, bool]:
    """Pulse slots on one adapter; whether something moved, and whether to try the next."""
    say(f"\nnow on {adapter.shown}")
    rig = bare_rig()
    pulse = Pulse(rig, SAFE_LEVEL, hands, say)
    plan = Plan(rig, Mapping("adapter"), [adapter.spec], [pulse], done=lambda: pulse.done)
    show = Show(plan, lambda _text: None)
    with hands:
        show.run()
    for state in (worker.state() for worker in show.on.workers):
        if state.failed:
            say(f"{state.name}: {state.note}")
    if show.interrupted:
        raise KeyboardInterrupt
    if pulse.found is not None:
        say(f"slot {pulse.found} moves something: this is the adapter")
    return pulse.found is not None, not pulse.silent
