"""Knows: the kinds of values that are made of several numbers or words: places, ranges, curves, colours.

Must never know: which key asks, or what a curve does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from bridge.parts.colours import COLOURS
from bridge.parts.curves import CURVES
from bridge.parts.responses import RESPONSES
from bridge.shell.files.leaves import Flaw, Leaf, LeafError, Number, Schema, Whole, Word, every
from bridge.shell.files.nodes import Listing, Node, Scalar, describe
from bridge.shell.files.report import quote
from bridge.values.mapping import Curve
from bridge.values.rig import Points

FARTHEST = 10_000.0
"""Metres; farther is a slip."""


@dataclass(frozen=True)
class Pair(Leaf):
    """Two numbers in a list, `names` like x and y, each within `low` to `high`."""

    names: str
    low: float
    high: float
    rising: bool = False

    def read(self, node: Node) -> tuple[float, float]:
        """The two numbers."""
        if not isinstance(node, Listing) or len(node) != 2:
            found = f"a list of {len(node)}" if isinstance(node, Listing) and node else describe(node)
            raise LeafError(Flaw(node, f"is {found}", self.right))
        first, second = every(node, Number(self.low, self.high).read)
        if self.rising and first > second:
            right = f"give [{self.names}], the smaller first"
            raise LeafError(Flaw(node, f"{describe(node[0])} to {describe(node[1])} runs down", right))
        return first, second

    @property
    def right(self) -> str:
        """What would be right."""
        return f"give two numbers, [{self.names}]"

    def schema(self) -> Schema:
        """A list of two numbers."""
        return {
            "type": "array",
            "items": Number(self.low, self.high).schema(),
            "minItems": 2,
            "maxItems": 2,
        }


AT = Pair("x, y", -FARTHEST, FARTHEST)
SPACING = Pair("x, y", -FARTHEST, FARTHEST)
BETWEEN = Pair("low, high", 0.0, 1.0, rising=True)


_SPAN = re.compile(r"([0-9]{1,4})\s*\.\.\s*([0-9]{1,4})", re.ASCII)


@dataclass(frozen=True)
class Span(Leaf):
    """A range of whole numbers: `1..60`, [1, 60], or one number."""

    low: int
    high: int

    def read(self, node: Node) -> tuple[int, int]:
        """Its two ends."""
        if isinstance(node, Listing) and len(node) == 2:
            first, last = every(node, Whole(self.low, self.high).read)
        elif isinstance(node, Scalar) and isinstance(node.value, int) and not isinstance(node.value, bool):
            first = last = Whole(self.low, self.high).read(node)
        elif isinstance(node, Scalar) and (found := _SPAN.fullmatch(node.raw.strip())):
            first, last = int(found[1]), int(found[2])
            if not self.low <= first <= self.high or not self.low <= last <= self.high:
                raise LeafError(Flaw(node, f"{node.raw.strip()} is out of range", self.right))
        else:
            what = f"a list of {len(node)}" if isinstance(node, Listing) and node else describe(node)
            raise LeafError(Flaw(node, f"is {what}", self.right))
        if first > last:
            raise LeafError(Flaw(node, f"{first} to {last} runs down", f"give {last}..{first}"))
        return first, last

    @property
    def right(self) -> str:
        """What would be right."""
        return f"give a range within {self.low}..{self.high}, like {self.low}..{(self.low + self.high) // 2}"

    def schema(self) -> Schema:
        """A text, a pair or a number."""
        number = Whole(self.low, self.high).schema()
        text = {"type": "string", "pattern": r"^\s*[0-9]{1,4}\s*\.\.\s*[0-9]{1,4}\s*$"}
        return {"anyOf": [number, text, {"type": "array", "items": number, "minItems": 2, "maxItems": 2}]}


@dataclass(frozen=True)
class Drawn(Leaf):
    """A curve: a word, or a list of points whose first numbers rise and whose second never fall."""

    kind: str
    words: tuple[str, ...]
    point: str
    high: float

    def read(self, node: Node) -> Curve:
        """The word, or the points."""
        if not isinstance(node, Listing):
            word: str = Word(self.kind, self.words).read(node)
            return word
        if not node:
            raise LeafError(Flaw(node, "is an empty list", f"give points, [[{self.point}], …]"))
        points = every(node, self._point)
        flaws: list[Flaw] = []
        for (x0, y0), (x1, y1), there in zip(points, points[1:], node[1:], strict=False):
            first, second = self.point.split(", ")
            if x1 <= x0:
                flaws.append(
                    Flaw(there, f"has {first} {x1:g} after {x0:g}", f"each {first} is over the last")
                )
            if y1 < y0:
                flaws.append(Flaw(there, f"has {second} {y1:g} after {y0:g}", f"the {second} never falls"))
        flaws += self._ends(points, node)
        if flaws:
            raise LeafError(*flaws)
        return tuple(points)

    def _point(self, node: Node) -> tuple[float, float]:
        if not isinstance(node, Listing) or len(node) != 2:
            raise LeafError(Flaw(node, f"has {describe(node)} for a point", f"give [{self.point}]"))
        flaws: list[Flaw] = []
        values = []
        for number, high in zip(node, (self.high, 1.0), strict=True):
            try:
                values.append(Number(0.0, high).read(number))
            except LeafError as error:
                flaws += error.flaws
        if flaws:
            raise LeafError(*flaws)
        return values[0], values[1]

    def _ends(self, _points: list[tuple[float, float]], _node: Listing) -> list[Flaw]:
        return []

    def schema(self) -> Schema:
        """A word, or a list of points."""
        pair = [Number(0.0, self.high).schema(), Number(0.0, 1.0).schema()]
        point = {"type": "array", "prefixItems": pair, "minItems": 2, "maxItems": 2}
        return {"anyOf": [{"enum": list(self.words)}, {"type": "array", "items": point, "minItems": 1}]}


@dataclass(frozen=True)
class TouchCurve(Drawn):
    """A curve from velocity 0..127 to level 0..1: 0 at 0, 1 at 127, never falling."""

    kind: str = "curve"
    words: tuple[str, ...] = tuple(CURVES)
    point: str = "velocity, level"
    high: float = 127.0

    def _ends(self, points: list[tuple[float, float]], node: Listing) -> list[Flaw]:
        flaws = []
        for there, (velocity, level) in zip(node, points, strict=True):
            for end, wanted in ((0.0, 0.0), (127.0, 1.0)):
                if velocity == end and level != wanted:
                    right = f"every curve has level {wanted:g} at velocity {end:g}"
                    flaws.append(Flaw(there, f"has level {level:g} at velocity {end:g}", right))
        return flaws


@dataclass(frozen=True)
class ResponseCurve(Drawn):
    """A dimmer response from level 0..1 to drive 0..1; (0, 0) and (1, 1) are added where they are missing."""

    kind: str = "response"
    words: tuple[str, ...] = tuple(RESPONSES)
    point: str = "level, drive"
    high: float = 1.0

    def read(self, node: Node) -> Curve:
        """The word, or the points."""
        points = super().read(node)
        if isinstance(points, str):
            return points
        head: Points = ((0.0, 0.0),) if points[0][0] > 0.0 else ()
        tail: Points = ((1.0, 1.0),) if points[-1][0] < 1.0 else ()
        return (*head, *points, *tail)


_HEX = re.compile(r"#[0-9a-fA-F]{6}", re.ASCII)


def is_colour(word: str) -> bool:
    """True for a colour's name or `#rrggbb`."""
    return word in COLOURS or _HEX.fullmatch(word) is not None


@dataclass(frozen=True)
class Colour(Leaf):
    """A colour's name, or #rrggbb in quotes; comes back in small letters."""

    def read(self, node: Node) -> str:
        """The colour."""
        if not isinstance(node, Scalar) or node.value is None:
            # An unquoted # begins a comment, so that nothing is left.
            raise LeafError(
                Flaw(node, f"is {describe(node)}", "give a colour's name, or '#ffaa00' in quotes")
            )
        if not is_colour(node.raw):
            try:
                Word("colour", tuple(COLOURS)).read(node)
            except LeafError as error:
                (flaw,) = error.flaws
                right = f"{flaw.right}, or '#rrggbb'"
                raise LeafError(Flaw(node, f"unknown colour {quote(node.raw)}", right, whole=True)) from None
        return node.raw.casefold()

    def schema(self) -> Schema:
        """A name or #rrggbb."""
        return {"anyOf": [{"enum": list(COLOURS)}, {"type": "string", "pattern": "^#[0-9a-fA-F]{6}$"}]}
