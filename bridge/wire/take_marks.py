"""Knows: how the marks of what stood when a show ended lie in a row of events.

Must never know: what a mark brings back.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.values.errors import WireError
from bridge.values.events import Mark
from bridge.wire.take_rows import Cursor, put_int, put_real

MOST_MARKS, MOST_OF_MARK = 100_000, 16
"""Of what stood; numbers of one mark."""


def put_marks(item: bytearray, marks: Sequence[Mark], texts: dict[str, int]) -> None:
    """Append marks; their texts go into the row's list of names.

    Raises:
        ValueError: a mark that cannot be (our own mistake).
    """
    put_int(item, len(marks))
    for mark in marks:
        if not (0 <= mark.channel <= 16 and -1 <= mark.note <= 127 and len(mark.numbers) <= MOST_OF_MARK):
            raise ValueError(f"a take cannot hold {mark}")
        for text in (mark.what, mark.name, mark.port):
            put_int(item, texts.setdefault(text, len(texts)))
        put_int(item, mark.channel)
        put_int(item, mark.note + 1)
        put_int(item, len(mark.numbers))
        for number in mark.numbers:
            put_real(item, number)


def read_name(body: Cursor, texts: Sequence[str]) -> str:
    """A text that stands in the row's list of names.

    Raises:
        WireError: the list has no such name.
    """
    number = body.integer("a name's number")
    if number >= len(texts):
        raise WireError(f"name {number} of {len(texts)}")
    return texts[number]


def read_marks(body: Cursor, texts: Sequence[str]) -> tuple[Mark, ...]:
    """The next marks.

    Raises:
        WireError: the bytes are no marks.
    """
    marks = []
    for _ in range(body.integer("a number of marks", MOST_MARKS)):
        what, name, port = (read_name(body, texts) for _ in range(3))
        channel, note = body.integer("a channel", 16), body.integer("a note", 128) - 1
        count = body.integer("a number of numbers", MOST_OF_MARK)
        numbers = tuple(body.real("a number") for _ in range(count))
        marks.append(Mark(what, name, port, channel, note, numbers))
    return tuple(marks)
