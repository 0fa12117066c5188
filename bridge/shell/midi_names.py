"""Knows: what a MIDI port is called for a player, and which port a part of a name means.

Must never know: how ports are listed or opened.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

NAME_IS_KEY = ("alsa", "jack")
"""Systems whose own name for a port is unlike every other's and stays while it is plugged in."""


@dataclass(frozen=True, slots=True)
class Listed:
    """A port that is there now.

    Args:
        name: as the player sees it; the second of two alike is called `name (2)`.
        system: a word for the MIDI system: alsa, jack, core or winmm.
        key: tells this port from every other of the system as long as it stays plugged in.
        base: the name without the number that tells it from its likes.
    """

    name: str
    system: str
    key: str
    base: str


def plain_name(system: str, raw: str, index: int) -> str:
    """A port's name without what changes from one plugging in to the next.

    The forms are those that rtmidi 1.5.8 and the systems make; JACK's were seen, the rest are from memory.

    Args:
        system: a word of `Listed.system`.
        raw: the name as rtmidi gives it.
        index: the port's place in the system's list.
    """
    name = raw
    if system == "alsa":
        name = re.sub(r" \d+:\d+$", "", name)  # numbers of client and port, given anew at each plugging in
    elif system == "winmm":
        name = name.removesuffix(f" {index}")  # rtmidi adds the place in the list
    elif system == "jack":
        # What bridges from ALSA to JACK wrap around a name: `a2j:pads [24] (capture): pads MIDI 1`.
        name = re.sub(r"^(?:a2j|a2j_bridge|Midi-Bridge):", "", name)
        name = re.sub(r" \[\d+\]| ?\((?:capture|playback)(?:_\d+)?\)", "", name)
        name = re.sub(r":\s+", ":", name)
        # JACK numbers programs of one name in the order they start: `pads-01:pads MIDI 1`.
        name = re.sub(r"^([^:]+)-\d\d:(?=\1)", "", name)
    # `pads:pads MIDI 1` says pads twice. What cannot be printed would upset a terminal.
    name = re.sub(r"^([^:]+):(?=\1)", "", name)
    return "".join(char if char.isprintable() else " " for char in name).strip() or "unnamed"


def listed(system: str, raws: Iterable[str]) -> tuple[Listed, ...]:
    """The ports of one system, from rtmidi's names in rtmidi's order."""
    seen: Counter[str] = Counter()
    ports = []
    for index, raw in enumerate(raws):
        base = plain_name(system, raw, index)
        seen[base] += 1
        name = base if seen[base] == 1 else f"{base} ({seen[base]})"
        # Elsewhere the raw name holds a place in the list, which changes when a neighbour goes.
        ports.append(Listed(name, system, raw if system in NAME_IS_KEY else name, base))
    return tuple(ports)


def merged(ports: Iterable[Listed]) -> tuple[Listed, ...]:
    """The ports of several systems as one list; of a port that two systems show, the first is meant."""
    by_name: dict[str, Listed] = {}
    for port in ports:
        by_name.setdefault(port.name, port)
    return tuple(by_name.values())


def pick(wanted: str, ports: Sequence[Listed], whole: bool = False) -> tuple[Listed, ...]:
    """The ports a player can mean by a part of a name, in any case; a name given in full means that one.

    Args:
        wanted: a part of a name.
        ports: those to choose from.
        whole: take it for a name in full, and for nothing else.
    """
    text = wanted.casefold()
    exact = tuple(port for port in ports if port.name.casefold() == text)
    if exact or whole:
        return exact[:1]
    return tuple(port for port in ports if text in port.name.casefold())
