"""Knows: how whatever was read is played for a few frames: everything it listens for, then any bytes as MIDI.

Must never know: where a rig, a mapping or the bytes came from.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from bridge.core.engine import Engine
from bridge.values import events as ev
from bridge.values.mapping import Mapping, Trigger
from bridge.values.rig import Rig
from bridge.values.sound import BeatHeard, Onset, Sound
from bridge.wire.midi_in import MidiDecoder

STEP = 0.025
FRAMES = 12
MOST = 6
"""Rules of a kind that are played."""


def play(rig: Rig, mapping: Mapping, data: bytes = b"") -> None:
    """Twelve frames of a show: every kind of rule is set off, bytes are played, the mapping is saved anew."""
    engine = Engine(rig, mapping)
    ports = ["", *mapping.inputs.values(), "page"][:4]
    decoders = [MidiDecoder(port) for port in ports]
    for k in range(FRAMES):
        t = k * STEP
        events: list[ev.Event] = []
        if k in (1, 5):
            events += [event for port in ports for event in _hits(mapping, t, port)]
        if k in (2, 6):
            events += _asked(mapping, t)
        if k == 7:
            events.append(ev.NewMapping(t, mapping, keep=True))
            events.append(ev.Restore(t, engine.standing(t)))
        if k == 9:
            events += [ev.PortGone(t, port) for port in ports]
        piece = data[k * 12 : (k + 1) * 12]
        events += decoders[k % len(decoders)].feed(piece, t)
        frame = engine.advance(events, t, early=k == 4)
        if frame.slots.dtype != np.uint8 or frame.slots.shape != (len(rig.universes), 512):
            raise TypeError("a frame that is none")
    engine.take_wishes()


def _hits(mapping: Mapping, t: float, port: str) -> Iterator[ev.Event]:
    for rule in (*mapping.keys[:MOST], *mapping.texture_keys[:MOST]):
        for note in rule.notes[:2]:
            yield ev.NoteOn(t, port, rule.channel or 1, note, 100)
            yield ev.KeyPressure(t, port, rule.channel or 1, note, 90)
            if note % 2:
                yield ev.NoteOff(t, port, rule.channel or 1, note)
    for chord in mapping.chords[:MOST]:
        for step in chord.intervals:
            yield ev.NoteOn(t, port, chord.channel or 1, min(127, 48 + step), 80)
    for other in (*mapping.sets[:MOST], *mapping.does[:MOST]):
        yield from _pulled(other.trigger, t, port)


def _pulled(trigger: Trigger, t: float, port: str) -> Iterator[ev.Event]:
    channel = trigger.channel or 1
    number = trigger.numbers[0] if trigger.numbers else 0
    if trigger.kind == "note":
        yield ev.NoteOn(t, port, channel, number, 127)
        yield ev.NoteOff(t, port, channel, number)
    elif trigger.kind in ("control", "control14"):
        for control, value in ((number, 0), (number, 100), (min(127, number + 32), 5)):
            yield ev.Control(t, port, channel, control, value)
    elif trigger.kind == "bend":
        yield ev.Bend(t, port, channel, -8192)
        yield ev.Bend(t, port, channel, 8191)
    elif trigger.kind == "pressure":
        yield ev.ChannelPressure(t, port, channel, 127)
    elif trigger.kind == "program":
        yield ev.Program(t, port, channel, min(127, number))
    elif trigger.kind in ("rpn", "nrpn"):
        high, low = (101, 100) if trigger.kind == "rpn" else (99, 98)
        for control, value in ((high, number >> 7), (low, number & 127), (6, 64), (38, 1), (96, 1)):
            yield ev.Control(t, port, channel, control, value)


def _asked(mapping: Mapping, t: float) -> list[ev.Event]:
    count = len(mapping.hearing.bands)
    return [
        *(ev.Do(t, "look", look, 0.05) for look in list(mapping.looks)[:MOST]),
        ev.Do(t, "master", "", 0.5),
        Sound(t, "song", (0.7,) * count),
        *(Onset(t, "song", band, 0.9) for band in range(count)),
        BeatHeard(t, "song", 120.0, 0.9),
        *(ev.RealTime(t, "", kind) for kind in ("start", "clock", "clock")),
    ]
