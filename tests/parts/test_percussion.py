"""Percussion by name; published source: General MIDI System Level 1 (MMA RP-003), percussion key map."""

from __future__ import annotations

import pytest

from bridge.parts.percussion import (
    PERCUSSION,
    PERCUSSION_CHANNEL,
    known_percussion,
    percussion_name,
    percussion_note,
)
from tests.reference_rows import rows

ROWS = rows("gm_percussion.csv")


def test_table_is_whole() -> None:
    """The names are those of the published key map, one for each note 35..81, without a gap."""
    assert [(note, PERCUSSION[note]) for note in range(35, 82)] == [
        (int(row["note_number"]), row["instrument"]) for row in ROWS
    ]
    assert len(PERCUSSION) == 47


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["note_number"])
def test_every_row_both_ways(row: dict[str, str]) -> None:
    """Each note of the key map gives its name, and each name its note, on the channel the map states."""
    note, name = int(row["note_number"]), row["instrument"]
    assert percussion_name(note) == name
    assert percussion_note(name) == note
    assert int(row["midi_channel_1based"]) == PERCUSSION_CHANNEL


@pytest.mark.parametrize("note", [-1, 0, 34, 82, 127, 128])
def test_notes_outside_have_no_name(note: int) -> None:
    """Level 1 names no note below 35 or above 81."""
    assert percussion_name(note) is None


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("closed hi-hat", 42),
        ("CLOSED HIHAT", 42),
        ("open_hi_hat", 46),
        ("  Pedal High-Hat ", 44),
        ("hi tom", 50),
        ("High Bongo", 60),
        ("low mid tom", 47),
        ("bass drum 1", 36),
        ("crash cymbal 2", 57),
    ],
)
def test_spelling_is_free(text: str, note: int) -> None:
    """Case, spaces, hyphens and Hi for High do not change which drum is meant."""
    assert percussion_note(text) == note


@pytest.mark.parametrize("text", ["", "hat", "Snare", "Crash Cymbal", "Crash Cymbal 3", "42"])
def test_unknown_name(text: str) -> None:
    """A name the standard does not have is a KeyError that repeats it."""
    with pytest.raises(KeyError, match=f"^{text!r}$"):
        percussion_note(text)


def test_suggestions() -> None:
    """Every name offered as a suggestion is one that can be written, each for a drum of its own."""
    assert [percussion_note(name) for name in known_percussion()] == list(range(35, 82))
