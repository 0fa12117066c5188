"""Knows: the kinds of single values a file holds (numbers, words, texts), how each is read, and its schema.

Must never know: which key asks, or what the value is for.

A leaf is named in a model's annotation, `Annotated[float, Number(0, 1)]`: pydantic then calls `read` with
the node as it stands in the tree, and takes `schema` for the published JSON Schema.
"""

from __future__ import annotations

import difflib
import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from bridge.shell.files.nodes import Listing, Node, Scalar, describe
from bridge.shell.files.report import Placed, quote

Schema = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Flaw:
    """What is wrong with a value. `what` follows the key's name unless `whole` says that it stands alone."""

    place: Placed
    what: str
    right: str
    whole: bool = False


LEAST = 1e-9
"""What a number must be over its bound by, where that is out: a millionth of a milliampere is a slip, and
what is divided by less can be more than a computer's numbers hold."""


class LeafError(Exception):
    """A value that cannot be used."""

    def __init__(self, *flaws: Flaw) -> None:
        super().__init__(f"{len(flaws)} flaws")
        self.flaws = flaws


class Leaf(ABC):
    """A kind of value."""

    @abstractmethod
    def read(self, node: Node) -> Any:
        """The value of a node.

        Raises:
            LeafError: it has none of this kind.
        """

    @abstractmethod
    def schema(self) -> Schema:
        """The JSON Schema (draft 2020-12) of what `read` takes."""

    def _run(self, node: Node) -> Any:
        try:
            return self.read(node)
        except LeafError as error:
            raise PydanticCustomError("leaf", "unusable", {"flaws": error.flaws}) from None

    def __get_pydantic_core_schema__(self, _source: Any, _handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self._run)

    def __get_pydantic_json_schema__(self, _core: CoreSchema, _handler: GetJsonSchemaHandler) -> Schema:
        return self.schema()


def _number(node: Node, right: str) -> int | float:
    """A finite number.

    Raises:
        LeafError: it is none.
    """
    value = node.value if isinstance(node, Scalar) else None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise LeafError(Flaw(node, f"is {describe(node)}", right))
    if not math.isfinite(value):
        raise LeafError(Flaw(node, f"{describe(node)} cannot be used", right))
    return value


@dataclass(frozen=True)
class Number(Leaf):
    """A finite number from `low` to `high`; `low` itself, and what is as good as it, is out where `over`."""

    low: float
    high: float
    over: bool = False

    def read(self, node: Node) -> float:
        """The number."""
        value = _number(node, self.right)
        if not self.low <= value <= self.high or (self.over and value < self.low + LEAST):
            raise LeafError(Flaw(node, f"{describe(node)} is out of range", self.right))
        return float(value)

    @property
    def right(self) -> str:
        """What would be right."""
        if self.over:
            return f"give a number over {self.low:.10g}, at most {self.high:.10g}"
        return f"give a number from {self.low:.10g} to {self.high:.10g}"

    def schema(self) -> Schema:
        """A number with bounds."""
        low = {"exclusiveMinimum": self.low} if self.over else {"minimum": self.low}
        return {"type": "number", **low, "maximum": self.high}


@dataclass(frozen=True)
class Whole(Leaf):
    """A whole number from `low` to `high`; `note` is added to what would be right."""

    low: int
    high: int
    note: str = ""

    def read(self, node: Node) -> int:
        """The number."""
        value = _number(node, self.right)
        if not isinstance(value, int):
            raise LeafError(Flaw(node, f"{describe(node)} is not a whole number", self.right))
        if not self.low <= value <= self.high:
            raise LeafError(Flaw(node, f"{describe(node)} is out of range", self.right))
        return value

    @property
    def right(self) -> str:
        """What would be right."""
        return f"give a whole number from {self.low} to {self.high}{self.note}"

    def schema(self) -> Schema:
        """An integer with bounds."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class OneOf(Leaf):
    """One of a few whole numbers."""

    choices: tuple[int, ...]

    def read(self, node: Node) -> int:
        """The number."""
        right = "give " + " or ".join(str(choice) for choice in self.choices)
        value = _number(node, right)
        if not isinstance(value, int) or value not in self.choices:
            raise LeafError(Flaw(node, f"{describe(node)} is not possible", right))
        return value

    def schema(self) -> Schema:
        """The choices."""
        return {"enum": list(self.choices)}


@dataclass(frozen=True)
class Flag(Leaf):
    """true or false."""

    def read(self, node: Node) -> bool:
        """The truth."""
        if not isinstance(node, Scalar) or not isinstance(node.value, bool):
            # By YAML 1.2, `yes` and `on` are words; a player may well not know.
            raise LeafError(Flaw(node, f"is {describe(node)}", "give true or false"))
        return node.value

    def schema(self) -> Schema:
        """A boolean."""
        return {"type": "boolean"}


@dataclass(frozen=True)
class Word(Leaf):
    """One of a set of words; `kind` is what the words are called in a message."""

    kind: str
    words: tuple[str, ...]

    def read(self, node: Node) -> str:
        """The word."""
        known = f"known: {', '.join(self.words)}"
        if not isinstance(node, Scalar) or node.value is None:
            raise LeafError(Flaw(node, f"is {describe(node)}", f"give one word; {known}"))
        if node.raw not in self.words:
            near = difflib.get_close_matches(node.raw.casefold()[:100], self.words, n=1)
            meant = f"did you mean {quote(near[0])}? " if near else ""
            what = f"unknown {self.kind} {quote(node.raw)}"
            raise LeafError(Flaw(node, what, f"{meant}{known}", whole=True))
        return node.raw

    def schema(self) -> Schema:
        """The words."""
        return {"enum": list(self.words)}


@dataclass(frozen=True)
class Text(Leaf):
    """Any text, as written; what looks like a number or a truth is text too."""

    what: str = "text"

    def read(self, node: Node) -> str:
        """The text."""
        if not isinstance(node, Scalar) or node.value is None:
            raise LeafError(Flaw(node, f"is {describe(node)}", f"give {self.what}"))
        if not node.raw.strip():
            raise LeafError(Flaw(node, "is empty", f"give {self.what}"))
        return node.raw

    def schema(self) -> Schema:
        """A text, or what an editor takes for a number or a truth where quotes are missing."""
        return {"type": ["string", "number", "boolean"], "minLength": 1}


def each(node: Node, what: str) -> list[Node]:
    """The entries of a list, or the one value that stands in place of a list.

    Raises:
        LeafError: the list is empty.
    """
    if isinstance(node, Listing):
        if not node:
            raise LeafError(Flaw(node, "is an empty list", f"give at least {what.replace('a ', 'one ')}"))
        return list(node)
    return [node]


def every(nodes: Iterable[Node], read: Callable[[Node], Any]) -> list[Any]:
    """What `read` gives for all nodes.

    Raises:
        LeafError: with the flaws of all of them.
    """
    out: list[Any] = []
    flaws: list[Flaw] = []
    for node in nodes:
        try:
            out.append(read(node))
        except LeafError as error:
            flaws += error.flaws
    if flaws:
        raise LeafError(*flaws)
    return out


def one_or_more(schema: Schema) -> Schema:
    """The schema of one value or a list of at least one."""
    return {"anyOf": [schema, {"type": "array", "items": schema, "minItems": 1}]}
