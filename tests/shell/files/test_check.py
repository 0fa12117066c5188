"""Holding a table against a model: pydantic's findings in our words, at their places."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from bridge.shell.files.check import Entry, Item, check
from bridge.shell.files.leaves import Whole
from bridge.shell.files.nodes import Node
from bridge.shell.files.report import Report
from bridge.shell.files.tree import parse
from bridge.values.errors import FileError

Number = Annotated[int, Whole(0, 9)]


class Inner(Entry):
    """A table in a table."""

    size: Number = Field(description="its size")


class Outer(Entry):
    """A table with every way to hold others."""

    stand_ins: ClassVar = {"must": "0"}

    must: Number = Field(description="a number")
    one: Inner | None = Field(None, description="one")
    many: list[Inner] = Field([], description="many")
    named: dict[str, Inner] = Field({}, description="by name")
    numbers: list[Number] = Field([], description="numbers")
    other: Number = Field(5, description="another number")


def checked(text: str) -> tuple[Item[Outer] | None, list[str]]:
    """The item made of a text, and what was told."""
    report = Report("a")
    top: Node | None = parse(text, report)
    assert top is not None
    item = check(Outer, top, report, "a thing")
    try:
        return item, [str(problem) for problem in report.finish()]
    except FileError as error:
        return item, [str(problem) for problem in error.problems]


def test_a_good_table() -> None:
    """Every nesting is read, and nothing is told."""
    item, said = checked(
        "{must: 1, one: {size: 2}, many: [{size: 3}], named: {size: {size: 4}}, numbers: [5]}"
    )
    assert said == []
    assert item is not None
    assert item.bad == frozenset()
    assert item.value.one == item.value.one.model_copy() if item.value.one else False
    assert (item.value.must, item.value.many[0].size, item.value.named["size"].size) == (1, 3, 4)


def test_mistakes_below_other_tables() -> None:
    """In tables, lists and names that are spelled like keys, a mistake is told at its own place."""
    item, said = checked(
        "must: 1\none: {sise: 2}\nmany: [{size: 1}, {}, 7]\n"
        "named: {one: {size: 1}, size: {seze: 1, size: 10}}\nnumbers: [1, x, 2, 10]\n"
    )
    assert said == [
        "a:2:6: 'one' has no key 'size'; write size: … (its size)",
        "a:2:7: unknown key 'sise'; did you mean 'size'? known here: size",
        "a:3:19: an entry of 'many' has no key 'size'; write size: … (its size)",
        "a:3:23: many is 7; give keys and values, {key: value}",
        "a:4:32: unknown key 'seze'; did you mean 'size'? known here: size",
        "a:4:47: size 10 is out of range; give a whole number from 0 to 9",
        "a:5:14: numbers is the text 'x'; give a whole number from 0 to 9",
        "a:5:20: numbers 10 is out of range; give a whole number from 0 to 9",
    ]
    assert item is not None
    assert item.bad == {"one", "many", "named", "numbers"}


def test_what_is_wrong_is_set_aside() -> None:
    """A wrong key gets its default, a missing one its stand-in, and the rest is read."""
    item, said = checked("{other: ten, numbers: [3]}")
    assert said == [
        "a:1:1: a thing has no key 'must'; write must: … (a number)",
        "a:1:9: other is the text 'ten'; give a whole number from 0 to 9",
    ]
    assert item is not None
    assert (item.value.must, item.value.other, item.value.numbers) == (0, 5, [3])
    assert item.good("numbers")
    assert not item.good("numbers", "other")
    assert not item.good("must")


def test_shapes() -> None:
    """A list where a table belongs, and the other way round, is named as what it is."""
    _, said = checked("{must: 1, one: [], many: {}, named: 5, numbers: 5}")
    assert said == [
        "a:1:16: one is a list; give keys and values, {key: value}",
        "a:1:26: many is a table of keys and values; give a list",
        "a:1:37: named is 5; give keys and values, {key: value}",
        "a:1:49: numbers is 5; give a list",
    ]
