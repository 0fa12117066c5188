"""Knows: in which orders the slots of a grid may run: by the words of a rig file, or one row turned round.

Must never know: slots, or which order is the right one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bridge.values.rig import Grid
from bridge.values.wiring import Order

CORNERS = ("lower_left", "lower_right", "upper_left", "upper_right")


def grid_orders(grid: Grid, now: Sequence[int]) -> list[Order]:
    """Every order but the one in force, each once; the simplest first.

    Args:
        now: the lamps of the grid in the order of their slots.
    """
    seen = {tuple(now)}
    out = []
    for order in (*_runs(grid), *_turned(grid, tuple(now))):
        if order.lamps not in seen:
            seen.add(order.lamps)
            out.append(order)
    return out


def _runs(grid: Grid) -> Iterator[Order]:
    """Row by row, column by column, and row by row to and fro, from each corner."""
    for word in ("rows", "columns", "snake"):
        for corner in CORNERS:
            rows = list(grid.cells)
            if corner.startswith("upper"):
                rows.reverse()
            if corner.endswith("right"):
                rows = [row[::-1] for row in rows]
            if word == "columns":
                rows = list(zip(*rows, strict=True))
            elif word == "snake":
                rows = [row[::-1] if turn % 2 else row for turn, row in enumerate(rows)]
            yield Order(grid.name, _there(cell for row in rows for cell in row), word, corner)


def _turned(grid: Grid, now: tuple[int, ...]) -> Iterator[Order]:
    """The order in force with the lamps of one row, or of one column, the other way round."""
    lines = [("row", str(number), row) for number, row in enumerate(grid.cells, 1)]
    lines += [("column", str(number), line) for number, line in enumerate(zip(*grid.cells, strict=True), 1)]
    for word, number, line in lines:
        lamps = set(_there(line))
        turned = iter([lamp for lamp in reversed(now) if lamp in lamps])
        yield Order(grid.name, tuple(next(turned) if lamp in lamps else lamp for lamp in now), word, number)


def _there(cells: Iterator[int] | Sequence[int]) -> tuple[int, ...]:
    return tuple(cell for cell in cells if cell >= 0)
