"""Knows: what stands at a moment because of all that came before: controllers, keys down, a look, a mapping.

Must never know: files, time of day, what any of it does to a lamp.

It is what a performance needs to begin in its middle, and to end without a stuck note. Keys down are not
struck again at a beginning, as a player would not; a toggle that a note threw is not known here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TypeAlias

from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Do,
    Event,
    Mark,
    NewMapping,
    NoteOff,
    NoteOn,
    Picture,
    PortGone,
    Program,
    Restore,
)

PEDALS = (64, 66, 67)
ALL_SOUND_OFF, RESET_CONTROLLERS, ALL_NOTES_OFF = 120, 121, 123

GATES = ("latch", "texture", "chord")
"""Marks of what is let go by `release_all`."""

Name: TypeAlias = tuple[object, ...]


class Standing:
    """Takes events one by one; answers with the events that bring about the same, or that end it."""

    def __init__(self, events: Iterable[Event] = ()) -> None:
        self._state: dict[Name, Event] = {}
        self._down: dict[tuple[str, int, int], None] = {}
        for event in events:
            self.take(event)

    def take(self, event: Event) -> None:
        """One event, in order."""
        if isinstance(event, NoteOn):
            key = (event.port, event.channel, event.note)
            self._down[key] = None
            # A key puts out the latch that came back with it.
            self._keep(lambda mark: (mark.port, mark.channel, mark.note) != key)
        elif isinstance(event, NoteOff):
            self._down.pop((event.port, event.channel, event.note), None)
        elif isinstance(event, Control):
            self._control(event)
        elif isinstance(event, PortGone):
            self._down = {key: None for key in self._down if key[0] != event.port}
            self._forget(event.port, None)
        elif isinstance(event, Bend | ChannelPressure | Program):
            self._put((type(event), event.port, event.channel), event)
        elif isinstance(event, Do):
            self._do(event)
        elif isinstance(event, Restore):
            self._put((Restore,), event)
        elif isinstance(event, NewMapping | Picture):
            self._put((type(event),), event)

    def _put(self, name: Name, event: Event) -> None:
        """The newest goes last: of a parameter number and its value, the number was sent first."""
        self._state.pop(name, None)
        self._state[name] = event

    def _keep(self, stays: Callable[[Mark], bool]) -> None:
        """Of what came back after a bad end, keep what still stands."""
        before = self._state.get((Restore,))
        if isinstance(before, Restore):
            self._state[(Restore,)] = replace(before, marks=tuple(filter(stays, before.marks)))

    def _control(self, event: Control) -> None:
        if event.control < ALL_SOUND_OFF:
            self._put((Control, event.port, event.channel, event.control), event)
        elif event.control == RESET_CONTROLLERS:
            self._forget(event.port, event.channel)
        if event.control == ALL_SOUND_OFF or event.control >= ALL_NOTES_OFF:
            place = (event.port, event.channel)
            self._down = {key: None for key in self._down if key[:2] != place}

    def _forget(self, port: str, channel: int | None) -> None:
        """Pedals come up (MMA RP-015 says which controllers a reset leaves alone)."""
        for name in [name for name in self._state if name[0] is Control and name[3] in PEDALS]:
            if name[1] == port and channel in (None, name[2]):
                del self._state[name]

    def _do(self, event: Do) -> None:
        if event.word == "release_all":
            self._keep(lambda mark: mark.what not in GATES)
            return
        subject = event.name if event.word == "light" else ""
        self._put((Do, event.word.removesuffix("_on").removesuffix("_off"), subject), event)

    def events(self, stamp: float) -> list[Event]:
        """What brings about what stands now, in order, all at `stamp`."""
        return [replace(event, stamp=stamp) for event in self._state.values()]

    def ending(self, stamp: float) -> list[Event]:
        """What lets go of all keys, pedals and pictures, at `stamp`."""
        out: list[Event] = [NoteOff(stamp, *key) for key in self._down]
        for event in self._state.values():
            if isinstance(event, Control) and event.control in PEDALS and event.value > 0:
                out.append(replace(event, stamp=stamp, value=0))
            elif isinstance(event, Picture) and event.universes:
                out.append(Picture(stamp, (), b""))
        return out
