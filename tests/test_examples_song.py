"""Knows: what the demo song of the boathouse promises to its players and to the audience.

Must never know: how it was composed.
"""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import ModuleType

import mido
import numpy as np
import pytest

from bridge.core.engine import Engine
from bridge.core.ports import PortNames
from bridge.shell.files import read_mapping, read_rig
from bridge.values.events import Control, NoteOff, NoteOn
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from bridge.wire.smf import Song, parse
from tests.reference.flash_count import worst_second

EXAMPLES = Path(__file__).parent.parent / "examples"
SONG = EXAMPLES / "boathouse" / "evening.mid"


@cache
def script() -> ModuleType:
    """The script that composes the song, as a module."""
    spec = importlib.util.spec_from_file_location("make_song", EXAMPLES / "make_song.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@cache
def boathouse() -> tuple[Rig, Mapping]:
    """The rig and the mapping of the demo."""
    rig, _ = read_rig(EXAMPLES / "boathouse" / "rig.yaml")
    mapping, _ = read_mapping(EXAMPLES / "boathouse" / "mapping.yaml", rig)
    return rig, mapping


@cache
def song() -> Song:
    """The committed song as our reader reads it."""
    return parse(SONG.read_bytes())


@cache
def drives() -> np.ndarray:
    """The drive 0..1 of every lamp in each frame of the song, (frames, lamps), with all guards off."""
    rig, mapping = boathouse()
    rig = replace(rig, guards=dict.fromkeys(rig.guards, "off"))
    engine, events, rows = Engine(rig, mapping), song().events, []
    slots = [lamp.slot - 1 for lamp in rig.lamps]
    done = 0
    for k in range(round((song().ends + 5) * rig.refresh_hz)):
        t = k / rig.refresh_hz
        first = done
        while done < len(events) and events[done].stamp <= t:
            done += 1
        rows.append(engine.advance(events[first:done], t).slots[0, slots])
    return np.array(rows) / 255.0


def test_the_script_writes_the_committed_file() -> None:
    """Composing is deterministic: the script gives the very bytes of evening.mid."""
    assert script().song_bytes() == SONG.read_bytes()


def test_mido_and_our_reader_read_the_same_notes() -> None:
    """Both readers find the same strikes and releases, at the same seconds to a microsecond."""
    theirs, now = [], 0.0
    for message in mido.MidiFile(SONG):
        now += message.time
        if message.type in ("note_on", "note_off"):
            theirs.append((now, message.channel + 1, message.note, message.type, message.velocity))
    ours = [
        (e.stamp, e.channel, e.note, "note_on" if isinstance(e, NoteOn) else "note_off", e.velocity)
        for e in song().events
        if isinstance(e, NoteOn | NoteOff)
    ]
    assert len(ours) == len(theirs) > 500
    for mine, other in zip(sorted(ours), sorted(theirs), strict=True):
        assert mine[1:] == other[1:]
        assert mine[0] == pytest.approx(other[0], abs=1e-6)


def test_the_song_is_a_type_1_file_with_a_tempo_map() -> None:
    """Type 1, between 75 and 90 seconds, its tempo moving with the music, one track for each input."""
    _, mapping = boathouse()
    assert song().format == 1
    assert 75 <= song().ends <= 90
    assert len(song().tempos) >= 10
    assert song().tracks[1:] == ("piano", "bass", "pads")
    names = PortNames(mapping.inputs)
    assert all(any(names.matches(track, name) for track in song().tracks[1:]) for name in mapping.inputs)


def test_every_note_of_the_song_is_heard() -> None:
    """No note is wasted: a rule of the mapping hears each of them on its input."""
    _, mapping = boathouse()
    names = PortNames(mapping.inputs)
    for event in song().events:
        if isinstance(event, NoteOn):
            keys = [rule for rule in mapping.keys if event.note in rule.notes]
            does = [rule.trigger for rule in mapping.does if event.note in rule.trigger.numbers]
            sources = [rule.source for rule in keys] + [trigger.source for trigger in does]
            assert any(names.matches(event.port, source) for source in sources), event


def test_every_key_is_let_go() -> None:
    """Each strike is released before the same key is struck again, and the pedal is up at the end."""
    down: set[tuple[str, int]] = set()
    pedal, pressed = 0, 0
    for event in song().events:
        if isinstance(event, NoteOn):
            assert (event.port, event.note) not in down
            down.add((event.port, event.note))
        elif isinstance(event, NoteOff):
            down.remove((event.port, event.note))
        elif isinstance(event, Control) and event.control == 64:
            pedal, pressed = event.value, pressed + (event.value > 0)
    assert not down
    assert pedal == 0
    assert pressed >= 20


def test_every_lamp_has_its_moment() -> None:
    """Each lamp of the rig is brought well up at some time, and the song ends quietly."""
    assert (drives().max(axis=0) > 0.25).all()
    assert drives()[-1].max() < 0.2
    assert np.ptp(drives()[-40:], axis=0).max() == 0


def fields(rig: Rig) -> dict[str, tuple[int, ...]]:
    """Every part of the rig that may fill a field of view: lamps, groups, blocks of neighbours, a whole."""
    index = {lamp.name: lamp.index for lamp in rig.lamps}
    out = {lamp.name: (lamp.index,) for lamp in rig.lamps} | dict(rig.groups)
    for size in (2, 3):
        for column in range(1, 8 - size):
            for row in range(1, 6 - size):
                places = [(column + x, row + y) for x in range(size) for y in range(size)]
                out[f"{size}x{size} at {column}.{row}"] = tuple(index[f"roof.{x}.{y}"] for x, y in places)
    return out


def test_the_song_never_comes_near_a_strobe() -> None:
    """No lamp, group, block or whole makes more than three general flashes in any second, guards off.

    The count is that of WCAG 2.2 (reference flash_count.py), drive taken for relative luminance. It was
    made for screens; we borrow it.
    """
    rig, _ = boathouse()
    times = np.arange(len(drives())) / rig.refresh_hz
    for name, lamps in fields(rig).items():
        luminance = drives()[:, list(lamps)].mean(axis=1)
        _, flashes = worst_second(list(zip(times.tolist(), luminance.tolist(), strict=True)))
        assert flashes <= 3, name
    # The measure itself does count: a lamp that blinks eight times a second fails.
    blink = [(k / 40, float(k % 5 < 2)) for k in range(80)]
    assert worst_second(blink)[1] > 3
