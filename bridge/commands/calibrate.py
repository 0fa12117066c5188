"""Knows: what `play --calibrate` does: it listens to one instrument and writes its touch into a mapping.

Must never know: how strokes are measured, or how a file is changed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from bridge.commands.loading import Say, load
from bridge.shell.calibrate import sit
from bridge.shell.clock import Clock
from bridge.shell.ports import LivePorts
from bridge.values.events import Event

POLL = 0.01
"""Seconds between two looks at the ports; nothing here is in a hurry."""


def calibrate(say: Say, rig_path: Path, mapping_path: Path, midi_in: Sequence[str]) -> int:
    """Ask for soft and hard strokes on the first instrument that is played, and write the curve.

    Args:
        midi_in: parts of names of ports; every port where none is given.

    Raises:
        FileError: a mistake in the rig or the mapping.
        UsageError: strokes that no curve can tell apart, or a file that must be changed by hand.
    """
    _, mapping, _ = load(rig_path, mapping_path)
    clock = Clock()
    try:
        with LivePorts(list(midi_in) or None, clock) as ports:
            sit(_arriving(ports, clock), say, input, mapping_path, mapping)
    finally:
        clock.close()
    return 0


def _arriving(ports: LivePorts, clock: Clock) -> Iterator[Event]:
    """Events as they come, for as long as somebody asks."""
    while True:
        yield from ports.take()
        clock.wait(clock.now() + POLL)
