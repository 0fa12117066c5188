"""Which rows of a frame an output sends."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.outputs.rows import Rows
from bridge.values.frame import SLOTS, Frame

NUMBERS = st.lists(st.integers(1, 9), unique=True, max_size=6)


def frame(universes: list[int], seed: int = 0) -> Frame:
    """A frame of these universes."""
    slots = np.random.default_rng(seed).integers(0, 256, (len(universes), SLOTS), dtype=np.uint8)
    return Frame(0.0, tuple(universes), slots)


@given(NUMBERS.filter(bool), st.lists(NUMBERS.map(sorted), min_size=1, max_size=3))
def test_each_row_is_its_universe_or_dark(sends: list[int], shown: list[list[int]]) -> None:
    """Whatever universes the frames have, one after the other, row n is the nth universe asked for."""
    rows = Rows(sends)
    for seed, universes in enumerate(shown):
        one = frame(universes, seed)
        assert [row.tobytes() for row in rows.of(one)] == [one.universe(number) for number in sends]


def test_universes_side_by_side_are_not_copied() -> None:
    """Where the rows asked for stand together in the frame, they are the frame's own."""
    one = frame([1, 2, 3, 4])
    for sends in ([1, 2, 3, 4], [2, 3], [4]):
        assert np.shares_memory(Rows(sends).of(one), one.slots)
    assert not np.shares_memory(Rows([1, 3]).of(one), one.slots)
