"""Pictures over a grid: moved, turned, drawn."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.shapes import drawn, moved, turned

CELLS = ((0, 1, 2), (3, 4, 5))
PICTURES = st.dictionaries(st.integers(0, 5), st.sampled_from([0.5, 1.0]), max_size=6).map(
    lambda d: tuple(d.items())
)


@given(PICTURES, st.integers(-12, 12))
def test_moving_goes_round_the_edge_and_back(picture: tuple[tuple[int, float], ...], columns: int) -> None:
    """Moved there and back, or by the whole width, a picture is what it was."""
    assert dict(moved(moved(picture, CELLS, columns), CELLS, -columns)) == dict(picture)
    assert dict(moved(picture, CELLS, 3)) == dict(picture)


@given(PICTURES)
def test_two_quarters_make_a_half_turn_and_four_nothing(picture: tuple[tuple[int, float], ...]) -> None:
    """Over a square of cells turns add up; a half turn over any grid is its own undoing."""
    square = ((0, 1), (2, 3))
    small = tuple((lamp, level) for lamp, level in picture if lamp < 4)
    assert dict(turned(turned(small, square, 1), square, 1)) == dict(turned(small, square, 2))
    assert dict(turned(turned(picture, CELLS, 2), CELLS, 2)) == dict(picture)
    assert turned(picture, CELLS, 4) == picture


def test_a_quarter_turn_is_anticlockwise() -> None:
    """The lower left cell goes to the lower right."""
    assert turned(((0, 1.0),), ((0, 1), (2, 3)), 1) == ((1, 1.0),)


def test_lamps_outside_the_grid_stay_and_holes_are_not_drawn() -> None:
    """A shape may light the door lamp too; a place without a lamp is dark."""
    assert dict(moved(((9, 1.0), (0, 1.0)), ((0, -1), (2, 3)), 1)) == {9: 1.0}


def test_a_drawing_lies_from_the_top_down() -> None:
    """Rows are read as the audience sees them: `*` full, digits tenths, `.` dark."""
    assert dict(drawn(["*.5", " 1."], CELLS)) == {3: 1.0, 5: 0.5, 1: 0.1}


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (["***", "***", "***"], "3 rows drawn over a grid of 2"),
        (["****"], "grid of 3 columns"),
        (["*x"], "'x' in the row"),
    ],
)
def test_a_drawing_that_does_not_fit_is_told(rows: list[str], words: str) -> None:
    """Too many rows or columns, or a character that means nothing."""
    with pytest.raises(ValueError, match=words):
        drawn(rows, CELLS)
