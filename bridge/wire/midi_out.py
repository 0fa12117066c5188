"""Knows: how an event becomes the bytes of a MIDI 1.0 message.

Must never know: ports, when to send, or why.

Source: MIDI 1.0 Detailed Specification (document 4.2), the tables that `midi_in` reads the other way.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Event,
    KeyPressure,
    NoteOff,
    NoteOn,
    Program,
    RealTime,
    SongPosition,
)
from bridge.wire.midi_in import BEND_CENTRE, REAL_TIME

SONG_POSITION = 0xF2

_STATUS_OF = {kind: status for status, kind in REAL_TIME.items()}


def _fourteen_bits(value: int) -> tuple[int, int]:
    """Low seven bits first; a value out of range gives a byte out of range, which `_checked` reports."""
    return value & 0x7F, value >> 7


_CHANNEL: dict[type, tuple[int, Callable[[Any], tuple[int, ...]]]] = {
    NoteOff: (0x80, lambda event: (event.note, event.velocity)),
    NoteOn: (0x90, lambda event: (event.note, event.velocity)),
    KeyPressure: (0xA0, lambda event: (event.note, event.value)),
    Control: (0xB0, lambda event: (event.control, event.value)),
    Program: (0xC0, lambda event: (event.program,)),
    ChannelPressure: (0xD0, lambda event: (event.value,)),
    Bend: (0xE0, lambda event: _fourteen_bits(event.value + BEND_CENTRE)),
}
"""Type of event -> high half of its status byte, its data bytes."""


def encode(event: Event) -> bytes:
    """The MIDI message of an event, its status byte always written out.

    Args:
        event: any event.

    Returns:
        1 to 3 bytes; none for an event that has no bytes (OtherMessage, PortGone, Do, NewMapping).

    Raises:
        ValueError: a channel, value or kind that MIDI cannot carry (our own mistake, never the player's),
            a NoteOn of velocity 0 among them: every receiver would take it for a note-off.
    """
    if isinstance(event, RealTime):
        if event.kind not in _STATUS_OF:
            raise ValueError(f"no real-time message is called {event.kind!r}; known: {', '.join(_STATUS_OF)}")
        return bytes((_STATUS_OF[event.kind],))
    if isinstance(event, SongPosition):
        return _checked(event, SONG_POSITION, _fourteen_bits(event.sixteenths))
    row = _CHANNEL.get(type(event))
    if row is None:
        return b""
    channel = getattr(event, "channel", 0)
    silent = isinstance(event, NoteOn) and event.velocity == 0
    if silent or not 1 <= channel <= 16:
        raise ValueError(f"MIDI cannot carry {event}")
    status, data = row
    return _checked(event, status | channel - 1, data(event))


def _checked(event: Event, status: int, data: tuple[int, ...]) -> bytes:
    """A data byte over 127 would be read as a status, and turn the rest of the stream to rubbish."""
    if not all(0 <= byte <= 127 for byte in data):
        raise ValueError(f"MIDI cannot carry {event}")
    return bytes((status, *data))
