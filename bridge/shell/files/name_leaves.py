"""Knows: what a name may look like, and how one or several are read with their places.

Must never know: what a name stands for.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.shell.files.leaves import Flaw, Leaf, LeafError, Schema, Text, each, every, one_or_more
from bridge.shell.files.nodes import Node, Scalar, describe
from bridge.shell.files.report import quote


@dataclass(frozen=True)
class Name(Leaf):
    """A name, kept with its place: a word, or anything that looks like a number. Stars only where `stars`."""

    stars: bool = False

    def read(self, node: Node) -> Scalar:
        """The name as it stands in the file."""
        if not isinstance(node, Scalar) or node.value is None:
            raise LeafError(Flaw(node, f"is {describe(node)}", "give a name"))
        if reason := unfit(node.raw, self.stars):
            raise LeafError(Flaw(node, *reason, whole=True))
        return node

    def schema(self) -> Schema:
        """As of any text."""
        return Text().schema()


def unfit(name: str, stars: bool = False) -> tuple[str, str] | None:
    """What is wrong with a name and what would be right; None for a good one."""
    parts = name.split(".")
    if not name.strip():
        return "a name is empty", "give a name"
    if name != name.strip() or not name.isprintable():
        return f"the name {quote(name)} has blanks at its ends or control characters", "take them out"
    if not all(part.strip() for part in parts):
        return f"the name {quote(name)} has an empty part", "write it like roof.1.2"
    if not stars and "*" in name:
        return f"the name {quote(name)} has a '*'", "a '*' only stands where names are asked for"
    if any("*" in part and part != "*" for part in parts):
        return (
            f"the '*' in {quote(name)} stands for a part of a name",
            "a '*' stands for a whole one, like *.red",
        )
    return None


@dataclass(frozen=True)
class Names(Leaf):
    """One name or a list of them, kept with their places; each `*` stands for one part of a name."""

    def read(self, node: Node) -> tuple[Scalar, ...]:
        """The names."""
        name = Name(stars=True)
        return tuple(every(each(node, "a name"), name.read))

    def schema(self) -> Schema:
        """A name or a list."""
        return one_or_more(Name().schema())
