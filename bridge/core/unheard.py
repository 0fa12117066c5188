"""Knows: why notes that no rule hears may be off: by octaves, on another channel, from another port.

Must never know: how that is said to the player.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.hands import Key
from bridge.core.ports import PortNames
from bridge.values.mapping import Mapping


def fitting_shift(mapping: Mapping, notes: Iterable[int]) -> int | None:
    """Octaves by which `notes` must be played higher so that key rules hear them all; None where none fits.

    The nearest octave wins, the higher of two that are equally near.
    """
    heard = {note for rule in mapping.keys for note in rule.notes}
    wanted = set(notes)
    if not wanted or not heard:
        return None
    for octaves in sorted((n for n in range(-9, 10) if n), key=lambda n: (abs(n), -n)):
        if all(note + 12 * octaves in heard for note in wanted):
            return octaves
    return None


def reason(mapping: Mapping, key: Key) -> str:
    """Why a note is not heard: note (no rule has it), port, channel or velocity (rules have it, not so)."""
    port, channel, note = key
    ports = PortNames(mapping.inputs)
    having = [rule for rule in mapping.keys if note in rule.notes]
    if not having:
        return "note"
    if all(not ports.matches(port, rule.source) for rule in having):
        return "port"
    return "channel" if all(rule.channel not in (None, channel) for rule in having) else "velocity"
