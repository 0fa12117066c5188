# ruff: noqa: E501 - a row of a table is one line
"""Dealing lamps to notes: each, wrap, across, together, and what holds unless given."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files.mapping_spread import Dealt, deal
from tests.shell.files.cases import agree, case, mapping_told

COUNTS = st.integers(1, 20)
SPREADS = st.sampled_from([None, "each", "wrap", "across", "together"])
AT = st.lists(
    st.tuples(st.integers(-3, 3).map(float), st.integers(-3, 3).map(float)), min_size=20, max_size=20
)


def test_by_hand() -> None:
    """Each spread of two or three notes over two or three lamps, written out."""
    at = [(2.0, 0.0), (1.0, 5.0), (1.0, 0.0)]
    assert deal((60, 62), (0, 1), "each", ()) == Dealt((60, 62), ((0,), (1,)))
    assert deal((60, 62, 64), (0, 1), "each", ()) == Dealt((60, 62), ((0,), (1,)), (64,))
    assert deal((60, 62), (0, 1, 2), "each", ()) == Dealt((60, 62), ((0,), (1,)), (), (2,))
    assert deal((60, 62, 64), (0, 1), "wrap", ()) == Dealt((60, 62, 64), ((0,), (1,), (0,)))
    assert deal((60, 62, 64), (0, 1, 2), "across", at) == Dealt((60, 62, 64), ((2,), (1,), (0,)))
    assert deal((60, 62), (0, 1, 2), "together", ()) == Dealt((60, 62), ((0, 1, 2), (0, 1, 2)))


@pytest.mark.parametrize(
    ("notes", "lamps", "spread"),
    [
        ((60, 62), (0, 1), "each"),
        ((60,), (0, 1), "together"),
        ((60, 62), (0,), "together"),
        ((60,), (0,), "each"),
    ],
)
def test_unless_given(notes: tuple[int, ...], lamps: tuple[int, ...], spread: str) -> None:
    """Several notes and several lamps are dealt out one by one; else every note plays all the lamps."""
    assert deal(notes, lamps, None, ()) == deal(notes, lamps, spread, ())


@given(COUNTS, COUNTS, SPREADS, AT)
def test_nothing_is_lost(notes: int, lamps: int, spread: str | None, at: list[tuple[float, float]]) -> None:
    """Every note and every lamp is either dealt or left over; a note that is dealt has a lamp."""
    dealt = deal(tuple(range(notes)), tuple(range(lamps)), spread, at)
    assert dealt.notes + dealt.notes_left == tuple(range(notes))
    used = {lamp for group in dealt.lamps for lamp in group}
    assert used | set(dealt.lamps_left) == set(range(lamps))
    assert used.isdisjoint(dealt.lamps_left)
    assert len(dealt.lamps) == len(dealt.notes)
    assert all(dealt.lamps)


@given(AT)
def test_across_runs_from_left_to_right(at: list[tuple[float, float]]) -> None:
    """Across, the lamps of rising notes never go back to the left, nor down where they hang above one another."""
    dealt = deal(tuple(range(20)), tuple(range(20)), "across", at)
    there = [at[lamp] for (lamp,) in dealt.lamps]
    assert there == sorted(there)


LEFT_OVER = [
    case(
        "keys: [{notes: ¶C3..B4, lamps: left}]",
        "warning: more notes than lamps: nothing to play for C4, C#4, D4, D#4, E4, F4, F#4, G4 and 4 more; take them "
        "out, or say spread: wrap",
    ),
    case(
        "middle_c: C3\nkeys: [{notes: ¶[C3, D3, E3, F3], lamps: west, spread: each}]",
        "warning: more notes than lamps: nothing to play for F3; take them out, or say spread: wrap",
    ),
    case(
        "keys: [{notes: C3..D3, lamps: ¶roof, spread: across}]",
        "warning: more lamps than notes: spread across leaves out roof.1.4, roof.2.1, roof.2.2, roof.2.3, roof.2.4, "
        "roof.3.1, roof.3.2, roof.3.3 and 13 more; give more notes, or say spread: together",
    ),
    case(
        "keys: [{notes: [1, 2], lamps: ¶west}]",
        "warning: more lamps than notes: spread each leaves out west.green; give more notes, or say spread: together",
    ),
    case("keys: [{notes: [1, 2], lamps: west, spread: together}, {notes: 1..9, lamps: west, spread: wrap}]"),
]


@pytest.mark.parametrize(("marked", "messages"), LEFT_OVER)
def test_what_is_left_over_is_named(marked: str, messages: tuple[str, ...]) -> None:
    """Unequal lists are a warning that names what has no partner, shortened beyond eight."""
    agree(mapping_told(marked), messages)
