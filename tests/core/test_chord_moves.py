"""A chase moves and turns over its grid as a picture does, and steps through its lamps in the same order."""

from __future__ import annotations

import pytest

from bridge.core.engine import Engine
from bridge.values.mapping import ChordRule, Feel
from tests.core.builders import engine, lit, off, on

MAJOR = (0, 4, 7)
CELLS = ((0, 1, 2, 3),)
SQUARE = ((0, 1), (2, 3))


def steps(machine: Engine, t: float, *notes: int) -> list[int]:
    """The lamps that a chord lights in the first four steps, a tenth of a second each; then it is let go."""
    machine.advance([on(t, note) for note in notes], t)
    order = [lit(machine.advance([], t + 0.07 + k * 0.1)).index(255) for k in range(4)]
    machine.advance([off(t + 0.5, note) for note in notes], t + 0.5)
    machine.advance([], t + 0.6)
    return order


@pytest.mark.parametrize(
    ("move", "notes", "order"),
    [
        ("", (61, 65, 68), [0, 2, 0, 2]),
        ("root", (60, 64, 67), [0, 2, 0, 2]),
        ("root", (61, 65, 68), [1, 3, 1, 3]),
        ("root", (63, 67, 70), [3, 1, 3, 1]),
        # C# major with its third lowest: the bass is F, five columns on and round the edge.
        ("bass", (53, 61, 68), [1, 3, 1, 3]),
    ],
)
def test_a_chase_moves_with_the_chord(move: str, notes: tuple[int, ...], order: list[int]) -> None:
    """`move` shifts every lamp of a chase by a column for each semitone above C, round the edge."""
    machine = engine(chords=(ChordRule(MAJOR, chase=(0, 2), step=0.1, cells=CELLS, move=move),))
    assert steps(machine, 0.0, *notes) == order


def test_a_chase_turns_with_the_inversion() -> None:
    """`turn` turns a chase by a quarter for each inversion."""
    machine = engine(chords=(ChordRule(MAJOR, chase=(0, 1), step=0.1, cells=SQUARE, turn=True),))
    assert steps(machine, 0.0, 60, 64, 67) == [0, 1, 0, 1]
    assert steps(machine, 1.0, 64, 67, 72) == [1, 3, 1, 3]
    assert steps(machine, 2.0, 67, 72, 76) == [3, 2, 3, 2]


def test_a_chase_goes_on_while_its_chord_stands() -> None:
    """Another note that changes neither chord nor place does not begin it again; another root does."""
    rule = ChordRule(MAJOR, chase=(0, 1, 2), step=0.1, cells=CELLS, move="root", feel=Feel())
    machine = engine(chords=(rule,))
    machine.advance([on(0.0, 60), on(0.0, 64), on(0.0, 67)], 0.0)
    assert lit(machine.advance([], 0.17)) == [0, 255, 0, 0]
    machine.advance([on(0.18, 72)], 0.18)
    assert lit(machine.advance([], 0.27)) == [0, 0, 255, 0]
    machine.advance([off(0.3, note) for note in (60, 64, 67, 72)], 0.3)
    machine.advance([on(0.31, note) for note in (61, 65, 68)], 0.31)
    assert lit(machine.advance([], 0.36)) == [0, 255, 0, 0]
