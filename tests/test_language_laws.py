# ruff: noqa: E501 - a pair of ways to say the same stays on its lines
"""Laws that hold from the text of a mapping to the slots: what means the same plays the same; nothing jumps or sticks."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bridge.core.dials import Dials
from bridge.core.engine import Engine
from bridge.core.hands import Hands
from bridge.core.player import Player
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.errors import FileError
from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Event,
    KeyPressure,
    NoteOff,
    NoteOn,
    Program,
)
from tests.shell.files.cases import FULL
from tests.shell.files.cases import RIG as BOATHOUSE
from tests.shell.files.random_mappings import mapping_text

RIG, _ = rig_from_text(
    BOATHOUSE.replace("load: limit, flash: limit, heat: warn", "load: 'off', flash: 'off', heat: 'off'")
)
HEAD = (
    "inputs: {piano: grand}\nfeels: {bell: {attack_ms: 20, decay_ms: 300, sustain: 0.3, release_ms: 150}}\n"
)
LOOKS = "looks: {dusk: {left: 0.5}}\n"

SAME = {
    "names and numbers": (
        "keys: [{notes: C3..E3, lamps: roof}]",
        "keys: [{notes: [48, 49, 50, 51, 52], lamps: roof}]",
        "middle_c: C3\nkeys: [{notes: C2..E2, lamps: roof}]",
        "keys: [{notes: C4..E4, lamps: roof, transpose: 12}]",
        "keys: [{notes: [C3, C#3, D3, Eb3, E3], lamps: roof, spread: each}]",
        "keys: [{notes: 48, lamps: roof.1.1}, {notes: 49, lamps: roof.2.1}, {notes: 50, lamps: roof.3.1}, {notes: 51, lamps: roof.4.1}, {notes: 52, lamps: roof.5.1}]",
        "keys: [{notes: 48..52, lamps: roof, curve: linear, between: [0, 1], velocity: 1..127, mode: hold, merge: highest, pedal: follow, transpose: 0}]",
    ),
    "drums": (
        "keys: [{notes: [Closed Hi-Hat, Acoustic Bass Drum], lamps: left, spread: together}]",
        "keys: [{notes: [closed hihat, 35], lamps: [roof.1, roof.2, roof.3], spread: together}]",
        "keys: [{notes: [F#2, B1], lamps: ['roof.1', 'roof.2.*', 'roof.3'], spread: together}]",
    ),
    "touch": (
        "keys: [{notes: 48..52, lamps: roof, velocity: 20..127}]",
        "keys: [{notes: 48..52, lamps: roof, velocity: [20, 127]}]",
        "keys: [{notes: 48..52, lamps: roof, min_velocity: 20}]",
    ),
    "feels": (
        HEAD + "keys: [{notes: 48..52, lamps: roof, feel: bell, curve: square, merge: latest}]",
        HEAD + "feel: bell\ncurve: square\nmerge: latest\nkeys: [{notes: 48..52, lamps: roof}]",
        HEAD.replace("bell", "other") + "feel: other\ncurve: soft\nmerge: latest\nkeys: [{notes: 48..52, lamps: roof, curve: square}]",
    ),
    "looks and controls": (
        LOOKS + "controls: [{notes: [48, 50], does: look, look: dusk}, {control: 7, sets: master}, {control: 1, sets: level, lamps: right}]",
        LOOKS + "controls: [{control: 1, sets: level, lamps: [roof.4, roof.5, roof.6]}, {control: 7, sets: master, between: [0, 1]}, {notes: 48, does: look, look: dusk, fade_ms: 0}, {notes: 50, does: look, look: dusk}]",
    ),
    "chords": (
        "chords: {shapes: [{chord: minor 7, lamps: left}]}",
        "chords: {shapes: [{chord: m7, levels: {left: 1}}]}",
        "chords: {window_ms: 20, shapes: [{chord: [0, 3, 7, 10], draw: ['***', '***', '***', '***']}]}",
        "chords:\n  shapes:\n    - chord: [0, 7, 10, 15]\n      over: roof\n      draw: |\n        ***...\n        ***...\n        ***...\n        ***...\n",
    ),
    "chases": (
        "chords: {shapes: [{chord: minor, chase: roof, step_ms: 50}]}",
        "tempo: 60\nchords: {shapes: [{chord: minor, chase: [roof.*.1, roof.*.2, roof.*.3, roof.*.4], step_beats: 0.05}]}".replace("[roof.*.1, roof.*.2, roof.*.3, roof.*.4]", "['roof.*.1', 'roof.*.2', 'roof.*.3', 'roof.*.4']"),
    ),
}  # fmt: skip

KEYS = st.sampled_from([35, 42, 48, 49, 50, 51, 52, 55, 58])
TIMES = st.floats(0.0, 1.5)
EVENTS: st.SearchStrategy[Event] = st.one_of(
    st.builds(NoteOn, TIMES, st.just("a grand"), st.just(1), KEYS, st.integers(1, 127)),
    st.builds(NoteOff, TIMES, st.just("a grand"), st.just(1), KEYS),
    st.builds(
        Control, TIMES, st.just("a grand"), st.just(1), st.sampled_from([1, 7, 64]), st.integers(0, 127)
    ),
    st.builds(Program, TIMES, st.just("a grand"), st.just(1), st.integers(0, 2)),
)


def engine(text: str) -> Engine:
    """An engine over the boathouse without guards."""
    mapping, _ = mapping_from_text(text, RIG)
    return Engine(RIG, mapping)


def film(machine: Engine, events: list[Event], seconds: float = 2.0) -> list[bytes]:
    """Every frame of universe 1 at 40 Hz."""
    events = sorted(events, key=lambda event: event.stamp)
    out, at = [], 0
    for k in range(int(seconds * 40) + 1):
        end = at
        while end < len(events) and events[end].stamp <= k / 40:
            end += 1
        out.append(machine.advance(events[at:end], k / 40).universe(1))
        at = end
    return out


CHORD: list[Event] = [NoteOn(0.3, "a grand", 1, note, 100) for note in (48, 51, 55, 58)]


@pytest.mark.parametrize("texts", SAME.values(), ids=SAME.keys())
@settings(max_examples=25)
@given(events=st.lists(EVENTS, max_size=25))
def test_the_same_in_different_words(texts: tuple[str, ...], events: list[Event]) -> None:
    """Mappings that say the same in different words give the same bytes, frame for frame, whatever is played."""
    first, *others = (film(engine(text), [*events, *CHORD]) for text in texts)
    assert all(other == first for other in others)


@pytest.mark.parametrize("texts", SAME.values(), ids=SAME.keys())
def test_what_is_compared_is_lit(texts: tuple[str, ...]) -> None:
    """No comparison above is one of dark with dark: the events it always plays light the rig."""
    begin: list[Event] = [Control(0.0, "a grand", 1, 1, 80), NoteOn(0.1, "a grand", 1, 42, 90)]
    for text in texts:
        assert (
            len({frame for frame in film(engine(text), [*begin, *CHORD]) if any(frame)}) > 1
            or "level" in text
        )


@given(
    presses=st.lists(st.floats(0.0, 1.9), max_size=15),
    keys=st.lists(st.integers(48, 51), min_size=15, max_size=15),
)
def test_latches_keep_count(presses: list[float], keys: list[int]) -> None:
    """A latched lamp is lit just where its key was pressed an odd number of times, however long it was held."""
    machine = engine("keys: [{notes: 48..51, lamps: roof, mode: latch}]")
    struck = list(zip(sorted(presses), keys, strict=False))
    events: list[Event] = [NoteOn(at, "a grand", 1, key, 1 + int(at * 60)) for at, key in struck]
    events += [NoteOff(at + 0.05, "a grand", 1, key) for at, key in struck]
    last = film(machine, events)[-1]
    odd = [sum(1 for _, key in struck if key == note) % 2 == 1 for note in range(48, 52)]
    assert [value > 0 for value in last[:4]] == odd


@given(events=st.lists(EVENTS, max_size=25))
@settings(max_examples=40)
def test_a_master_at_0_is_dark(events: list[Event]) -> None:
    """With the master of all at 0 no slot is up, whatever keys, chords, looks, levels and rests would light."""
    text = SAME["names and numbers"][0] + "\n" + SAME["looks and controls"][0] + "\n" + SAME["chords"][0]
    machine = engine(text)
    film(machine, events)
    assert machine.advance([*CHORD, Control(2.5, "a grand", 1, 7, 0)], 2.5).universe(1) == bytes(512)
    assert machine.advance([], 2.6).universe(1) == bytes(512)
    # And it comes back with the master: the darkness was the master's.
    assert machine.advance([Control(2.7, "a grand", 1, 7, 127)], 2.7).universe(1) != bytes(512)


@given(
    first=st.integers(1, 127),
    second=st.integers(1, 127),
    at=st.floats(0.05, 0.9),
    gap=st.floats(0.001, 0.2),
    mode=st.sampled_from(["hold", "shot"]),
    attack=st.sampled_from([0, 40, 250]),
)
def test_a_lamp_struck_again_never_drops_first(
    first: int, second: int, at: float, gap: float, mode: str, attack: int
) -> None:
    """Struck again with the key down or just let go, the light goes straight to its new level from where it is."""
    text = (
        f"feels: {{f: {{attack_ms: {attack}, decay_ms: 400, sustain: 0.4, release_ms: 300}}}}\n"
        f"keys: [{{notes: 48, lamps: west.red, feel: f, mode: {mode}}}]"
    )
    machine = engine(text)
    machine.advance([NoteOn(0.0, "a grand", 1, 48, first), NoteOff(at, "a grand", 1, 48)], at)
    again = at + gap
    before = machine.advance([], again).universe(1)[24]
    machine.advance([NoteOn(again, "a grand", 1, 48, second)], again)
    rise = [machine.advance([], again + k * attack / 10_000).universe(1)[24] for k in range(11)]
    peak = round(second / 127 * 255)
    low = min(before, peak) - 1
    assert all(value >= low for value in rise), (before, rise, peak)
    if before <= peak:
        assert rise == sorted(rise), (before, rise)
    assert abs(rise[-1] - peak) <= 2


@given(
    events=st.lists(EVENTS, max_size=20),
    late=st.lists(EVENTS, min_size=1, max_size=20),
    modes=st.permutations(["hold", "latch", "shot"]),
)
@settings(max_examples=60)
def test_late_events_are_legal(events: list[Event], late: list[Event], modes: list[str]) -> None:
    """Events that come after others though they happened before them break nothing, whatever feels and fades are 0."""
    text = (
        HEAD + LOOKS + "tempo: 100\nkeys:\n"
        + "".join(f"  - {{notes: {48 + n}, lamps: roof.{n + 1}, mode: {mode}, feel: bell}}\n" for n, mode in enumerate(modes))
        + "  - {notes: [35, 42, 48, 51], lamps: left, spread: together}\n"
        + "controls: [{notes: [50, 52], does: look, look: dusk}, {notes: 49, does: look, look: none, fade_ms: 500}]\n"
        + SAME["chords"][0]
    )  # fmt: skip
    machine = engine(text)
    film(machine, events)
    machine.advance(late, 2.1)
    machine.advance([], 2.2)
    machine.advance([NoteOff(2.3, "a grand", 1, note) for note in range(128)], 2.3)
    assert len(machine.advance([], 4.0).universe(1)) == 512


@given(events=st.lists(EVENTS, max_size=40), pedal=st.booleans())
@settings(max_examples=60)
def test_what_was_let_go_is_dark(events: list[Event], pedal: bool) -> None:
    """When every key and pedal is up, a second later no key or chord lights anything: only rests and levels stay."""
    text = (
        HEAD
        + "feel: bell\nkeys: [{notes: 48..52, lamps: roof}, {notes: [35, 42], lamps: left, spread: together, repeat: 0.25}]\n"
        + SAME["chords"][0]
    )
    machine = engine(text)
    rest = machine.advance([], 0.0).universe(1)
    film(machine, [event for event in events if pedal or not isinstance(event, Control)])
    end: list[Event] = [NoteOff(2.1, "a grand", 1, note) for note in range(128)]
    end.append(Control(2.1, "a grand", 1, 64, 0))
    machine.advance(end, 2.1)
    machine.advance([], 3.0)
    assert machine.advance([], 3.5).universe(1) == rest


@given(seed=st.integers(0, 10**9))
@settings(max_examples=120)
def test_levels_stay_within_0_and_1(seed: int) -> None:
    """Whatever a mapping says and hands do, every level the sources, looks, knobs and masters give is 0 to 1."""
    text = FULL if seed % 5 == 0 else mapping_text(seed, 0.0)
    try:
        mapping, _ = mapping_from_text(text, RIG)
    except FileError:
        assume(False)
    player, chance = Player(RIG, mapping, Hands(), Dials()), random.Random(seed)
    notes = [note for rule in mapping.keys for note in rule.notes] or [60]
    knobs = [number for rule in mapping.sets for number in rule.trigger.numbers] or [1]
    for k in range(60):
        t, port = k / 20, chance.choice(["a grand piano", "a drum kit", "box fader"])
        note, value = chance.choice(notes), chance.randint(0, 127)
        player.take(
            chance.choice(
                [
                    NoteOn(t, port, 1, note, max(1, value)),
                    NoteOff(t, port, 1, note, value),
                    KeyPressure(t, port, 1, note, value),
                    ChannelPressure(t, port, 1, value),
                    Control(t, port, 1, min(119, chance.choice(knobs)), value),
                    Bend(t, port, 1, value * 129 - 8192),
                ]
            )
        )
        player.time_passes(t)
        levels, _ = player.levels(t)
        assert np.all((levels >= 0.0) & (levels <= 1.0)), (seed, k, levels)
