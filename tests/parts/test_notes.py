"""Names of notes; published source: ISO 16, twelve-tone equal temperament (equal_temperament.csv)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.notes import is_white, note_name, note_number
from tests.reference_rows import rows

ROWS = rows("equal_temperament.csv")
NOTES = st.integers(0, 127)


def test_the_table_is_the_piano() -> None:
    """The published table has the 88 notes of a piano, 21..108."""
    assert [int(row["note_number"]) for row in ROWS] == list(range(21, 109))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["note_number"])
def test_every_name_gives_its_number_and_back(row: dict[str, str]) -> None:
    """Sharps, flats and the other octave convention name the same note as the published table."""
    number = int(row["note_number"])
    assert note_number(row["name_c4_is_60_sharps"]) == number
    assert note_number(row["name_c4_is_60_flats"], "C4") == number
    assert note_number(row["name_c3_is_60_sharps"], "C3") == number
    assert note_name(number) == row["name_c4_is_60_sharps"]
    assert note_name(number, flats=True) == row["name_c4_is_60_flats"]
    assert note_name(number, "C3") == row["name_c3_is_60_sharps"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["note_number"])
def test_white_keys_are_those_without_a_sign(row: dict[str, str]) -> None:
    """A key is white where the published name has no sharp."""
    assert is_white(int(row["note_number"])) == ("#" not in row["name_c4_is_60_sharps"])


@given(NOTES, st.sampled_from(["C4", "C3", "C5", "C-1"]), st.booleans())
def test_names_and_numbers_go_both_ways(number: int, middle_c: str, flats: bool) -> None:
    """The name of every note 0..127 gives the note again, in every convention."""
    assert note_number(note_name(number, middle_c, flats), middle_c) == number


@pytest.mark.parametrize(
    ("name", "number"),
    [("B#3", 60), ("Cb4", 59), ("E#4", 65), ("Fb4", 64), ("c4", 60), ("bb4", 70), ("C-1", 0)],
)
def test_the_octave_goes_with_the_letter(name: str, number: int) -> None:
    """A sign may cross the octave's line, which stays that of the letter; small letters are alike."""
    assert note_number(name) == number


@pytest.mark.parametrize("name", ["", "H4", "C", "4", "C##4", "C4 ", "C 4", "C100", "C--1", "C♯4", "C\u0664"])
def test_other_words_are_no_names(name: str) -> None:
    """What is not a letter, a sign and an octave in ASCII is refused."""
    with pytest.raises(ValueError, match="is not the name of a note"):
        note_number(name)


@pytest.mark.parametrize(("name", "number"), [("G#9", 128), ("Cb-1", -1), ("C99", 1200)])
def test_notes_that_midi_lacks_say_which_number_they_had(name: str, number: int) -> None:
    """A note outside 0..127 is refused with its number."""
    with pytest.raises(ValueError, match=f"^{name} would be note {number}, outside 0 to 127$"):
        note_number(name)


@pytest.mark.parametrize("middle_c", ["D4", "Cb4", "C#4", "B#3"])
def test_middle_c_is_a_c(middle_c: str) -> None:
    """Note 60 can only be called a C."""
    with pytest.raises(ValueError, match=f"^{middle_c} is not a C, and note 60 is one$"):
        note_number("C4", middle_c)


@given(st.integers().filter(lambda number: not 0 <= number <= 127))
def test_other_numbers_have_no_name(number: int) -> None:
    """Only 0..127 have names."""
    with pytest.raises(ValueError, match="outside 0 to 127"):
        note_name(number)
