"""What fuzzing found in texts of files: numbers next to nothing, and texts that took for ever."""

from __future__ import annotations

import re

import pytest

from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.errors import FileError
from tests.shell.files.cases import MAPPING, RIG, boathouse

NOTHING = ("5e-324", "1e-308", "9e-10")
BLANKS = " " * 300_000
"""The old patterns took hours over as many."""


@pytest.mark.parametrize("nothing", NOTHING)
@pytest.mark.parametrize(("right", "key"), [("volts: 12", "volts"), ("amps: 25", "amps")])
def test_a_supply_of_as_good_as_nothing_is_a_mistake(right: str, key: str, nothing: str) -> None:
    """Watts by 5e-324 volts are infinitely many amps: the sums would be no numbers."""
    text = RIG.replace(right, f"{key}: {nothing}")
    with pytest.raises(FileError, match=rf"{key} {re.escape(nothing)} is out of range; give a number over 0"):
        rig_from_text(text)


@pytest.mark.parametrize("nothing", NOTHING)
def test_a_cycle_of_as_good_as_no_beats_is_a_mistake(nothing: str) -> None:
    """A texture that turns infinitely often between two frames is nowhere."""
    text = MAPPING + f"textures: {{breath: {{kind: swell, run: true, beats: {nothing}}}}}\n"
    with pytest.raises(FileError, match=rf"beats {re.escape(nothing)} is out of range; give a number over 0"):
        mapping_from_text(text, boathouse())


def test_a_step_of_as_good_as_no_beats_is_a_mistake() -> None:
    """Steps are a text of their own, with the same bounds."""
    text = MAPPING + f"textures: {{all: {{steps: ['dark 0.{'0' * 320}1']}}}}\n"
    with pytest.raises(FileError, match="lasts no number of beats; give beats over 0"):
        mapping_from_text(text, boathouse())


@pytest.mark.parametrize(
    ("more", "match"),
    [
        (f"textures: {{all: {{steps: 'dark{BLANKS}x'}}}}\n", "write a texture and its beats"),
        (f"sound: []\nkeys: [{{lamps: roof, notes: 'C4{BLANKS}x'}}]\n", "is not a note"),
    ],
    ids=["steps", "notes"],
)
def test_blanks_without_end_are_read_in_good_time(more: str, match: str) -> None:
    """A text of many blanks is judged in time that grows with its length, not with the square of it."""
    with pytest.raises(FileError, match=match):
        mapping_from_text("mapping: blanks\n" + more, boathouse())


@pytest.mark.parametrize("written", ["C3 .. B4", "white   C3..  B4", "  60  ", "black\tC3 ..B4"])
def test_blanks_between_words_say_nothing(written: str) -> None:
    """However many blanks stand between the words of a note, it is the same note."""
    plain = re.sub(r"\s*\.\.\s*", "..", " ".join(written.split()))
    found = [
        mapping_from_text(
            f'mapping: m\nkeys: [{{lamps: roof, notes: "{text}", spread: together}}]\n', boathouse()
        )
        for text in (written.replace("\t", "\\t"), plain)
    ]
    assert found[0][0].keys == found[1][0].keys
