"""Knows: a small rig, a mapping with something of everything, random performances, and how to record them.

Must never know: which test uses them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.shell.feeds import Feed, ListFeed
from bridge.shell.loop import offline
from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import Recorder
from bridge.values.events import Control, Do, Event, NoteOff, NoteOn, PortGone
from bridge.values.frame import Frame
from bridge.values.mapping import DoRule, Feel, KeyRule, Mapping, SetRule, Trigger
from bridge.values.rig import Lamp, Rig
from bridge.wire.take_header import TakeHeader

HZ = 40.0
LAMPS = (
    Lamp("red", 0, 1, 1, at=(0, 0), colour="red"),
    Lamp("square", 1, 1, 2, at=(1, 0), response="square", floor=0.05, ceiling=0.9),
    Lamp("cie", 2, 1, 3, at=(2, 0), response="cie"),
    Lamp("wide", 3, 1, 10, bits=16, at=(0, 1), response="dali"),
    Lamp("rest", 4, 3, 512, at=(1, 1), rest=0.1),
    Lamp("far", 5, 3, 1, at=(2, 1)),
)
RIG = Rig("six lamps", LAMPS, HZ, groups={"all": tuple(range(6))})
"""Guards as a rig has them by default; two universes; every response; a lamp of 16 bits and one at rest."""

NOTES = tuple(range(60, 66))
BELL = Feel(attack=0.03, decay=0.2, sustain=0.3, release=0.1)
MAPPING = Mapping(
    "something of everything",
    inputs={"piano": "Grand", "pads": "Pads"},
    keys=(
        KeyRule(NOTES, tuple((lamp,) for lamp in range(6)), source="piano", feel=BELL),
        KeyRule((36,), ((0, 1, 2),), source="pads", mode="latch"),
        KeyRule((37,), ((3, 4, 5),), source="pads", mode="shot", feel=Feel(decay=0.3, sustain=0.0)),
    ),
    looks={"walkin": ((0, 0.4), (4, 0.2))},
    sets=(SetRule(Trigger("control", (21,)), "master"),),
    does=(
        DoRule(Trigger("note", (48,), source="pads"), "blackout"),
        DoRule(Trigger("note", (49,), source="pads"), "look", look="walkin", fade=0.2),
    ),
)
PIANO, PADS = "Grand Piano 1", "Pads of steel"
HEADER = TakeHeader(HZ, RIG.universes, "rig: six lamps\n", "rig.yaml", "mapping: all\n", "mapping.yaml")

_STAMPS = st.floats(0.0, 1.4)
_PLACES = st.sampled_from([(PIANO, 1), (PADS, 10)])


def _event(stamp: float, place: tuple[str, int], what: int, number: int, value: int) -> Event:
    port, channel = place
    note = number if port == PIANO else (36, 37, 48, 49)[number % 4]
    if what < 5:
        return NoteOn(stamp, port, channel, note, max(1, value))
    if what < 9:
        return NoteOff(stamp, port, channel, note, value)
    if what < 12:
        return Control(stamp, port, channel, (21, 64, 66, 67, 123, 1)[number % 6], value)
    if what == 12:
        return PortGone(stamp, port)
    return (Do(stamp, "look", "walkin", 0.1), Do(stamp, "master", "", value / 127), Do(stamp, "release_all"))[
        number % 3
    ]


PERFORMANCES = st.lists(
    st.builds(_event, _STAMPS, _PLACES, st.integers(0, 13), st.integers(60, 65), st.integers(0, 127)),
    max_size=40,
).map(lambda events: sorted(events, key=lambda event: event.stamp))
"""A second and a half of notes, pedals, knobs, looks, and cables pulled."""


def played(
    feeds: Sequence[Feed], frames: int = 64, mapping: Mapping = MAPPING, rig: Rig = RIG
) -> Iterator[tuple[int, Frame, list[Event]]]:
    """(k, frame, events) of what the real engine makes of feeds."""
    for beat, frame, events in offline(Engine(rig, mapping), feeds, rig.refresh_hz, frames):
        yield beat.number, frame, events


def perform(events: Sequence[Event]) -> Iterator[tuple[int, Frame]]:
    """Plays events through the real engine until a while after the last."""
    last = max((event.stamp for event in events), default=0.0)
    for k, frame, _ in played([ListFeed(events)], int(last * HZ) + 12):
        yield k, frame


def record(path: Path, feeds: Sequence[Feed], frames: int = 64, rig: Rig = RIG) -> Path:
    """Record what feeds play, by the recorder a show uses; the path of the take."""
    header = TakeHeader(rig.refresh_hz, rig.universes, HEADER.rig, "rig.yaml", HEADER.mapping, "mapping.yaml")
    recorder = Recorder(path, header, every=0.02, room=100_000)
    for beat, frame, events in offline(Engine(rig, MAPPING), feeds, rig.refresh_hz, frames):
        recorder.tap(beat, frame, events)
    recorder.close()
    assert not recorder.failed
    return recorder.path


def song(bars: int = 2) -> list[Event]:
    """Notes one after the other, a chord, the pedal, a knob: some six seconds of them in two bars."""
    events: list[Event] = []
    for bar in range(bars):
        at = bar * 3.0
        events.append(Control(at + 0.01, PIANO, 1, 64, 100))
        for step, note in enumerate(NOTES):
            events.append(NoteOn(at + 0.1 + step * 0.31, PIANO, 1, note, 30 + 15 * step))
            events.append(NoteOff(at + 0.3 + step * 0.31, PIANO, 1, note))
        events.append(Control(at + 2.2, PIANO, 1, 64, 0))
        events.append(Control(at + 2.3, PADS, 1, 21, min(127, 100 + bar * 20)))
        events.append(NoteOn(at + 2.4, PADS, 10, 37, 110))
        events.append(NoteOff(at + 2.5, PADS, 10, 37))
    return sorted(events, key=lambda event: event.stamp)


def bytes_of(take: Take) -> list[tuple[int, int, float, bytes]]:
    """Every frame of a take in a form that compares."""
    return [(k, j, t, frame.slots.tobytes()) for k, j, t, frame in take.frames()]
