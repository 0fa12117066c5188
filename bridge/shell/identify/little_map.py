"""Knows: a rig as a few lines of text, each lamp a dot at its place, some of them marked.

Must never know: walks, or why a lamp is marked.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.shell.draw_rig import places
from bridge.values.rig import Lamps, Rig

WIDEST, TALLEST = 56, 12
"""Letters and lines of the map at most."""


def little_map(rig: Rig) -> Callable[[Lamps], str]:
    """A function that draws the rig with some lamps marked `●`, the others `·`."""
    spots = places(rig)
    if not len(spots):
        return lambda _lamps: ""
    low, high = spots.min(axis=0), spots.max(axis=0)
    span = [max(float(high[0] - low[0]), 1e-9), max(float(high[1] - low[1]), 1e-9)]
    # A letter is about half as wide as a line is high.
    unit = max(span[0] / (WIDEST - 1), span[1] / (2 * (TALLEST - 1)), 0.05)
    tall = round(span[1] / (2 * unit)) + 1
    cells = [(round(float(high[1] - y) / (2 * unit)), round(float(x - low[0]) / unit)) for x, y in spots]
    wide = max(column for _, column in cells) + 1

    def draw(marked: Lamps) -> str:
        lines = [[" "] * wide for _ in range(tall)]
        for row, column in cells:
            lines[row][column] = "·"
        for lamp in marked:
            row, column = cells[lamp]
            lines[row][column] = "●"
        return "\n".join("    " + "".join(line).rstrip() for line in lines)

    return draw
