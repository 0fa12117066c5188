"""Knows: what the ready rigs and mappings must stand up to before a player copies them.

Must never know: how files are read, or which rules a file holds.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bridge.core.engine import Engine
from bridge.shell.files import read_mapping, read_rig
from bridge.values.events import Control, Event, NoteOff, NoteOn
from bridge.values.mapping import Trigger

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
    if path.parent.name == "mappings":
        assert path.read_text(encoding="utf-8").startswith("# Suits ")


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
            strike: list[Event] = [NoteOn(0.1, port, 1, note, 127)]
            frames = [engine.advance(strike if k == 4 else [], k / 40) for k in range(4, 16)]
            peaks = np.max([frame.slots[0, slots] for frame in frames], axis=0)
            # Another rule may hear the same note: a crash rings on a post and over the roof.
            named = {
                lamp
                for other in mapping.keys
                if other.source == rule.source and note in other.notes
                for lamp in other.lamps[other.notes.index(note)]
            }
            assert set(np.flatnonzero(peaks > rest).tolist()) == named
            engine.advance([NoteOff(0.4, port, 1, note)], 0.4)
            if rule.mode == "latch":
                engine.advance([NoteOn(0.5, port, 1, note, 127), NoteOff(0.6, port, 1, note)], 0.6)
            assert (engine.advance([], 9.0).slots[0, slots] == rest).all()


@READY
def test_the_controls_of_a_ready_mapping_answer(path: Path) -> None:
    """Every controller, and every note that does something, changes the picture."""
    rig, _ = read_rig(RIG)
    mapping, _ = read_mapping(path, rig)
    inputs = dict(mapping.inputs)
    strikes = [
        NoteOn(0.0, port_of(inputs, rule.source), 1, note, 127)
        for rule in mapping.keys
        for note in rule.notes
    ]

    def picture(trigger: Trigger, value: int | None, under: str) -> bytes:
        """The rig soon and long after the trigger; a master or a blackout needs light to work on."""
        engine = Engine(rig, mapping)
        events: list[Event] = list(strikes) if under in ("master", "blackout") else []
        port = port_of(inputs, trigger.source)
        if value is not None and trigger.kind == "control":
            events.append(Control(0.0, port, 1, trigger.numbers[0], value))
        elif value is not None:
            events.append(NoteOn(0.0, port, 1, trigger.numbers[0], value))
        return engine.advance(events, 0.1).slots.tobytes() + engine.advance([], 20.0).slots.tobytes()

    for sets in mapping.sets:
        assert picture(sets.trigger, 127, sets.what) != picture(sets.trigger, 0, sets.what), sets
    for does in mapping.does:
        if does.does != "release_all":
            assert picture(does.trigger, 127, does.does) != picture(does.trigger, None, does.does), does
