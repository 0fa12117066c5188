# ruff: noqa: E501 - a row of a table is one line
"""What a name means: the lamp, or all lamps below it, or a group; `*` is one segment."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files.lamp_names import LampNames, names_of
from bridge.shell.files.nodes import Scalar
from bridge.shell.files.report import Report
from bridge.values.errors import FileError
from tests.shell.files.cases import boathouse

RIG = boathouse()
NAMES = names_of(RIG)
COLUMN_OF = {lamp.index: lamp.name.split(".")[1] for lamp in RIG.lamps[:24]}


def lamps(*names: str) -> tuple[int, ...]:
    """The lamps of names in a rule."""
    report = Report("a.yaml")
    found = NAMES.resolve([Scalar(name, name, 1, 1) for name in names], report)
    report.finish()
    return found


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("door", (27,)),
        ("roof.2.3", (13,)),
        ("west", (24, 25, 26)),
        ("west.amber", (25,)),
        ("roof.6", (5, 11, 17, 23)),
        ("reds", (24,)),
        ("all", tuple(range(28))),
        ("*.red", (24,)),
        ("*", tuple(range(28))),
        ("roof.*.1", (0, 1, 2, 3, 4, 5)),
        ("roof.*", tuple(range(24))),
        ("*.2", (1, 7, 13, 19)),
        ("*.*.4", (18, 19, 20, 21, 22, 23)),
        ("west.*", (24, 25, 26)),
    ],
)
def test_names_by_hand(name: str, found: tuple[int, ...]) -> None:
    """Lamps, all below a name, groups and stars, each in the order of the rig."""
    assert lamps(name) == found


def test_several_names_keep_the_first_mention() -> None:
    """Lamps stand in the order of the names, and one mentioned twice where it was mentioned first."""
    assert lamps("door", "roof.2", "*.2", "roof.*.1", "door") == (27, 1, 7, 13, 19, 0, 2, 3, 4, 5)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("dor", "no lamp or group is called 'dor'; did you mean 'door'? known: all, roof, west, left, right, reds, door"),
        ("roof.7.1", "no lamp or group is called 'roof.7.1'; did you mean 'roof.6.1'? known: all, roof, "),
        ("Door", "did you mean 'door'?"),
        ("*.blue", "'\\*.blue' matches no lamp; known: all, roof"),
        ("*.*.*.*", "matches no lamp"),
    ],
)  # fmt: skip
def test_names_that_stand_for_nothing(name: str, said: str) -> None:
    """An unknown name is a mistake that says what was meant, or what there is."""
    with pytest.raises(FileError, match=said.replace("?", r"\?")):
        lamps(name)


def test_many_names_are_shortened() -> None:
    """A rig of hundreds of lamps does not list them all."""
    names = LampNames(f"lamp{i}" for i in range(500))
    report = Report("a.yaml")
    names.resolve([Scalar("x", "x", 1, 1)], report)
    with pytest.raises(FileError, match=r"known: all, lamp0, .*, lamp10 and 489 more$"):
        report.finish()


@given(st.lists(st.sampled_from(["a", "b", "c", "1", "2"]), min_size=1, max_size=3).map(".".join))
def test_a_name_is_the_lamp_or_everything_below_it(name: str) -> None:
    """Any name means just the lamps that are called so or whose name begins with it and a dot."""
    known = ["a", "b.1", "b.2", "c.1.a", "c.1.b", "c.2.a"]
    found = LampNames(known).find(name)
    below = tuple(i for i, lamp in enumerate(known) if f"{lamp}.".startswith(f"{name}."))
    assert (found or ()) == below
