# ruff: noqa: E501 - a row of a table is one line
"""Notes as a mapping writes them: numbers, names, ranges, colours of keys, lists, either octave convention."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.notes import note_name
from bridge.shell.files import mapping_from_text
from tests.reference_rows import rows
from tests.shell.files.cases import agree, boathouse, case, mapping_told

RIG = boathouse()
RIGHT = "give 0 to 127, a name like C4, F#3 or Bb2, a range like C3..B4…"
NOTES = st.integers(0, 127)


def notes(written: str, head: str = "") -> tuple[int, ...]:
    """The notes of one rule."""
    mapping, _ = mapping_from_text(f"{head}keys: [{{notes: {written}, lamps: door}}]", RIG)
    return mapping.keys[0].notes


@pytest.mark.parametrize(
    ("written", "found"),
    [
        ("60", (60,)),
        ("036", (36,)),
        ("'60'", (60,)),
        ("C4", (60,)),
        ("F#3", (54,)),
        ("Bb2", (46,)),
        ("C4..E4", (60, 61, 62, 63, 64)),
        ("C4 .. E4", (60, 61, 62, 63, 64)),
        ("36..38", (36, 37, 38)),
        ("white C4..C5", (60, 62, 64, 65, 67, 69, 71, 72)),
        ("black C4..C5", (61, 63, 66, 68, 70)),
        ("[D4, 36, white E4..G4, D4, 64]", (62, 36, 64, 65, 67)),
        ("0..127", tuple(range(128))),
    ],
)
def test_notes_by_hand(written: str, found: tuple[int, ...]) -> None:
    """Every way to write notes, in the order of the file, each note where it comes first."""
    assert notes(written) == found


def test_the_published_names_in_both_conventions() -> None:
    """With middle C called C4 or C3, the names of ISO 16 give the published numbers."""
    table = rows("equal_temperament.csv")
    numbers = tuple(int(row["note_number"]) for row in table)
    fours = ", ".join(row["name_c4_is_60_sharps"] for row in table)
    threes = ", ".join(row["name_c3_is_60_sharps"] for row in table)
    assert notes(f"[{fours}]") == numbers
    assert notes(f"[{threes}]", "middle_c: C3\n") == numbers


@given(NOTES, NOTES)
def test_ranges_have_both_ends(one: int, other: int) -> None:
    """A range has every semitone from its first note to its last; white and black keys share them out."""
    low, high = sorted((one, other))
    written = f"{note_name(low)}..{note_name(high)}"
    assert notes(written) == tuple(range(low, high + 1))
    if high - low >= 2:
        white, black = notes(f"white {written}"), notes(f"black {written}")
        assert sorted(white + black) == list(range(low, high + 1))


@pytest.mark.parametrize(
    ("marked", "messages"),
    [
        case("keys: [{notes: ¶128, lamps: door}]", f"note 128 is out of range; {RIGHT}"),
        case("keys: [{notes: ¶-1, lamps: door}]", f"note -1 is out of range; {RIGHT}"),
        case("keys: [{notes: ¶0..128, lamps: door}]", f"note 128 is out of range; {RIGHT}"),
        case("keys: [{notes: ¶H4, lamps: door}]", f"'H4' is not a note; {RIGHT}"),
        case("keys: [{notes: ¶C4..X, lamps: door}]", f"'X' is not a note; {RIGHT}"),
        case("keys: [{notes: ¶wite C4..C5, lamps: door}]", f"'wite C4' is not a note; {RIGHT}"),
        case("keys: [{notes: ¶C12, lamps: door}]", f"C12 would be note 156, outside 0 to 127; {RIGHT}"),
        case("keys: [{notes: ¶B4..C3, lamps: door}]", f"the range 'B4..C3' runs down; {RIGHT}"),
        case("keys: [{notes: ¶black E4..F4, lamps: door}]", f"'black E4..F4' has no black key; {RIGHT}"),
        case("keys: [{notes: ¶60.5, lamps: door}]", f"60.5 is not a note; {RIGHT}"),
        case("keys: [{notes: ¶.nan, lamps: door}]", f".nan is not a note; {RIGHT}"),
        case("keys: [{notes: ¶'', lamps: door}]", f"the text '' is not a note; {RIGHT}"),
        case("keys: [{notes: ¶true, lamps: door}]", f"notes is true; {RIGHT}"),
        case("keys: [{notes: ¶[], lamps: door}]", "notes is an empty list; give at least one note"),
        case("keys: [{notes: [C4, ¶[D4], ¶{}], lamps: door}]", f"notes is a list; {RIGHT}",
             f"notes is a table of keys and values; {RIGHT}"),
        case("keys: [{notes: [C4, ¶X4, D4, ¶200], lamps: door}]", f"'X4' is not a note; {RIGHT}",
             f"note 200 is out of range; {RIGHT}"),
        case("middle_c: ¶D3\nkeys: [{notes: C4, lamps: door}]", "D3 is not a C, and note 60 is one; give C4 or C3"),
        case("middle_c: ¶5\nkeys: [{notes: C4, lamps: door}]", "'5' is not the name of a note; give C4 or C3"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Each note that is none is told at its own place, in a list too."""
    agree(mapping_told(marked), messages)
