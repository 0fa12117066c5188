"""Knows: how a picture of lamps moves and turns over a grid of cells.

Must never know: chords, time, or what a lamp is.
"""

from __future__ import annotations

from collections.abc import Sequence

Cells = Sequence[Sequence[int]]
"""Rows from the bottom up, each from left to right: lamp index, -1 where there is none."""

Picture = tuple[tuple[int, float], ...]
"""(lamp, level 0..1)."""


def moved(picture: Picture, cells: Cells, columns: int) -> Picture:
    """The picture shifted to the right by so many columns, round the edge.

    Lamps outside the cells stay where they are; what falls on an empty cell is not drawn.
    """
    place = _places(cells)
    out: dict[int, float] = {}
    for lamp, level in picture:
        at = place.get(lamp)
        if at is None:
            _light(out, lamp, level)
            continue
        row = cells[at[1]]
        _light(out, row[(at[0] + columns) % len(row)], level)
    return tuple(out.items())


def turned(picture: Picture, cells: Cells, quarters: int) -> Picture:
    """The picture turned anticlockwise by so many quarters about the middle of the cells.

    The cells are taken as filling a square, so that a turned picture stays on them; each place goes to
    the cell nearest to where the turn brings it.
    """
    if quarters % 4 == 0 or not cells:
        return picture
    place = _places(cells)
    rows, columns = len(cells), max(len(row) for row in cells)
    out: dict[int, float] = {}
    for lamp, level in picture:
        at = place.get(lamp)
        if at is None:
            _light(out, lamp, level)
            continue
        u, v = _spread(at[0], columns), _spread(at[1], rows)
        for _ in range(quarters % 4):
            u, v = -v, u
        row = cells[_cell(v, rows)]
        column = _cell(u, columns)
        if column < len(row):
            _light(out, row[column], level)
    return tuple(out.items())


def _places(cells: Cells) -> dict[int, tuple[int, int]]:
    return {lamp: (x, y) for y, row in enumerate(cells) for x, lamp in enumerate(row) if lamp >= 0}


def _light(out: dict[int, float], lamp: int, level: float) -> None:
    if lamp >= 0:
        out[lamp] = max(level, out.get(lamp, 0.0))


def _spread(index: int, count: int) -> float:
    """The middle of cell `index` of `count`, on -1..1."""
    return (2 * index + 1) / count - 1


def _cell(place: float, count: int) -> int:
    """The cell of `count` in which a place -1..1 lies; a place on an edge belongs to the cell above."""
    return min(count - 1, max(0, int((place + 1) / 2 * count + 1e-9)))


DARK = ". "
FULL = "*"


def drawn(rows: Sequence[str], cells: Cells) -> Picture:
    """A drawing as a picture: its rows from the top down, one character a cell.

    `.` or a space is dark, `*` full, a digit so many tenths. The drawing lies on the upper left corner;
    rows or columns it does not have are dark.

    Raises:
        ValueError: a character that means nothing, or more rows or columns than there are cells.
    """
    if len(rows) > len(cells):
        raise ValueError(f"{len(rows)} rows drawn over a grid of {len(cells)}")
    out: dict[int, float] = {}
    for row, line in zip(reversed(cells), rows, strict=False):
        if len(line) > len(row):
            raise ValueError(f"the row {line!r} is drawn over a grid of {len(row)} columns")
        for lamp, character in zip(row, line, strict=False):
            if character in DARK:
                continue
            if character != FULL and not ("0" <= character <= "9"):
                raise ValueError(f"{character!r} in the row {line!r} is none of . * 0 to 9")
            _light(out, lamp, 1.0 if character == FULL else int(character) / 10)
    return tuple((lamp, level) for lamp, level in out.items() if level > 0.0)
