"""Knows: in which order the places of a grid are counted, and which lamp stands in which place.

Must never know: slots, or how a lamp is read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from bridge.values.rig import Grid, Lamp


def run(columns: int, rows: int, order: str, corner: str) -> Iterator[tuple[int, int]]:
    """(column, row) of every place in the order in which slots are given out.

    Columns count 1.. from the left and rows 1.. from below, whatever the corner.

    Args:
        order: rows (row by row), columns (column by column), or snake (row by row, to and fro).
        corner: where counting begins: lower_left, lower_right, upper_left or upper_right.
    """
    across = list(range(1, columns + 1))
    up = list(range(1, rows + 1))
    if corner.endswith("right"):
        across.reverse()
    if corner.startswith("upper"):
        up.reverse()
    if order == "columns":
        for column in across:
            for row in up:
                yield column, row
        return
    for turn, row in enumerate(up):
        back = order == "snake" and turn % 2 == 1
        for column in reversed(across) if back else across:
            yield column, row


def cells_of(name: str, lamps: Sequence[Lamp]) -> list[Grid]:
    """The cells of a grid, for shapes that move over them; a set for each part where heads have parts.

    Args:
        name: the grid's. lamps: its own, called name.column.row, with .part where heads have parts.
    """
    places: dict[str, dict[tuple[int, int], int]] = defaultdict(dict)
    for lamp in lamps:
        column, row, *part = lamp.name[len(name) + 1 :].split(".")
        places[".".join(part)][int(column), int(row)] = lamp.index
    grids = []
    for tail, found in places.items():
        columns, rows = max(c for c, _ in found), max(r for _, r in found)
        cells = tuple(
            tuple(found.get((column, row), -1) for column in range(1, columns + 1))
            for row in range(1, rows + 1)
        )
        grids.append(Grid(f"{name}.*.*.{tail}" if tail else name, cells))
    return grids
