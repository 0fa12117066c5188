"""Knows: how the state of a show is said to the player in lines.

Must never know: who shows them.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.engine import Engine
from bridge.core.unheard import fitting_shift, reason
from bridge.parts.notes import note_name
from bridge.shell.evening import Evening
from bridge.shell.live_port import PortState
from bridge.values.beat import OutputState

SHOWN = 8


def output_line(state: OutputState) -> str:
    """How an output is."""
    return f"out: {state.name}: {state.note}" if state.state == "down" else f"out: {state.name}"


def port_line(state: PortState) -> str:
    """One port: heard, or waited for and why."""
    if state.open:
        return f"in: {state.name}"
    return f"in: {state.name}: {state.note}" if state.note else f"in: {state.name}: not here; waiting for it"


def song_lines(evening: Evening) -> list[str]:
    """The song that is chosen, whether it plays, and what comes after it."""
    state = "playing" if evening.playing else "ready: start it by pad, key or page"
    after = f"; then {evening.next_name}" if evening.next_name else ""
    lines = [f"song: {evening.number.name}, {state}{after}"]
    if evening.trouble:
        lines.append(evening.trouble)
    return lines


def unheard_lines(engine: Engine) -> list[str]:
    """Notes that arrived and that no rule hears, and what would help."""
    unheard = engine.unheard
    if not unheard:
        return []
    mapping = engine.mapping
    notes = sorted({note for _, _, note in unheard})
    names = ", ".join(f"{note_name(note, mapping.middle_c)} ({note})" for note in notes[:SHOWN])
    more = f" and {len(notes) - SHOWN} more" if len(notes) > SHOWN else ""
    lines = [f"no rule hears {names}{more}"]
    reasons = {reason(mapping, key) for key in unheard}
    if "note" in reasons:
        lines += _octave(fitting_shift(mapping, notes), mapping_range(engine), mapping.middle_c)
    if "channel" in reasons:
        channels = _listed(channel for _, channel, _ in unheard)
        lines.append(f"it came on channel {channels}, where the rules that have these notes do not listen")
    if "port" in reasons:
        ports = _listed(port for port, _, _ in unheard)
        lines.append(f"it came from {ports}, which no `from` of these notes names; see inputs in the mapping")
    return lines


def _octave(shift: int | None, low_high: tuple[int, int] | None, middle_c: str) -> list[str]:
    if low_high is None:
        return []
    low, high = low_high
    ends = f"{note_name(low, middle_c)} ({low}) to {note_name(high, middle_c)} ({high})"
    reach = f"the keys of this mapping are {ends}"
    if shift is None:
        return [reach]
    word = "up" if shift > 0 else "down"
    octaves = "an octave" if abs(shift) == 1 else f"{abs(shift)} octaves"
    return [
        f"{reach}: set the keyboard {octaves} {word}, or give the rules transpose: {12 * shift}, "
        f"or say middle_c: {'C4' if middle_c == 'C3' else 'C3'} where the keyboard calls middle C so"
    ]


def mapping_range(engine: Engine) -> tuple[int, int] | None:
    """The lowest and highest note any key rule hears."""
    notes = [note for rule in engine.mapping.keys for note in rule.notes]
    return (min(notes), max(notes)) if notes else None


def _listed(things: Iterable[object]) -> str:
    return ", ".join(sorted({str(thing) for thing in things}))
