"""Knows: what the page asks of the show, as small values that cross a pipe and become events there.

Must never know: browsers, sockets, or what the show makes of an event.

Each is called with the stamp of its arrival, since the house does not know the show's clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Do,
    Event,
    NoteOff,
    NoteOn,
    PortGone,
)

PORT = "page"
"""The port of what is played on the page; `page X` where it plays as the input whose port name has X."""

Send: TypeAlias = Callable[["Wish"], None]


@dataclass(frozen=True, slots=True)
class Played:
    """A key of the page: velocity 0 lets go."""

    port: str
    channel: int
    note: int
    velocity: int

    def __call__(self, stamp: float) -> Event:
        """NoteOn, or NoteOff."""
        if self.velocity:
            return NoteOn(stamp, self.port, self.channel, self.note, self.velocity)
        return NoteOff(stamp, self.port, self.channel, self.note)


@dataclass(frozen=True, slots=True)
class Turned:
    """A controller, the pitch wheel or pressure; `kind` is control, bend or pressure."""

    port: str
    channel: int
    kind: str
    number: int
    value: int

    def __call__(self, stamp: float) -> Event:
        """Control, Bend or ChannelPressure."""
        if self.kind == "bend":
            return Bend(stamp, self.port, self.channel, self.value)
        if self.kind == "pressure":
            return ChannelPressure(stamp, self.port, self.channel, self.value)
        return Control(stamp, self.port, self.channel, self.number, self.value)


@dataclass(frozen=True, slots=True)
class Left:
    """The page is gone: what was held on one of its ports is let go."""

    port: str

    def __call__(self, stamp: float) -> Event:
        """PortGone."""
        return PortGone(stamp, self.port)


@dataclass(frozen=True, slots=True)
class Asked:
    """A word of the page: blackout_on, look, master and so on."""

    word: str
    name: str = ""
    value: float = 0.0

    def __call__(self, stamp: float) -> Event:
        """Do."""
        return Do(stamp, self.word, self.name, self.value)


Wish: TypeAlias = Played | Turned | Left | Asked


def must_keep(wish: Wish) -> bool:
    """True for a wish that may not be dropped: without it a lamp could stay lit."""
    if isinstance(wish, Played):
        return wish.velocity == 0
    if isinstance(wish, Turned):
        return wish.kind == "control" and (wish.number in (64, 66, 67) or wish.number >= 120)
    return True
