"""Knows: what the ready rigs and mappings must stand up to before a player copies them.

Must never know: how files are read, or which rules a file holds.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bridge.core.engine import Engine
from bridge.shell.explain_chords import never_drawn
from bridge.shell.files import read_mapping, read_rig
from bridge.values.events import Bend, Control, Event, NoteOff, NoteOn, Program
from bridge.values.mapping import KeyRule, Trigger
from bridge.values.sound import Sound

ROOT = Path(__file__).parent.parent
RIG = ROOT / "examples" / "boathouse" / "rig.yaml"
MAPPINGS = [ROOT / "examples" / "boathouse" / "mapping.yaml", *sorted((ROOT / "mappings").glob("*.yaml"))]
READY = pytest.mark.parametrize("path", MAPPINGS, ids=lambda path: path.stem)


def port_of(inputs: dict[str, str], source: str) -> str:
    """A port's name that counts as the input `source`."""
    return f"a {inputs.get(source, 'port')} one"


def test_the_boathouse_reads_without_a_word() -> None:
    """The rig has no mistakes and no warnings, 31 lamps on slots 1 to 31, and sends nothing out."""
    rig, warnings = read_rig(RIG)
    assert not warnings
    assert [lamp.slot for lamp in rig.lamps] == list(range(1, 32))
    assert rig.outputs == ()


def test_the_boathouse_is_within_its_supply_at_full() -> None:
    """Every lamp at its ceiling draws no more than the supply may give after its headroom."""
    rig, _ = read_rig(RIG)
    (supply,) = rig.supplies
    amps = sum(lamp.watts * lamp.ceiling for lamp in rig.lamps) / supply.volts
    assert 0 < amps <= supply.amps * (1 - supply.headroom)


@READY
def test_a_ready_mapping_reads_without_a_word(path: Path) -> None:
    """A ready mapping fits the boathouse without mistakes or warnings, and says first whom it suits."""
    rig, _ = read_rig(RIG)
    mapping, warnings = read_mapping(path, rig)
    assert not warnings
    assert mapping.keys
    assert mapping.sets
    assert list(never_drawn(mapping)) == []
    if path.parent.name == "mappings":
        text = path.read_text(encoding="utf-8")
        assert text.startswith("# Suits ")
        # What invites to flash fast says so where the player meets it.
        quick = [rule for rule in mapping.keys if rule.mode == "shot" or rule.curve == "full"]
        assert "seizure" in text or len(quick) < 6


def strike_of(rule: KeyRule, note: int, port: str, stamp: float) -> NoteOn:
    """The hardest strike that a rule hears."""
    return NoteOn(stamp, port, rule.channel or 1, note, rule.velocities[1])


def hears(rule: KeyRule, other: KeyRule, note: int) -> bool:
    """True if `other` hears the hardest strike that `rule` hears on a note."""
    return (
        note in other.notes
        and other.source in ("", rule.source)
        and other.channel in (None, rule.channel or 1)
        and other.velocities[0] <= rule.velocities[1] <= other.velocities[1]
    )


@READY
def test_every_rule_of_a_ready_mapping_lights_its_lamps_and_lets_them_go(path: Path) -> None:
    """A note raises the lamps its rules name and no other; let go, the rig rests as it did before."""
    rig, _ = read_rig(RIG)
    mapping, _ = read_mapping(path, rig)
    slots = [lamp.slot - 1 for lamp in rig.lamps]
    for rule in mapping.keys:
        for note in rule.notes:
            engine = Engine(rig, mapping)
            port = port_of(dict(mapping.inputs), rule.source)
            rest = engine.advance([], 0.0).slots[0, slots].astype(int)
            strike: list[Event] = [strike_of(rule, note, port, 0.1)]
            frames = [engine.advance(strike if k == 4 else [], k / 40) for k in range(4, 32)]
            peaks = np.max([frame.slots[0, slots] for frame in frames], axis=0)
            # Another rule may hear the same note: a crash rings on a post and over the roof.
            named = {
                lamp
                for other in mapping.keys
                if hears(rule, other, note)
                for lamp in other.lamps[other.notes.index(note)]
            }
            assert set(np.flatnonzero(peaks > rest).tolist()) == named, (rule.line, note)
            channel = rule.channel or 1
            engine.advance([NoteOff(0.8, port, channel, note)], 0.8)
            if rule.mode == "latch":
                engine.advance([strike_of(rule, note, port, 0.9), NoteOff(1.0, port, channel, note)], 1.0)
            assert (engine.advance([], 9.0).slots[0, slots] == rest).all()


@READY
def test_every_shape_of_a_ready_mapping_answers_its_chord(path: Path) -> None:
    """Each chord, played on its own keys, is drawn on every root, and ends as its shape says."""
    rig, _ = read_rig(RIG)
    mapping, _ = read_mapping(path, rig)
    for rule in mapping.chords:
        port = port_of(dict(mapping.inputs), rule.source)
        low = min(rule.notes, default=36)
        drawn = {rule.chase or rule.picture}
        for root in range(12):
            engine = Engine(rig, mapping)
            notes = [low + root + interval for interval in rule.intervals]
            engine.advance([NoteOn(0.0, port, rule.channel or 1, note, 127) for note in notes], 0.0)
            engine.advance([], mapping.window + 0.2)
            assert engine.chord[1] == rule.name, (rule.line, root)
            end: list[Event] = [NoteOff(2.0, port, rule.channel or 1, note) for note in notes]
            engine.advance(end, 2.0)
            lit = bool((engine.advance([], 9.0).slots > 0).sum() > sum(lamp.rest > 0 for lamp in rig.lamps))
            assert lit == (rule.then != "release"), (rule.line, root)
        assert drawn


def moved(trigger: Trigger, value: int, port: str) -> Event:
    """The event of a trigger that is turned or pressed to `value` 0..127."""
    channel, number = trigger.channel or 1, trigger.numbers[0] if trigger.numbers else 0
    if trigger.kind == "note":
        return NoteOn(0.0, port, channel, number, value) if value else NoteOff(0.0, port, channel, number)
    if trigger.kind == "program":
        return Program(0.0, port, channel, number)
    if trigger.kind == "bend":
        return Bend(0.0, port, channel, value * 129 - 8192)
    if trigger.kind == "band":
        return Sound(0.0, "song", tuple(value / 127 if n == number else 0.0 for n in range(3)))
    return Control(0.0, port, channel, number, value)


UNSEEN = ("release_all", "record", "tap")
"""Words of `does` whose effect is no change of a resting picture."""


@READY
def test_the_controls_of_a_ready_mapping_answer(path: Path) -> None:
    """Every controller, and every note that does something, changes the picture of what is played with it."""
    rig, _ = read_rig(RIG)
    mapping, _ = read_mapping(path, rig)
    inputs = dict(mapping.inputs)
    rules = [(rule, note) for rule in mapping.keys for note in rule.notes]
    held: list[NoteOn] = [strike_of(rule, note, port_of(inputs, rule.source), 0.0) for rule, note in rules]
    # What goes by the tempo: pulses of held keys, and chases in beats.
    paced = [strike for strike, (rule, _) in zip(held, rules, strict=True) if rule.repeat]
    for shape in (shape for shape in mapping.chords if shape.in_beats):
        low, port = min(shape.notes, default=36), port_of(inputs, shape.source)
        paced += [NoteOn(0.0, port, shape.channel or 1, low + interval, 127) for interval in shape.intervals]
    for shape in mapping.chords[:1]:
        low, port = min(shape.notes, default=36), port_of(inputs, shape.source)
        held += [NoteOn(0.0, port, shape.channel or 1, low + interval, 127) for interval in shape.intervals]
    look = next(iter(mapping.looks))

    def picture(trigger: Trigger | None, value: int, what: str) -> bytes:
        """The rig while keys are held and after, the control at `value`; a look where its fade is set."""
        engine = Engine(rig, mapping)
        first: list[Event] = []
        if trigger is not None:
            port = port_of(inputs, trigger.source)
            # From the top down, as `takeover` wants it of a master.
            first = [moved(trigger, 127, port), moved(trigger, value, port)][1 - (what == "master") :]
        played: list[NoteOn] = {"look": [], "level": [], "tempo": paced}.get(what, held)
        if what == "fade":
            free = next(does for does in mapping.does if does.look == look and does.fade is None)
            first.append(moved(free.trigger, 127, port_of(inputs, free.trigger.source)))
        lifted = [NoteOff(1.0, strike.port, strike.channel, strike.note) for strike in played]
        shown = [engine.advance([*first, *played], 0.1)]
        shown += [engine.advance(lifted if k == 40 else [], k / 40) for k in range(5, 80)]
        return b"".join(frame.slots.tobytes() for frame in shown)

    for sets in mapping.sets:
        assert picture(sets.trigger, 127, sets.what) != picture(sets.trigger, 0, sets.what), sets
    for does in mapping.does:
        if does.does not in UNSEEN and (does.does != "look" or does.look):
            assert picture(does.trigger, 127, does.does) != picture(None, 0, does.does), does
