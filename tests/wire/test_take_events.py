"""Rows of events: every kind comes back to the bit, and any bytes are such a row or the one error."""

from __future__ import annotations

import math
import zlib
from dataclasses import fields
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values import events as ev
from bridge.values.errors import WireError
from bridge.wire.take_events import KINDS, EventsDraft, read_events
from bridge.wire.take_rows import EVENTS, pack, place, put_int
from tests.wire.take_cases import EVENTS as ANY_EVENT
from tests.wire.take_cases import HELD, numbered


def draft() -> EventsDraft:
    def number_of(mapping: object) -> int:
        assert isinstance(mapping, int)
        return mapping

    return EventsDraft(number_of)


def test_every_kind_of_event_has_a_code() -> None:
    """The table of kinds names every event there is and every field it has, so that none is lost."""
    assert {build for build, _ in KINDS.values()} == set(get_args(ev.Event))
    for build, named in KINDS.values():
        names = [field.name for field in fields(build)]  # type: ignore[arg-type]
        if build is ev.NewMapping:
            names.remove("text")  # kept beside the events, under the number that stands for the mapping
        if build is ev.Picture:
            names.remove("early")  # the number of the frame that took it says so
        assert ["stamp", *(name for name, _ in named)] == names


@given(HELD)
def test_events_come_back(steps: list[tuple[int, int, ev.Event]]) -> None:
    """Events of every kind come back equal, in order, beside their frames."""
    held = numbered(steps)
    events = draft()
    for k, j, event in held:
        events.add(k, j, event)
    assert events.count == len(held)
    key, row = events.row(5)
    read = read_events(row)
    assert read.events() == held
    assert (read.n, read.first, read.last_k) == (5, held[0][:2], held[-1][0])
    assert key == read.key == place(*held[0][:2])
    assert events.count == 0


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_stamps_come_back_to_the_bit(stamp: float) -> None:
    """A stamp is kept as the very number it was, the sign of zero included."""
    events = draft()
    events.add(0, 0, ev.PortGone(stamp, "p"))
    (found,) = read_events(events.row(1)[1]).events()
    assert found[2].stamp == stamp
    assert math.copysign(1, found[2].stamp) == math.copysign(1, stamp)


@pytest.mark.parametrize(
    "event",
    [
        ev.NoteOn(0.0, "p", 1, 60, 0),
        ev.NoteOn(0.0, "p", 17, 60, 1),
        ev.Control(0.0, "p", 1, 128, 1),
        ev.Bend(0.0, "p", 1, 8192),
        ev.Do(0.0, "master", "", math.nan),
        ev.NoteOff(math.inf, "p", 1, 60),
        ev.RealTime(0.0, "p", "tick"),
        ev.Picture(0.0, (1,), b"short"),
    ],
    ids=repr,
)
def test_an_event_that_cannot_be_leaves_the_others_whole(event: ev.Event) -> None:
    """A value no such event can have is refused, and what was there before and comes after is kept."""
    events = draft()
    before, after = ev.PortGone(1.0, "a"), ev.PortGone(2.0, "b")
    events.add(0, 0, before)
    with pytest.raises(ValueError, match=r"cannot hold|a picture of"):
        events.add(1, 0, event)
    events.add(2, 0, after)
    assert read_events(events.row(1)[1]).events() == [(0, 0, before), (2, 0, after)]


@given(ANY_EVENT, st.binary(max_size=40), st.integers(0, 200))
def test_any_bytes_are_events_or_the_one_error(event: ev.Event, noise: bytes, at: int) -> None:
    """A row with a right check and any content: events within their ranges, or a WireError."""
    events = draft()
    events.add(0, 0, event)
    body = events.row(1)[1][9:-4]
    plain = bytearray(zlib.decompress(body[4:]))
    plain[at : at + len(noise)] = noise
    try:
        found = read_events(pack(EVENTS, body[:4] + zlib.compress(bytes(plain)))).events()
    except WireError:
        return
    again = draft()
    for k, j, back in found:
        again.add(k, j, back)
    assert again.count == len(found)


@given(st.binary(max_size=60))
def test_any_body_is_events_or_the_one_error(body: bytes) -> None:
    """Any body at all: events, or a WireError."""
    try:
        read_events(pack(EVENTS, body)).events()
    except WireError:
        return


def content(*numbers: int) -> bytes:
    out = bytearray()
    for number in numbers:
        put_int(out, number)
    return bytes(out)


@pytest.mark.parametrize(
    ("head", "inside", "match"),
    [
        ((1, 0, 0, 0), (0, 1, 99), "kind 99, which this program does not know"),
        ((1, 0, 0, 0), (0, 0), "does not reach its last frame"),
        ((1, 0, 0, 3), (0, 1, 10, 5, 0), "a frame outside its row"),
        ((1, 0, 0, 3), (0, 1, 10, 2, 0), "a frame outside its row"),
        ((1, 0, 0, 0), (0, 1, 11, 0, 1), "a frame outside its row"),
        ((1, 0, 0, 0), (9,), "expected a name"),
    ],
)
def test_contents_that_contradict_are_an_error(
    head: tuple[int, ...], inside: tuple[int, ...], match: str
) -> None:
    """Each way in which a row could claim the impossible has its own error."""
    row = pack(EVENTS, content(*head) + zlib.compress(content(*inside)))
    with pytest.raises(WireError, match=match):
        read_events(row).events()


def test_a_long_replay_packs_small() -> None:
    """Pictures one after the other are kept as differences: ten alike cost little more than one."""

    def size(count: int) -> int:
        events = draft()
        slots = bytes(range(256)) * 2
        for k in range(count):
            events.add(k, 0, ev.Picture(k / 40, (1,), slots))
        return len(events.row(1)[1])

    assert size(10) < size(1) + 300
