"""Knows: how a rig is drawn on paper as the audience sees it: lamps at their places, with slots and names.

Must never know: patch tables, loads, or what is said around the picture.

Every length is in millimetres of the paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

import numpy as np

from bridge.shell.draw_rig import nearest, places
from bridge.shell.sheet.inks import letters, tint
from bridge.values.numbers import Floats
from bridge.values.rig import Lamp, Rig

WIDE: Final = 186.0
TALLEST: Final = 104.0
TALLEST_CROWD: Final = 225.0
"""Height of the picture at most; of a rig that fills several sheets anyhow."""

CROWD: Final = 100
WIDEST: Final = 1.4
"""How much more a metre across may be than a metre up: names are wide."""

LARGEST: Final = 4.6
SMALLEST: Final = 0.8
"""Radius of a lamp."""

NAME_SIZE: Final = 2.5
LETTER: Final = 0.6
"""Width of a letter as a share of its size: that of a wide one, so that labels never touch."""

LEAST_NUMBER: Final = 1.7
"""Size below which a number could not be read on a ladder."""

LONGEST_NAME: Final = 22

RINGS: Final = ("thin", "dashed", "thick", "dotted")
"""How the lamps of each universe are ringed; with more universes the number says it."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle that is taken."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """True if the two overlap."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


@dataclass(frozen=True, slots=True)
class Drawing:
    """The picture as SVG, its height, and how many lamps had no room for their names or their slots."""

    svg: str
    tall: float
    nameless: int
    numberless: int


class _Taken:
    """Rectangles in use, found quickly by where they are."""

    CELL = 12.0

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[Box]] = {}

    def add(self, box: Box) -> None:
        for cell in self._span(box):
            self._cells.setdefault(cell, []).append(box)

    def free(self, box: Box) -> bool:
        return not any(box.meets(other) for cell in self._span(box) for other in self._cells.get(cell, ()))

    def _span(self, box: Box) -> list[tuple[int, int]]:
        across = range(int(box.left // self.CELL), int(box.right // self.CELL) + 1)
        down = range(int(box.top // self.CELL), int(box.bottom // self.CELL) + 1)
        return [(x, y) for x in across for y in down]


def draw(rig: Rig, tallest: float = TALLEST) -> Drawing:
    """The rig as the audience sees it, at most `tallest` high. Every text is escaped."""
    if not rig.lamps:
        return Drawing("", 0.0, 0, 0)
    centres, radii, tall = _fit(rig, min(tallest, TALLEST) if len(rig.lamps) <= CROWD else TALLEST_CROWD)
    signs = letters(lamp.colour for lamp in rig.lamps)
    taken = _Taken()
    for (x, y), r in zip(centres, radii, strict=True):
        taken.add(Box(x - r, y - r, x + r, y + r))
    many = len(rig.universes) > len(RINGS)
    parts: list[str] = []
    nameless = numberless = 0
    for lamp, (x, y), r in zip(rig.lamps, centres, radii, strict=True):
        number = slot_text(lamp, many)
        size = min(3.8, 1.62 * r / max(2, len(number)) / LETTER)
        inside = r >= 4.0
        ring = "" if many else f" ring{rig.universes.index(lamp.universe)}"
        parts.append(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{r:.2f}" fill="{tint(lamp.colour)}" class="lamp{ring}"/>'
        )
        if size >= LEAST_NUMBER:
            drop = 0.06 * size if inside else 0.36 * size
            parts.append(_text(x, y + drop, size, number, "slot"))
        else:
            numberless += 1
        if inside:
            parts.append(_text(x, y + 0.62 * r, 2.3, signs[lamp.colour], "sign"))
        label = _shown(lamp.name) if inside else f"{_shown(lamp.name)} {signs[lamp.colour]}"
        spot = _room(label, x, y, r, taken, tall)
        if spot is None:
            nameless += 1
        else:
            parts.append(_text(*spot, NAME_SIZE, label, "name"))
    svg = (
        f'<svg viewBox="0 0 {WIDE:g} {tall:.2f}" width="{WIDE:g}mm" height="{tall:.2f}mm" role="img" '
        f'aria-label="The rig as the audience sees it" xmlns="http://www.w3.org/2000/svg">'
        + "".join(parts)
        + "</svg>"
    )
    return Drawing(svg, tall, nameless, numberless)


def slot_text(lamp: Lamp, with_universe: bool) -> str:
    """A lamp's slot, like `12`; where rings cannot tell the universes apart, `2/12`."""
    return f"{lamp.universe}/{lamp.slot}" if with_universe else str(lamp.slot)


def _fit(rig: Rig, tallest: float) -> tuple[Floats, Sequence[float], float]:
    """Where each lamp's middle comes to lie, its radius, and the height of the picture."""
    spots = places(rig)
    low, high = spots.min(axis=0), spots.max(axis=0)
    span = np.maximum(high - low, 1e-6)
    edge = 8.0
    # Lamps farther apart than this gain nothing from more paper.
    roomy = 21.0 / float(np.median(nearest(spots)))
    up = min((WIDE - 2 * edge) / span[0], (tallest - 2 * edge) / span[1], roomy)
    across = min((WIDE - 2 * edge) / span[0], up * WIDEST, max(roomy, up))
    tall = float(span[1]) * up + 2 * edge
    centres = (spots - (low + high) / 2) * (across, -up) + (WIDE / 2, tall / 2)
    # Room for a name between a lamp and the one below it, where there is any to give.
    gaps = nearest(centres)
    radii = np.clip(np.where(gaps > 8.0, (gaps - NAME_SIZE - 0.9) / 2, 0.42 * gaps), SMALLEST, LARGEST)
    return centres, [float(r) for r in radii], tall


def _room(label: str, x: float, y: float, r: float, taken: _Taken, tall: float) -> tuple[float, float] | None:
    """The middle and foot of a label beside its lamp, taken at once; None where there is no room."""
    half, size = len(label) * NAME_SIZE * LETTER / 2, NAME_SIZE
    for cx, foot in (
        (x, y + r + size),
        (x + r + half + 0.6, y + 0.36 * size),
        (x - r - half - 0.6, y + 0.36 * size),
        (x, y - r - 0.4 * size),
    ):
        box = Box(cx - half, foot - 0.8 * size, cx + half, foot + 0.2 * size)
        if box.left >= 0 and box.right <= WIDE and box.top >= 0 and box.bottom <= tall and taken.free(box):
            taken.add(box)
            return cx, foot
    return None


def _text(x: float, y: float, size: float, text: str, kind: str) -> str:
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" class="{kind}">{escape(text)}</text>'


def _shown(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + "…"
