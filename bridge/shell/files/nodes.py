"""Knows: tables, lists and scalars that remember their line and column.

Must never know: rigs, mappings, or how a text is parsed.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from typing import Any, TypeAlias

from bridge.shell.files.report import Placed, quote
from bridge.shell.files.scalars import Value


@dataclass(frozen=True, slots=True)
class Scalar:
    """One word, number or text.

    Args:
        raw: as written, quotes taken off. value: what it is worth by the core schema of YAML 1.2.
    """

    raw: str
    value: Value
    line: int
    column: int

    def __str__(self) -> str:
        return self.raw


class Listing(list["Node"]):
    """A list, and where it begins."""

    def __init__(self, line: int, column: int) -> None:
        super().__init__()
        self.line = line
        self.column = column


class Table(dict[str, "Node"]):
    """Keys and values in the order of the file; `keys_at` has the key as it stands there."""

    def __init__(self, line: int, column: int) -> None:
        super().__init__()
        self.line = line
        self.column = column
        self.keys_at: dict[str, Scalar] = {}

    def place(self, key: str) -> Placed:
        """Where a key's value stands; where the table begins if it has no such key."""
        return self.get(key, self)

    def only(self, keys: Container[str]) -> Table:
        """The same table with no other keys than these."""
        out = Table(self.line, self.column)
        for key, node in self.items():
            if key in keys:
                out[key] = node
                out.keys_at[key] = self.keys_at[key]
        return out

    def without(self, keys: Container[str]) -> Table:
        """The same table less some keys."""
        return self.only({key for key in self if key not in keys})


Node: TypeAlias = Scalar | Listing | Table


def describe(node: Node) -> str:
    """A node as named in a message: `the text 'x'`, `a list`, `nothing`."""
    if isinstance(node, Table):
        return "a table of keys and values"
    if isinstance(node, Listing):
        return "a list"
    if node.value is None:
        return "nothing"
    return f"the text {quote(node.raw)}" if isinstance(node.value, str) else quote(node.raw).strip("'")


def plain(node: Node) -> Any:
    """The tree as bare dicts, lists and values."""
    if isinstance(node, Table):
        return {key: plain(value) for key, value in node.items()}
    if isinstance(node, Listing):
        return [plain(value) for value in node]
    return node.value
