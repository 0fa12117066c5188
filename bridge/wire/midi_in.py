"""Knows: how a MIDI 1.0 byte stream becomes events: running status, real-time bytes, rubbish counted.

Must never know: ports and threads, how bytes arrive, or what a note means to a mapping.

The protocol is the two tables below; `feed` only walks them. Source: MIDI 1.0 Detailed Specification
(document 4.2), tables of channel voice, system common and system real time messages. That system common
messages cancel running status is from memory of the same document.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Event,
    KeyPressure,
    NoteOff,
    NoteOn,
    OtherMessage,
    Program,
    RealTime,
    SongPosition,
)

Build = Callable[..., Event]
"""(stamp, port, channel, data byte, ...) -> event."""

Row = tuple[int, Build, int]
"""Number of data bytes, builder, channel 1..16 (0 for system messages)."""

EXCLUSIVE = 0xF0
END_OF_EXCLUSIVE = 0xF7
TUNE_REQUEST = 0xF6
BEND_CENTRE = 8192
NO_SENSOR = 64
"""Release velocity of a key without a sensor for it: a note-on of velocity 0 means a note-off of 64."""


def _note_on(stamp: float, port: str, channel: int, note: int, velocity: int) -> Event:
    if velocity:
        return NoteOn(stamp, port, channel, note, velocity)
    return NoteOff(stamp, port, channel, note, NO_SENSOR)


def _bend(stamp: float, port: str, channel: int, low: int, high: int) -> Event:
    return Bend(stamp, port, channel, (high << 7 | low) - BEND_CENTRE)


def _song_position(stamp: float, port: str, _channel: int, low: int, high: int) -> Event:
    return SongPosition(stamp, port, high << 7 | low)


def _other(stamp: float, port: str, _channel: int, _data: int) -> Event:
    return OtherMessage(stamp, port)


CHANNEL_KINDS: dict[int, tuple[int, Build]] = {
    0x80: (2, NoteOff),
    0x90: (2, _note_on),
    0xA0: (2, KeyPressure),
    0xB0: (2, Control),
    0xC0: (1, Program),
    0xD0: (1, ChannelPressure),
    0xE0: (2, _bend),
}
"""High half of the status byte -> number of data bytes, builder."""

REAL_TIME: dict[int, str] = {
    0xF8: "clock",
    0xFA: "start",
    0xFB: "continue",
    0xFC: "stop",
    0xFE: "active_sensing",
    0xFF: "reset",
}
"""Status byte -> `RealTime.kind`; F9 and FD are undefined."""

_ROWS: dict[int, Row] = {
    kind | low: (count, build, low + 1) for kind, (count, build) in CHANNEL_KINDS.items() for low in range(16)
} | {0xF1: (1, _other, 0), 0xF2: (2, _song_position, 0), 0xF3: (1, _other, 0)}


class MidiDecoder:
    """Turns the bytes of one port into events, however they are cut into pieces.

    Args:
        port: name given to every event.

    Attributes:
        rubbish: how often the bytes made no sense so far: data bytes without a status, undefined
            statuses (F4, F5, F9, FD), an F7 with nothing to end, and messages that another status cut short.
    """

    __slots__ = ("_begun", "_exclusive", "_first", "_port", "_row", "rubbish")

    def __init__(self, port: str) -> None:
        self.rubbish = 0
        self._port = port
        self._row: Row | None = None  # the status in force, running or fresh
        self._first = -1  # the first of two data bytes, -1 while it has not come
        self._begun = False  # a message has begun and still lacks a byte
        self._exclusive = False  # inside a system exclusive message

    def feed(self, data: bytes, stamp: float) -> list[Event]:
        """Take the next bytes of the stream; never raises, whatever they are.

        Args:
            data: any bytes; a message may begin in one call and end in a later one.
            stamp: seconds since the show began; given to every event that these bytes complete.

        Returns:
            The events completed, in the order in which their last byte came.
        """
        port = self._port
        if len(data) == 3 and not self._begun and not self._exclusive:
            # A driver mostly hands over one whole message; this path costs half of the walk below.
            status, first, second = data
            if (first | second) < 0x80 <= status < EXCLUSIVE:
                row = _ROWS[status]
                count, build, channel = row
                if count == 2:
                    self._row = row
                    return [build(stamp, port, channel, first, second)]
        events: list[Event] = []
        for byte in data:
            if byte >= 0xF8:
                kind = REAL_TIME.get(byte)
                if kind is None:
                    self.rubbish += 1
                else:
                    events.append(RealTime(stamp, port, kind))
            elif byte >= 0x80:
                self._status(byte, stamp, events)
            elif self._row is None:
                self.rubbish += not self._exclusive
            else:
                count, build, channel = self._row
                if count == 1:
                    events.append(build(stamp, port, channel, byte))
                elif self._first < 0:
                    self._first = byte
                    self._begun = True
                    continue
                else:
                    events.append(build(stamp, port, channel, self._first, byte))
                    self._first = -1
                self._begun = False
                if not channel:
                    self._row = None  # system common messages have no running status
        return events

    def _status(self, byte: int, stamp: float, events: list[Event]) -> None:
        """A status byte 80..F7: ends what went before, begins what it names."""
        if self._exclusive:
            # F7 is the usual end; any other status but real time ends the message too.
            events.append(OtherMessage(stamp, self._port))
        elif self._begun:
            self.rubbish += 1
        ended = self._exclusive
        self._exclusive = byte == EXCLUSIVE
        self._row = _ROWS.get(byte)
        self._begun = self._row is not None
        self._first = -1
        if byte == TUNE_REQUEST:
            events.append(OtherMessage(stamp, self._port))
        elif self._row is None and not self._exclusive and not (ended and byte == END_OF_EXCLUSIVE):
            self.rubbish += 1
