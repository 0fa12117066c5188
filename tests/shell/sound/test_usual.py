"""A rig that plays a song without a mapping."""

from __future__ import annotations

import pytest

from bridge.core.engine import Engine
from bridge.shell.sound.usual import usual_mapping
from bridge.values.events import Event, Onset, Sound
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
    """On a grid the bass alone and the treble alone light different lamps, bass in the middle."""
    rig = grid(6, 4)
    lit = []
    for band in range(3):
        engine = Engine(rig, usual_mapping(rig)[0])
        bands = tuple(1.0 if n == band else 0.0 for n in range(3))
        frame = engine.advance([Sound(0.5, "x", bands)], 0.5)
        lit.append({lamp % 6 for lamp in range(24) if frame.slots[0][lamp]})
    assert lit == [{2, 3}, {1, 4}, {0, 5}]
