# ruff: noqa: E501 - an example of the language stays on its lines
"""Slots and outputs written into a rig file: what they should say, and not a letter else."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.files import rig_from_text
from bridge.shell.files.edit import BOM, EditError
from bridge.shell.files.rig_edit import with_output, with_slots
from bridge.values.rig import Rig
from bridge.values.wiring import Slot

TEXT = """\
# The rig, with words of its owner's in every place.
rig: Shed   # its name
decoders:
  box: {slots: 12}          # set to 001
  tail:
    slots: 4                # the small one
    start: 13
lamp_types:
  post: {parts: {red: {slot: 0}, amber: {slot: 2}, "a b": {slot: 1}}}
grids:
  - {name: roof, columns: 3, rows: 2, slot: 001}   # row by row
  - name: eaves             # these are listed
    columns: 2
    rows: 1
    slots: [8,   7]
lamps:
  - {name: west, type: post, slot: 9}   # three lenses
  - name: east
    type: post
    slots: {red: 14, amber: 13, a b: 15}
  # the door
  - name: door
    slot:   16              # wide apart
"""


def hangs_of(rig: Rig) -> dict[int, Slot]:
    """Where every lamp hangs by the file."""
    return {lamp.index: (lamp.universe, lamp.slot) for lamp in rig.lamps}


def edited(text: str, changes: dict[str, int], starts: dict[str, int] | None = None) -> str:
    """The text with other slots for some lamps."""
    rig = rig_from_text(text)[0]
    names = {lamp.name: lamp.index for lamp in rig.lamps}
    hangs = hangs_of(rig) | {names[name]: (1, slot) for name, slot in changes.items()}
    return with_slots(text, rig, hangs, {name: (1, start) for name, start in (starts or {}).items()})


def changed(old: str, new: str) -> list[tuple[str, str]]:
    """The lines that differ."""
    pairs = zip(old.splitlines(), new.splitlines(), strict=True)
    return [(a.strip(), b.strip()) for a, b in pairs if a != b]


def test_nothing_changes_for_nothing() -> None:
    """Where every lamp hangs as the file says, the file stays as it is."""
    assert edited(TEXT, {}) == TEXT


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"door": 20}, "slot:   20              # wide apart"),
        ({"east.red": 13, "east.amber": 14}, "slots: {red: 13, amber: 14, a b: 15}"),
        ({"eaves.1.1": 7, "eaves.2.1": 8}, "slots: [7,   8]"),
        ({"west.red": 10, "west.amber": 12, "west.a b": 11}, "- {name: west, type: post, slot: 10}   # three lenses"),
        ({"west.red": 11, "west.amber": 9}, "- {name: west, type: post, slots: {red: 11, amber: 9, 'a b': 10}}   # three lenses"),
        ({"roof.1.1": 2, "roof.2.1": 1}, "- {name: roof, columns: 3, rows: 2, slots: [2, 1, 3, 4, 5, 6]}   # row by row"),
    ],
)  # fmt: skip
def test_one_line_changes(changes: dict[str, int], line: str) -> None:
    """Each way of giving slots keeps its shape where it can, and only its own line changes."""
    new = edited(TEXT, changes)
    ((_, after),) = changed(TEXT, new)
    assert after == line
    slots = {lamp.name: lamp.slot for lamp in rig_from_text(new)[0].lamps}
    assert {name: slots[name] for name in changes} == changes


def test_a_shift_of_a_grid_stays_one_number() -> None:
    """A grid that answers elsewhere as a whole has another first slot, and its decoder another start."""
    text = TEXT.replace("slot: 001", "slot: 100").replace("{slots: 12}", "{slots: 12, start: 99}")
    new = edited(
        text, {f"roof.{c}.{r}": 101 + (c - 1) + 3 * (r - 1) for c in (1, 2, 3) for r in (1, 2)}, {"box": 100}
    )
    assert [after for _, after in changed(text, new)] == [
        "box: {slots: 12, start: 100}          # set to 001",
        "- {name: roof, columns: 3, rows: 2, slot: 101}   # row by row",
    ]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_a_start_that_is_not_written_is_put_in(ending: str) -> None:
    """A decoder without a start gets one before its first key, in braces or on a line of its own."""
    text = TEXT.replace("    start: 13\n", "").replace("\n", ending)
    new = edited(text, {}, {"box": 2, "tail": 30})
    assert "box: {start: 2, slots: 12}          # set to 001" in new
    assert f"tail:{ending}    start: 30{ending}    slots: 4                # the small one" in new


def test_line_ends_and_a_mark_at_the_front_stay() -> None:
    """A file from another system keeps its byte order mark and its line ends."""
    text = BOM + TEXT.replace("\n", "\r\n")
    new = edited(text, {"door": 20, "eaves.1.1": 30})
    assert new.startswith(BOM)
    assert re.sub("\r\n", "", new).count("\n") == 0
    assert [after for _, after in changed(text, new)] == [
        "slots: [30,   7]",
        "slot:   20              # wide apart",
    ]


@settings(max_examples=60)
@given(st.permutations(range(15)), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_any_permutation_is_written(order: list[int], ending: str, mark: bool) -> None:
    """However the wires are crossed, the new file says it, comments kept, or says why it cannot."""
    text = (BOM if mark else "") + TEXT.replace("\n", ending)
    rig = rig_from_text(text)[0]
    file = hangs_of(rig)
    slots = [file[lamp] for lamp in file]
    hangs = {lamp: slots[order[place]] for place, lamp in enumerate(file)}
    new = with_slots(text, rig, hangs, {})
    assert hangs_of(rig_from_text(new)[0]) == hangs
    assert re.findall("#.*", new) == re.findall("#.*", text)


HEADS = "lamp_types: {h: {parts: {red: {}, blue: {}}}}\ngrids: [{name: g, columns: 2, rows: 1, type: h, slot: 1}]\n"


def test_heads_of_a_grid_move_whole() -> None:
    """Two heads of a grid that are swapped are written as a list of their first slots."""
    new = edited(HEADS, {"g.1.1.red": 3, "g.1.1.blue": 4, "g.2.1.red": 1, "g.2.1.blue": 2})
    assert "type: h, slots: [3, 1]}" in new


@pytest.mark.parametrize(
    ("text", "changes", "why"),
    [
        (HEADS, {"g.1.1.red": 2, "g.1.1.blue": 1}, "the lights of g.1.1 are crossed among themselves, which a grid cannot say"),
        ("lamps: [{name: a, slot: 1}]", {"a": 513}, "a would need slot 513"),
        ("lamps: [{name: a, slot: 1}, {name: b, slot: 2}]", {"a": 2}, "the file would then be wrong: .*slot 2 of universe 1"),
        ("rig: &one 1\nlamps: [{name: a, slot: *one}, {name: b, slot: 2}]", {"a": 9}, "the file cannot be changed word by word|is not written plainly"),
        ("lamps: [{name: a, slot: !!int 1}]", {"a": 9}, "line 1: 1 is not written plainly here"),
    ],
)  # fmt: skip
def test_what_cannot_be_written_is_said(text: str, changes: dict[str, int], why: str) -> None:
    """Where other slots cannot say the truth, or not word by word, nothing is written and it is said why."""
    with pytest.raises(EditError, match=why):
        edited(text, changes)


def test_another_universe_is_said() -> None:
    """Only slots are written; another universe is for the player to write."""
    rig = rig_from_text("lamps: [{name: a, slot: 1}]")[0]
    with pytest.raises(EditError, match="a answers in universe 2: give its entry that universe by hand"):
        with_slots("lamps: [{name: a, slot: 1}]", rig, {0: (2, 1)}, {})


LINE = "{kind: serial, port: 'A5', framing: packet}"


@pytest.mark.parametrize(
    "text",
    [
        "lamps: [{name: a, slot: 1}]\n",
        "lamps: [{name: a, slot: 1}]   # no end of line",
        "lamps: [{name: a, slot: 1}]\noutputs:\n  - {kind: memory}   # the first\n  - {kind: sacn}\n",
        "lamps: [{name: a, slot: 1}]\noutputs: [{kind: memory}] # the first\n",
        "outputs:\n- kind: memory\n  sends: 1\nlamps: [{name: a, slot: 1}]\n",
    ],
)
def test_an_output_is_added(text: str) -> None:
    """The new output is the file's, before those that were there, whose text stays."""
    new = with_output(text, LINE)
    before, after = rig_from_text(text)[0].outputs, rig_from_text(new)[0].outputs
    assert [spec.kind for spec in after if spec.port == "A5"] == ["serial"]
    assert len(after) == len(before) + 1
    assert (
        new.replace(f"- {LINE}\n", "")
        .replace(f"{LINE}, ", "")
        .replace(" ", "")
        .startswith(text.rstrip().replace(" ", ""))
    )


def test_a_strange_outputs_section_is_left_alone() -> None:
    """An empty section is not guessed at."""
    with pytest.raises(EditError, match="outputs is there, but holds none"):
        with_output("lamps: [{name: a, slot: 1}]\noutputs:\n", LINE)
