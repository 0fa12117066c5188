"""Knows: values that only a rig file has: the members of a group, the places of a grid.

Must never know: which lamps there are.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from bridge.shell.files.compound import Colour
from bridge.shell.files.leaves import Flaw, Leaf, LeafError, Schema, Whole, each, every, one_or_more
from bridge.shell.files.name_leaves import Name
from bridge.shell.files.nodes import Listing, Node, Scalar, Table, describe

_PLACE = re.compile(r"([0-9]{1,3})\.([0-9]{1,3})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Member:
    """One mention in a group: a name, or a colour that stands for all lamps of that colour."""

    place: Scalar
    name: str = ""
    colour: str = ""


@dataclass(frozen=True)
class Members(Leaf):
    """What a group holds: names, {colour: red}, or a list of them."""

    def read(self, node: Node) -> tuple[Member, ...]:
        """The mentions in the order of the file."""
        return tuple(every(each(node, "a name"), self._member))

    def _member(self, node: Node) -> Member:
        if not isinstance(node, Table):
            name = Name(stars=True).read(node)
            return Member(name, name=name.raw)
        if list(node) != ["colour"]:
            raise LeafError(
                Flaw(node, f"holds a table of {', '.join(node) or 'nothing'}", "give {colour: red}")
            )
        colour = Colour().read(node["colour"])
        return Member(node.keys_at["colour"], colour=colour)

    def schema(self) -> Schema:
        """Names, colours, or a list of them."""
        colour = {
            "type": "object",
            "properties": {"colour": {**Colour().schema(), "description": "every lamp of this colour"}},
            "required": ["colour"],
            "additionalProperties": False,
        }
        return one_or_more({"anyOf": [Name().schema(), colour]})


@dataclass(frozen=True)
class Places(Leaf):
    """Places of a grid as column and row: 2.1, or [2, 1], in a list."""

    def read(self, node: Node) -> tuple[tuple[int, int, Node], ...]:
        """Column, row and where they are written, for each place."""
        if not isinstance(node, Listing):
            raise LeafError(Flaw(node, f"is {describe(node)}", self.right))
        return tuple(every(node, self._place))

    @property
    def right(self) -> str:
        """What would be right."""
        return "give a list of places, [1.4, 2.4] as column.row"

    def _place(self, node: Node) -> tuple[int, int, Node]:
        if isinstance(node, Listing) and len(node) == 2:
            column, row = every(node, Whole(1, 512).read)
            return column, row, node
        # The raw text counts: by its value 1.10 would be 1.1.
        found = _PLACE.fullmatch(node.raw) if isinstance(node, Scalar) else None
        if not found:
            raise LeafError(Flaw(node, f"holds {describe(node)}", self.right))
        return int(found[1]), int(found[2]), node

    def schema(self) -> Schema:
        """A list of column.row or [column, row]."""
        pair = {"type": "array", "items": {"type": "integer", "minimum": 1}, "minItems": 2, "maxItems": 2}
        name = {"type": "string", "pattern": r"^[0-9]{1,3}\.[0-9]{1,3}$"}
        return {"type": "array", "items": {"anyOf": [{"type": "number"}, name, pair]}}
