"""Frames become notes: played back they light the same frames, within what a velocity can say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.curves import CURVES
from bridge.shell.draw import lamp_levels
from bridge.shell.feeds import ListFeed
from bridge.shell.takes.edit import read_song
from bridge.shell.takes.export_midi import export_midi
from bridge.shell.takes.frames_to_notes import LampKey, frames_to_notes, lamp_keys
from bridge.values.errors import UsageError
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.values.mapping import ChordRule, DoRule, Feel, KeyRule, Mapping, SetRule, Trigger
from bridge.values.rig import Rig
from tests.shell.takes.players import HZ, LAMPS, PERFORMANCES, RIG, played

OPEN = replace(RIG, guards={"load": "off", "flash": "off", "heat": "off"})
"""Guards off: they would hold back a replay that is struck harder by half a step."""

KEYS = tuple(range(40, 46))


def keyboard(**rule: object) -> Mapping:
    """A key for each lamp, struck and let go without an envelope."""
    return Mapping("keyboard", keys=(KeyRule(KEYS, tuple((n,) for n in range(6)), feel=Feel(), **rule),))  # type: ignore[arg-type]


def shown(frames: list[Frame]) -> list[tuple[int, int, float, Frame]]:
    return [(k, 0, frame.t, frame) for k, frame in enumerate(frames)]


def reachable(rig: Rig, mapping: Mapping) -> np.ndarray:
    """What each velocity 0..127 makes of each lamp, found by playing them all."""
    rows = []
    for velocity in range(128):
        strikes: list[Event] = [NoteOn(0.0, "file", 1, key, velocity) for key in KEYS if velocity]
        ((_, frame, _),) = list(played([ListFeed(strikes)], 1, mapping, rig))
        rows.append(lamp_levels(rig, frame))
    return np.array(rows)


@given(PERFORMANCES, st.sampled_from([name for name in CURVES if name != "full"]))
@settings(max_examples=25)
def test_render_notes_render(events: list[Event], curve: str) -> None:
    """Whatever lit the lamps, the notes light each lamp in each frame as nearly as any velocity could."""
    mapping = keyboard(curve=curve)
    frames = [frame for _, frame, _ in played([ListFeed(events)], 70, rig=OPEN)]
    notes = frames_to_notes(shown(frames), OPEN, mapping)
    assert notes.keyless == notes.chordal == ()
    values, missed = reachable(OPEN, mapping), np.zeros(6)
    for (_, again, _), frame in zip(played([ListFeed(notes.events)], 70, mapping, OPEN), frames, strict=True):
        was, now = lamp_levels(OPEN, frame), lamp_levels(OPEN, again)
        nearest = np.abs(values - was).min(axis=0)
        assert np.all(np.abs(was - now) <= nearest + 1e-9)
        missed = np.maximum(missed, nearest)
    assert all(missed[lamp.index] > 1 / 255 for lamp in LAMPS if lamp.name in notes.coarse)


@given(st.lists(st.lists(st.integers(0, 127), min_size=6, max_size=6), min_size=1, max_size=20))
def test_what_a_velocity_can_say_is_exact(rows: list[list[int]]) -> None:
    """Frames made by notes alone come back to the byte, struck anew where a level changes."""
    mapping = keyboard(curve="cie", between=(0.2, 0.9))
    bare = replace(OPEN, lamps=tuple(replace(lamp, rest=0.0) for lamp in LAMPS))
    events: list[Event] = []
    for k, row in enumerate(rows):
        for key, velocity in zip(KEYS, row, strict=True):
            events.append(NoteOff(k / HZ, "file", 1, key))
            if velocity:
                events.append(NoteOn(k / HZ, "file", 1, key, velocity))
    frames = [frame for _, frame, _ in played([ListFeed(events)], len(rows), mapping, bare)]
    notes = frames_to_notes(shown(frames), bare, mapping)
    again = [frame for _, frame, _ in played([ListFeed(notes.events)], len(rows), mapping, bare)]
    assert again == frames
    assert notes.coarse == ()


def test_through_a_song_file(tmp_path: Path) -> None:
    """The notes survive a MIDI file: from the file they light the very same frames."""
    mapping = keyboard()
    frames = [frame for _, frame, _ in played([ListFeed([NoteOn(0.1, "Pads", 1, 37, 120)])], 70, rig=OPEN)]
    frames += [Frame(k / HZ, frame.universes, frame.slots) for k, frame in enumerate(frames[::-1], 70)]
    notes = frames_to_notes(shown(frames), OPEN, mapping)
    export_midi(notes.events, tmp_path / "light.mid", notes.ends)
    back = read_song(tmp_path / "light.mid").events
    first = [frame for _, frame, _ in played([ListFeed(notes.events)], 140, mapping, OPEN)]
    assert [frame for _, frame, _ in played([ListFeed(back)], 140, mapping, OPEN)] == first
    assert len({frame.slots.tobytes() for frame in first}) > 10


def ramp(count: int, slot: int = 1) -> list[Frame]:
    """One lamp rising from dark to full."""
    frames = []
    for k in range(count):
        slots = np.zeros((2, 512), dtype=np.uint8)
        slots[0, slot - 1] = k * 255 // (count - 1)
        frames.append(Frame(k / HZ, OPEN.universes, slots))
    return frames


def test_threshold_shortest_and_step() -> None:
    """What is under the threshold is dark; no note is shorter than asked; small changes strike nothing."""
    mapping = keyboard()
    frames = shown(ramp(100))
    every = frames_to_notes(frames, OPEN, mapping).events
    assert sum(isinstance(event, NoteOn) for event in every) > 90
    half = frames_to_notes(frames, OPEN, mapping, threshold=0.5).events
    first = half[0]
    assert isinstance(first, NoteOn)
    assert first.velocity >= 64
    assert 45 < sum(isinstance(event, NoteOn) for event in half) < 55
    coarse = frames_to_notes(frames, OPEN, mapping, step=10).events
    assert sum(isinstance(event, NoteOn) for event in coarse) == 13
    slow = frames_to_notes(frames, OPEN, mapping, shortest_ms=200).events
    struck = [event.stamp for event in slow if isinstance(event, NoteOn)]
    ended = [event.stamp for event in slow if isinstance(event, NoteOff)]
    assert len(struck) == len(ended) == 13
    assert all(end - begin >= 0.2 - 1e-9 for begin, end in zip(struck, ended, strict=True))


def test_a_flash_is_as_long_as_the_shortest_note() -> None:
    """One lit frame becomes a note of the shortest length; a lamp that rises meanwhile is struck after it."""
    frames = ramp(40)
    for k, frame in enumerate(frames):
        slots = np.zeros_like(frame.slots)
        slots[0, 0] = {5: 100, 6: 0, 8: 200}.get(k, 200 if k > 8 else 0)
        frames[k] = Frame(frame.t, frame.universes, slots)
    notes = frames_to_notes(shown(frames), OPEN, keyboard(), shortest_ms=100).events
    assert [(type(event).__name__, round(event.stamp, 4)) for event in notes] == [
        ("NoteOn", 0.125),
        ("NoteOff", 0.225),
        ("NoteOn", 0.225),
        ("NoteOff", 1.0),
    ]


def test_lamps_without_a_key_are_named() -> None:
    """A lit lamp that no key plays alone is named, and so is one that no velocity lights as it was."""
    short = Mapping(keys=(KeyRule((60, 61), ((0,), (1,)), between=(0.5, 1.0)),))
    frames = ramp(10, slot=3)
    notes = frames_to_notes(shown(frames), OPEN, short)
    assert (notes.events, notes.keyless, notes.coarse) == ((), ("cie",), ())
    notes = frames_to_notes(shown(ramp(10)), OPEN, short)
    assert (notes.keyless, notes.coarse) == ((), ("red",))
    assert min(event.velocity for event in notes.events if isinstance(event, NoteOn)) == 1


def rules(*keys: KeyRule, **more: object) -> Mapping:
    return Mapping(inputs={"piano": "Grand", "pads": "Pads"}, keys=keys, **more)  # type: ignore[arg-type]


ONE = KeyRule((60,), ((0,),))


@pytest.mark.parametrize(
    ("mapping", "expected"),
    [
        (rules(ONE), ("file", 1, 60)),
        (rules(replace(ONE, source="piano", channel=3)), ("piano", 3, 60)),
        (rules(KeyRule((60,), ((0, 1),)), KeyRule((61,), ((0,),))), ("file", 1, 61)),
        (rules(ONE, KeyRule((60,), ((1,),))), None),
        (rules(ONE, KeyRule((60,), ((1,),), source="pads")), ("piano", 1, 60)),
        (rules(replace(ONE, channel=None), KeyRule((60,), ((1,),), channel=1)), ("file", 2, 60)),
        (rules(replace(ONE, mode="latch")), None),
        (rules(replace(ONE, mode="shot")), None),
        (rules(replace(ONE, choke="all"), KeyRule((61,), ((0,),))), ("file", 1, 61)),
        (rules(ONE, does=(DoRule(Trigger("note", (60,)), "blackout"),)), None),
        (rules(ONE, does=(DoRule(Trigger("note", (60,), source="pads"), "blackout"),)), ("piano", 1, 60)),
        (rules(ONE, sets=(SetRule(Trigger("control", (60,)), "master"),)), ("file", 1, 60)),
        (
            rules(ONE, KeyRule((61,), ((0,),)), chords=(ChordRule((0, 4, 7), notes=frozenset({60})),)),
            ("file", 1, 61),
        ),
        (rules(ONE, chords=(ChordRule((0, 4, 7), channel=1),)), ("file", 2, 60)),
        (rules(ONE, chords=(ChordRule((0, 4, 7)),)), ("file", 1, 60)),
        (rules(KeyRule((60, 60), ((0,), (1,)))), None),
    ],
)
def test_the_key_of_a_lamp(mapping: Mapping, expected: tuple[str, int, int] | None) -> None:
    """A lamp's key is one that nothing else hears, on an input and channel where that holds, or none."""
    found = lamp_keys(mapping).get(0)
    assert (found and (found.port, found.channel, found.note)) == expected


def test_keys_that_a_chord_hears_are_named() -> None:
    """Where a chord may hear the keys too, the lamps are named: its shape may light up with them."""
    mapping = rules(ONE, chords=(ChordRule((0, 4, 7)),))
    notes = frames_to_notes(shown(ramp(5)), OPEN, mapping)
    assert notes.chordal == ("red",)
    assert lamp_keys(mapping)[0] == LampKey("file", 1, 60, ONE)


@pytest.mark.parametrize(
    ("options", "match"),
    [
        ({"threshold": 1.0}, "a threshold is 0 up to 1"),
        ({"threshold": -0.1}, "a threshold is 0 up to 1"),
        ({"shortest_ms": -1.0}, "a shortest length 0 to 60000 ms"),
        ({"step": 0}, "a step 1 or more"),
    ],
)
def test_options_that_make_no_sense(options: dict[str, float], match: str) -> None:
    """An option out of range is the player's mistake, and the message gives the range."""
    with pytest.raises(UsageError, match=match):
        frames_to_notes([], OPEN, keyboard(), **options)  # type: ignore[arg-type]


def test_a_mapping_without_keys_is_said() -> None:
    """A mapping that holds no lamp by itself cannot say frames at all."""
    with pytest.raises(UsageError, match="the mapping empty has no key that holds one lamp alone"):
        frames_to_notes([], OPEN, Mapping("empty"))
