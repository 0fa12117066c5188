"""A rig that plays a song without a mapping."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.engine import Engine
from bridge.shell.sound.usual import usual_mapping
from bridge.values.events import BeatHeard, Event, Onset, Sound
from bridge.values.rig import Lamp, Rig

SIZES = [(1, 1), (2, 1), (3, 1), (5, 1), (6, 4), (12, 1), (1, 12), (2, 8)]

OFF = {"load": "off", "flash": "off", "heat": "off"}


def grid(columns: int, rows: int) -> Rig:
    """Lamps a metre apart."""
    lamps = tuple(
        Lamp(f"l{c}.{r}", r * columns + c, 1, r * columns + c + 1, at=(float(c), float(r)))
        for r in range(rows)
        for c in range(columns)
    )
    return Rig("test", lamps, groups={"all": tuple(range(len(lamps)))}, guards=OFF)


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_every_lamp_of_any_rig_plays(columns: int, rows: int) -> None:
    """With all bands full and struck every lamp of the rig is lit, whatever its size; in silence none is."""
    rig = grid(columns, rows)
    engine = Engine(rig, usual_mapping(rig)[0])
    events: list[Event] = [Sound(0.5, "x", (1.0, 1.0, 1.0))]
    events += [Onset(0.5, "x", band, 1.0) for band in range(3)]
    dark = engine.advance([], 0.25).slots[0][: columns * rows]
    lit = engine.advance(events, 0.5).slots[0][: columns * rows]
    assert not dark.any()
    assert lit.all()


def test_bands_are_told_apart() -> None:
    """On a grid the bass drum lights the middle of the stage, the tune rises beside it, a clap the edges."""
    rig = grid(6, 4)
    heard: list[Event] = [Onset(0.5, "x", 0, 1.0), Sound(0.5, "x", (0.0, 1.0, 0.0)), Onset(0.5, "x", 1, 1.0)]
    lit = []
    for event in heard:
        frame = Engine(rig, usual_mapping(rig)[0]).advance([event], 0.5)
        # The wave under all of it is no brighter than 0.45.
        lit.append({lamp % 6 for lamp in range(24) if frame.slots[0][lamp] > 120})
    assert lit == [{2, 3}, {1, 4}, {0, 5}]


def test_the_wave_goes_with_the_beat_and_ends_with_the_song() -> None:
    """Under a song that sounds a lamp swells once in eight beats; when the song is over all is dark."""
    rig = grid(6, 4)
    engine = Engine(rig, usual_mapping(rig)[0])
    levels = []
    for k in range(round(40 * 14.0)):
        t = k / 40
        events: list[Event] = [Sound(t, "x", (0.0, 0.5, 0.0))] if t < 12.0 else []
        if k % 24 == 0 and t < 12.0:
            events.append(BeatHeard(t, "x", 100.0, 1.0))
        levels.append([int(slot) for slot in engine.advance(events, t).slots[0][:24]])
    # Top left: no bar rises so high, and nothing is struck. Two waves in sixteen beats, 9.6 s.
    corner = [row[18] for row in levels[40 : 40 + 384]]
    crests = [n for n in range(1, 383) if corner[n - 1] < corner[n] >= corner[n + 1] and corner[n] > 30]
    assert len({crest // 96 for crest in crests}) == 2
    assert max(levels[-1]) == 0


@pytest.mark.parametrize("bpm", [90, 128, 174])
def test_the_guard_has_next_to_nothing_to_hold_back(bpm: int) -> None:
    """A bass drum on every beat, a clap on every other: no more than three flashes a second are asked for."""
    rig = replace(grid(6, 4), guards={**OFF, "flash": "limit"})
    engine, free = Engine(rig, usual_mapping(rig)[0]), Engine(grid(6, 4), usual_mapping(rig)[0])
    furthest = 0
    for k in range(40 * 10):
        t = k / 40
        events: list[Event] = [Sound(t, "x", (0.6, 0.7, 0.4))]
        beat, before = int(t * bpm / 60), int((k - 1) / 40 * bpm / 60)
        if beat != before:
            events.append(Onset(t, "x", 0, 0.9))
            if beat % 2:
                events.append(Onset(t, "x", 1, 0.8))
        held = free.advance(events, t).slots[0].astype(int) - engine.advance(events, t).slots[0]
        furthest = max(furthest, int(held.max()))
    assert furthest == 0
