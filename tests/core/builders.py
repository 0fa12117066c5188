"""Knows: small rigs, mappings and events for tests of the engine."""

from __future__ import annotations

from typing import Any

from bridge.core.engine import Engine
from bridge.values.events import Control, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.values.mapping import Feel, KeyRule, Mapping, Trigger
from bridge.values.rig import Lamp, Rig

HOLD = Feel()
BELL = Feel(attack=0.0, decay=0.8, sustain=0.0)


def rig(count: int = 4, guards: dict[str, str] | None = None, **lamp: Any) -> Rig:
    """Lamps l0, l1 … on slots 1, 2 …; guards off unless asked for, so that tests see the engine itself."""
    lamps = tuple(Lamp(f"l{i}", i, 1, i + 1, **lamp) for i in range(count))
    off = {"load": "off", "flash": "off", "heat": "off"}
    return Rig("test", lamps, groups={"all": tuple(range(count))}, guards=off | (guards or {}))


def each(count: int = 4, first: int = 60, **rule: Any) -> KeyRule:
    """Notes from `first` up, one lamp each."""
    return KeyRule(tuple(range(first, first + count)), tuple((i,) for i in range(count)), **rule)


def together(note: int, lamps: tuple[int, ...], **rule: Any) -> KeyRule:
    """One note for several lamps."""
    return KeyRule((note,), (lamps,), **rule)


def engine(*keys: KeyRule, lamps: int = 4, guards: dict[str, str] | None = None, **mapping: Any) -> Engine:
    """An engine over `lamps` lamps."""
    return Engine(rig(lamps, guards), Mapping("test", keys=keys, **mapping))


def on(stamp: float, note: int, velocity: int = 127, port: str = "p", channel: int = 1) -> NoteOn:
    """A strike."""
    return NoteOn(stamp, port, channel, note, velocity)


def off(stamp: float, note: int, port: str = "p", channel: int = 1) -> NoteOff:
    """A key let go."""
    return NoteOff(stamp, port, channel, note)


def cc(stamp: float, control: int, value: int, port: str = "p", channel: int = 1) -> Control:
    """A controller's move."""
    return Control(stamp, port, channel, control, value)


def control(number: int) -> Trigger:
    """A controller as trigger."""
    return Trigger("control", (number,))


def note(number: int) -> Trigger:
    """A note as trigger."""
    return Trigger("note", (number,))


def lit(frame: Frame, count: int = 4) -> list[int]:
    """The first slots of universe 1."""
    return list(frame.universe(1)[:count])
