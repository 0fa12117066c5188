# ruff: noqa: E501 - a row of a table is one line
"""A curve is put into a mapping's text; every comment and every other line stays as it was written."""

from __future__ import annotations

import difflib
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.calibrate_text import curve_line, own_curves, with_curve
from bridge.shell.files import mapping_from_text
from bridge.values.errors import FileError, UsageError
from tests.shell.files.cases import FULL, MAPPING, boathouse
from tests.shell.files.random_mappings import mapping_text
from tests.test_ready_files import MAPPINGS

RIG = boathouse()
POINTS = ((31.0, 0.1), (34.0, 0.2), (104.5, 0.9), (110.0, 1.0))
LINE = "curve: [[31, 0.1], [34, 0.2], [104.5, 0.9], [110, 1]]"


def test_the_line() -> None:
    """A curve as a player would write it."""
    assert curve_line(POINTS) == LINE


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("mapping: A\ncurve: linear   # mine\nkeys: []\n", f"mapping: A\n{LINE}   # mine\nkeys: []\n"),
        ("curve: 'soft'\n", f"{LINE}\n"),
        ("curve: [[1, 0.5],\n        [127, 1]] # drawn\nfeel: x\n", f"{LINE} # drawn\nfeel: x\n"),
        ("curve:\n  - [1, 0.5]\n  - [127, 1]\n\n# keys\nkeys: []\n", f"{LINE}\n\n# keys\nkeys: []\n"),
        ("curve:   # by hand\n  - [1, 0.5]\nkeys: []\n", f"{LINE}   # by hand\nkeys: []\n"),
        ("keys: []\ncurve: hard", f"keys: []\n{LINE}"),
        ("mapping: A # name\r\ncurve: soft\r\nkeys: []\r\n", f"mapping: A # name\r\n{LINE}\r\nkeys: []\r\n"),
        ("# head\n\nkeys: []\n", f"# head\n\n{LINE}   # why\nkeys: []\n"),
        ("# head\nmapping: A\n\n# what is plugged in\ninputs:\n  a: b   # c\n\nkeys: []\n",
         f"# head\nmapping: A\n\n# what is plugged in\ninputs:\n  a: b   # c\n{LINE}   # why\n\nkeys: []\n"),
        ("  mapping: A\n  keys: []\n", f"  mapping: A\n  {LINE}   # why\n  keys: []\n"),
        ("mapping: A\r\nkeys: []\r\n", f"mapping: A\r\n{LINE}   # why\r\nkeys: []\r\n"),
        ("---\nmapping: A\nkeys: []\n", f"---\nmapping: A\n{LINE}   # why\nkeys: []\n"),
    ],
)  # fmt: skip
def test_where_it_goes(old: str, new: str) -> None:
    """In place of the old curve with its comments, else behind the name and the inputs, else above the first key."""
    assert with_curve(old, POINTS, "why") == new


@pytest.mark.parametrize(
    "text",
    [
        "{mapping: A, keys: []}",
        "[a]",
        "",
        "# nothing\n",
        "mapping: [",
        "curve: &c [[1, 0.5]]\nkeys: [{notes: 1, lamps: door, curve: *c}]\n",
    ],
)
def test_what_might_be_spoiled_is_refused(text: str) -> None:
    """A file in one pair of braces, no mapping at all, or a curve used elsewhere by its anchor is left alone."""
    with pytest.raises(UsageError, match="cannot be changed safely; put the line `curve: "):
        with_curve(text, POINTS)


@pytest.mark.parametrize("text", [MAPPING, FULL, *(path.read_text(encoding="utf-8") for path in MAPPINGS)])
def test_one_line_changes_in_ready_files(text: str) -> None:
    """In our own files one line is changed or added, no other, and a second time changes nothing more."""
    new = with_curve(text, POINTS, "measured")
    changed = [line for line in difflib.ndiff(text.splitlines(), new.splitlines()) if line[0] in "+-"]
    assert [line for line in changed if line.startswith("+ ") and LINE in line] == [
        changed[-1] if len(changed) > 1 else changed[0]
    ]
    assert len(changed) <= 2
    assert with_curve(new, POINTS, "measured") == new


@settings(max_examples=150)
@given(st.integers(0, 10**9))
def test_any_mapping_keeps_all_else(seed: int) -> None:
    """Whatever loads either gets the curve and means else what it meant, or is refused; never anything between."""
    text = mapping_text(seed, 0.0)
    try:
        before, _ = mapping_from_text(text, RIG)
        new = with_curve(text, POINTS)
    except (FileError, UsageError):
        return
    after, _ = mapping_from_text(new, RIG)
    assert [replace(rule, line=0) for rule in after.sets] == [replace(rule, line=0) for rule in before.sets]
    assert [replace(rule, line=0) for rule in after.does] == [replace(rule, line=0) for rule in before.does]
    assert (after.looks, after.inputs, after.feels) == (before.looks, before.inputs, before.feels)
    own = own_curves(new)
    for now, then in zip(after.keys, before.keys, strict=True):
        assert replace(now, line=0) == replace(then, line=0, curve=then.curve if now.line in own else POINTS)


def test_rules_with_a_curve_of_their_own() -> None:
    """Their lines are named, of keys and of shapes; controls have none of the file's curve anyway."""
    assert own_curves(FULL) == [19, 55]
    assert own_curves("") == []
