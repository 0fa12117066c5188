"""Knows: everything that can reach the engine from outside, as frozen values with a time.

Must never know: bytes of MIDI, lamps, or what an event means to a mapping.

`stamp` is seconds since the show began, `port` the name of the port as the player sees it,
`channel` 1..16 as printed on instruments.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from bridge.values.sound import BeatHeard, Onset, Sound


@dataclass(frozen=True, slots=True)
class NoteOn:
    """A key or pad was struck: note 0..127, velocity 1..127 (0 is never a NoteOn)."""

    stamp: float
    port: str
    channel: int
    note: int
    velocity: int


@dataclass(frozen=True, slots=True)
class NoteOff:
    """A key was let go: note 0..127, release velocity 0..127 (64 where the sender has no sensor)."""

    stamp: float
    port: str
    channel: int
    note: int
    velocity: int = 64


@dataclass(frozen=True, slots=True)
class Control:
    """A controller moved: number 0..127, value 0..127; 120..127 are the channel mode messages."""

    stamp: float
    port: str
    channel: int
    control: int
    value: int


@dataclass(frozen=True, slots=True)
class Bend:
    """The pitch wheel: value -8192..8191, 0 at rest."""

    stamp: float
    port: str
    channel: int
    value: int


@dataclass(frozen=True, slots=True)
class KeyPressure:
    """Pressure on one held key (polyphonic aftertouch): note and value 0..127."""

    stamp: float
    port: str
    channel: int
    note: int
    value: int


@dataclass(frozen=True, slots=True)
class ChannelPressure:
    """Pressure on the keyboard as a whole (channel aftertouch): value 0..127."""

    stamp: float
    port: str
    channel: int
    value: int


@dataclass(frozen=True, slots=True)
class Program:
    """A program change: number 0..127 as sent."""

    stamp: float
    port: str
    channel: int
    program: int


@dataclass(frozen=True, slots=True)
class RealTime:
    """A system real-time message: clock, start, continue, stop, active_sensing or reset."""

    stamp: float
    port: str
    kind: str


@dataclass(frozen=True, slots=True)
class SongPosition:
    """Song position in sixteenth notes (6 clocks each), 0..16383."""

    stamp: float
    port: str
    sixteenths: int


@dataclass(frozen=True, slots=True)
class OtherMessage:
    """A whole message that means nothing here (system exclusive, time code): a sign of life only."""

    stamp: float
    port: str


@dataclass(frozen=True, slots=True)
class PortGone:
    """A port vanished: counts as all its keys and pedals let go."""

    stamp: float
    port: str


@dataclass(frozen=True, slots=True)
class Do:
    """An action asked for by the page, a command or the shell, in the words of `does:`.

    Args:
        word: blackout_on, blackout_off, release_all, look, master, identify and what later steps add.
        name: a look, lamp or group the word is about; may be empty.
        value: a level 0..1 or a time in seconds, as the word asks.
    """

    stamp: float
    word: str
    name: str = ""
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class NewMapping:
    """Another mapping comes into force.

    Args:
        mapping: a `bridge.values.mapping.Mapping` resolved against the rig.
        keep: held notes go on (a saved file), or are let go (a change to another song's mapping).
        text: the file it was read from, for a take to keep.
    """

    stamp: float
    mapping: object
    keep: bool = True
    text: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A frame of a take, to be shown again: it goes through the guards like everything else.

    Args:
        universes: universe numbers, one per row of 512 bytes in `slots`; no universes ends the showing.
        early: it went out between two steady frames then, and does so again where an output can.
    """

    stamp: float
    universes: tuple[int, ...]
    slots: bytes
    early: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing that stands until somebody changes it, by names that outlive an edited mapping.

    Args:
        what: look, latch, texture, chord, tempo, dark, or `set` and a word of SETTINGS.
        name: the look, texture, chord or feel it is about, or its lamps as `LampNames.spell` writes them.
        port, channel, note: the key that latched it; 0 and -1 where no key did.
        numbers: levels 0..1, seconds and the like, as the kind of mark asks.
    """

    what: str
    name: str = ""
    port: str = ""
    channel: int = 0
    note: int = -1
    numbers: tuple[float, ...] = ()

    def number(self, place: int) -> float:
        """The number at `place`, 0 where the mark has none there."""
        return self.numbers[place] if place < len(self.numbers) else 0.0

    def level(self, place: int) -> float:
        """The same as a level 0..1."""
        return min(1.0, max(0.0, self.number(place)))


@dataclass(frozen=True, slots=True)
class Restore:
    """What stood when a show ended badly comes back; what no longer fits the mapping is left out.

    Args:
        marks: as `Engine.standing` gave them, in that order.
        fade: seconds in which lights come back; kept with the event, so that a take shows it as it was.
    """

    stamp: float
    marks: tuple[Mark, ...] = ()
    fade: float = 0.3


Event: TypeAlias = (
    NoteOn
    | NoteOff
    | Control
    | Bend
    | KeyPressure
    | ChannelPressure
    | Program
    | RealTime
    | SongPosition
    | OtherMessage
    | PortGone
    | Do
    | NewMapping
    | Picture
    | Restore
    | Sound
    | Onset
    | BeatHeard
)


def must_keep(event: Event) -> bool:
    """True for events that a full inbox may never drop: without them a lamp could stay lit."""
    if isinstance(event, Control):
        return event.control in (64, 66, 67) or event.control >= 120
    return isinstance(event, NoteOff | PortGone | Do | NewMapping | Restore)
