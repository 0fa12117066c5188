"""Knows: a row of events: every kind of event, its stamp to the bit, and the frame that took it.

Must never know: databases, frames' pictures, MIDI bytes, or what an event does.

Kinds and their fields are one table; writing and reading walk it. A new kind of event is one line there.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from bridge.values import events as ev
from bridge.values.errors import WireError
from bridge.values.frame import SLOTS
from bridge.values.sound import BeatHeard, Onset, Sound
from bridge.wire.midi_in import REAL_TIME
from bridge.wire.take_frames import LAST_NUMBER
from bridge.wire.take_marks import put_marks, read_marks, read_name
from bridge.wire.take_rows import (
    EVENTS,
    MOST_EARLY,
    Cursor,
    inflate,
    pack,
    place,
    put_int,
    put_real,
    put_text,
    unpack,
)

MOST_BYTES = 64_000_000
"""Of one row, unpacked."""

Held = tuple[int, int, ev.Event]
"""(k, j, event): an event and the frame that took it; the `mapping` of a NewMapping is its text's number."""

TEXT, FRACTION, NUMBERS, PICTURE, LEVELS = "text", "fraction", "numbers", "picture", "levels"
MARKS = "marks"

MOST_BANDS = 256
"""Of a sound."""


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number: what it is, its least and its greatest."""

    what: str
    least: int
    most: int


Field = Whole | str
"""A whole number, or one of the words above."""

_CHANNEL = Whole("a channel", 1, 16)
_SEVEN = Whole("a value", 0, 127)

KINDS: dict[int, tuple[Callable[..., Any], tuple[tuple[str, Field], ...]]] = {
    1: (
        ev.NoteOn,
        (("port", TEXT), ("channel", _CHANNEL), ("note", _SEVEN), ("velocity", Whole("a velocity", 1, 127))),
    ),
    2: (ev.NoteOff, (("port", TEXT), ("channel", _CHANNEL), ("note", _SEVEN), ("velocity", _SEVEN))),
    3: (ev.Control, (("port", TEXT), ("channel", _CHANNEL), ("control", _SEVEN), ("value", _SEVEN))),
    4: (ev.Bend, (("port", TEXT), ("channel", _CHANNEL), ("value", Whole("a bend", -8192, 8191)))),
    5: (ev.KeyPressure, (("port", TEXT), ("channel", _CHANNEL), ("note", _SEVEN), ("value", _SEVEN))),
    6: (ev.ChannelPressure, (("port", TEXT), ("channel", _CHANNEL), ("value", _SEVEN))),
    7: (ev.Program, (("port", TEXT), ("channel", _CHANNEL), ("program", _SEVEN))),
    8: (ev.RealTime, (("port", TEXT), ("kind", TEXT))),
    9: (ev.SongPosition, (("port", TEXT), ("sixteenths", Whole("a song position", 0, 16383)))),
    10: (ev.OtherMessage, (("port", TEXT),)),
    11: (ev.PortGone, (("port", TEXT),)),
    12: (ev.Do, (("word", TEXT), ("name", TEXT), ("value", FRACTION))),
    13: (
        ev.NewMapping,
        (("mapping", Whole("a mapping's number", 0, 1_000_000)), ("keep", Whole("a yes or no", 0, 1))),
    ),
    14: (ev.Picture, (("universes", NUMBERS), ("slots", PICTURE))),
    15: (Sound, (("source", TEXT), ("bands", LEVELS))),
    16: (Onset, (("source", TEXT), ("band", Whole("a band", 0, MOST_BANDS)), ("strength", FRACTION))),
    17: (BeatHeard, (("source", TEXT), ("bpm", FRACTION), ("sure", FRACTION))),
    18: (ev.Restore, (("marks", MARKS), ("fade", FRACTION))),
}
"""Code -> the event's class and its fields after the stamp. A code is for ever: takes outlive programs."""

_REAL_TIME = frozenset(REAL_TIME.values())

_CODES = {build: code for code, (build, _) in KINDS.items()}


class EventsDraft:
    """Events on their way into rows.

    Args:
        number_of: gives the number of a mapping's text, for NewMapping.
    """

    def __init__(self, number_of: Callable[[object], int]) -> None:
        self._number_of = number_of
        self._clear()

    def _clear(self) -> None:
        self._texts: dict[str, int] = {}
        self._items = bytearray()
        self._first: tuple[int, int] = (0, 0)
        self._k = 0
        self._slots = b""
        self.count = 0
        """Events in it so far."""

    @property
    def size(self) -> int:
        """Bytes they take before they are packed, about."""
        return len(self._items)

    def add(self, k: int, j: int, event: ev.Event) -> None:
        """Event that frame (k, j) took; frames never go back.

        Raises:
            ValueError: a value no such event can have (our own mistake); it is left out.
        """
        code = _CODES.get(type(event))
        if code is None:
            raise ValueError(f"a take cannot hold {event}")
        if isinstance(event, ev.RealTime) and event.kind not in _REAL_TIME:
            raise ValueError(f"a take cannot hold {event}")
        item, texts, slots = bytearray(), self._texts, self._slots
        put_int(item, code)
        put_int(item, k - self._k if self.count else 0)
        put_int(item, j)
        put_real(item, event.stamp)
        for name, field in KINDS[code][1]:
            value = getattr(event, name)
            if name == "mapping":
                value = self._number_of(value)
            if field == TEXT:
                put_int(item, texts.setdefault(value, len(texts)))
            elif field == FRACTION:
                put_real(item, value)
            elif field == NUMBERS:
                put_int(item, len(value))
                for number in value:
                    put_int(item, number)
            elif field == LEVELS:
                put_int(item, len(value))
                for level in value:
                    put_real(item, level)
            elif field == MARKS:
                put_marks(item, value, texts)
            elif isinstance(field, str):
                if len(value) != SLOTS * len(event.universes):  # type: ignore[union-attr]
                    raise ValueError(f"a picture of {len(value)} slots")
                item += _minus(value, slots)
                slots = value
            else:
                if not field.least <= value <= field.most:
                    raise ValueError(f"a take cannot hold {value} as {field.what}")
                put_int(item, value - field.least)
        if not self.count:
            self._first = (k, j)
        self._items += item
        self._slots, self._k = slots, k
        self.count += 1

    def row(self, n: int) -> tuple[int, bytes]:
        """(key, row): the n-th of its kind, from 1; empties the draft."""
        head = bytearray()
        for value in (n, *self._first, self._k):
            put_int(head, value)
        body = bytearray()
        put_int(body, len(self._texts))
        for text in self._texts:
            put_text(body, text)
        put_int(body, self.count)
        packed = zlib.compress(bytes(body + self._items), 6)
        key = place(*self._first)
        self._clear()
        return key, pack(EVENTS, bytes(head) + packed)


def _minus(now: bytes, before: bytes) -> bytes:
    """A picture as its difference to the one before, which packs well; whole where they differ in size."""
    if len(now) != len(before):
        return now
    return (np.frombuffer(now, dtype=np.uint8) - np.frombuffer(before, dtype=np.uint8)).tobytes()


def _plus(steps: bytes, before: bytes) -> bytes:
    if len(steps) != len(before):
        return steps
    return (np.frombuffer(steps, dtype=np.uint8) + np.frombuffer(before, dtype=np.uint8)).tobytes()


@dataclass(frozen=True, slots=True)
class EventsRow:
    """A row of events as read.

    Args:
        n: its number among the rows of events, from 1.
        first: (k, j) of the frame that took its first event; last_k: of the one that took its last.
        packed: the events.
    """

    n: int
    first: tuple[int, int]
    last_k: int
    packed: bytes

    @property
    def key(self) -> int:
        """Its place in the table."""
        return place(*self.first)

    def events(self) -> list[Held]:
        """The events, in order.

        Raises:
            WireError: the bytes are not such events.
        """
        body = Cursor(inflate(self.packed, MOST_BYTES, "a row of events"))
        texts = [body.text("a name") for _ in range(body.integer("a number of names"))]
        out: list[Held] = []
        slots = b""
        k, j = self.first
        for number in range(body.integer("a number of events")):
            code = body.integer("a kind of event")
            if code not in KINDS:
                raise WireError(f"an event of kind {code}, which this program does not know")
            step, j = (
                body.integer("a frame's number", LAST_NUMBER),
                body.integer("an early frame", MOST_EARLY),
            )
            k += step
            if k > self.last_k or (number == 0 and (step or j != self.first[1])):
                raise WireError("an event of a frame outside its row")
            event, slots = _event(body, code, texts, slots)
            out.append((k, j, event))
        body.done()
        if not out or k != self.last_k:
            raise WireError("a row of events that does not reach its last frame")
        return out


def _event(body: Cursor, code: int, texts: Sequence[str], slots: bytes) -> tuple[ev.Event, bytes]:
    """One event, and the newest picture."""
    build, fields = KINDS[code]
    values: dict[str, Any] = {"stamp": body.real("a stamp")}
    for name, field in fields:
        if field == TEXT:
            values[name] = read_name(body, texts)
        elif field == FRACTION:
            values[name] = body.real("a value")
        elif field == NUMBERS:
            count = body.integer("a number of universes", 63_999)
            values[name] = tuple(body.integer("a universe", 63_999) for _ in range(count))
        elif field == LEVELS:
            count = body.integer("a number of bands", MOST_BANDS)
            values[name] = tuple(body.real("a level") for _ in range(count))
        elif field == MARKS:
            values[name] = read_marks(body, texts)
        elif isinstance(field, str):
            slots = _plus(body.take(SLOTS * len(values["universes"]), "a picture"), slots)
            values[name] = slots
        else:
            values[name] = body.integer(field.what, field.most - field.least) + field.least
    if build is ev.RealTime and values["kind"] not in _REAL_TIME:
        raise WireError(f"no real-time message is called {values['kind']!r}")
    if "keep" in values:
        values["keep"] = bool(values["keep"])
    event: ev.Event = build(**values)
    return event, slots


def read_events(row: bytes) -> EventsRow:
    """A row of events, still packed.

    Raises:
        WireError: damaged, or not such a row.
    """
    body = unpack(row, EVENTS)
    n = body.integer("the row's number")
    first = (body.integer("a frame's number", LAST_NUMBER), body.integer("an early frame", MOST_EARLY))
    last_k = body.integer("a frame's number", LAST_NUMBER)
    return EventsRow(n, first, last_k, body.rest())
