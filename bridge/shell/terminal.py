"""Knows: how the rig looks in a terminal: each lamp at its place, lit as it is driven.

Must never know: how frames reach it, or what lit a lamp.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from bridge.parts.colours import encode, rgb, shine
from bridge.shell.draw_rig import lamp_levels
from bridge.values.beat import Beat
from bridge.values.frame import Frame
from bridge.values.rig import Lamp, Rig

BARS = "·▁▂▃▄▅▆▇█"
CELL = 5
MOST_ROWS = 24


class RigView:
    """A rig laid out once on a grid of character cells; drawn for each frame."""

    def __init__(self, rig: Rig, width: int = 80) -> None:
        self._rig = rig
        self._places = self._lay_out(rig.lamps, max(2, width // CELL - 1))

    @staticmethod
    def _lay_out(lamps: Sequence[Lamp], columns: int) -> list[list[tuple[int, int]]]:
        """Rows from the top, each a list of (column, lamp); lamps keep their places to the nearest cell."""
        if not lamps:
            return []
        xs = sorted({lamp.at[0] for lamp in lamps})
        gaps = [b - a for a, b in itertools.pairwise(xs) if b - a > 1e-6]
        step = max([min(gaps, default=1.0), (xs[-1] - xs[0]) / columns])
        heights = sorted({round(lamp.at[1], 2) for lamp in lamps}, reverse=True)
        if len(heights) > MOST_ROWS:
            low, high = heights[-1], heights[0]
            band = (high - low) / (MOST_ROWS - 1)
            row_of = {y: round((high - y) / band) for y in heights}
        else:
            row_of = {y: i for i, y in enumerate(heights)}
        rows: list[dict[int, int]] = [{} for _ in range(max(row_of.values()) + 1)]
        for lamp in lamps:
            row = rows[row_of[round(lamp.at[1], 2)]]
            # Halves always the same way, whatever the last bits say: else even columns stand unevenly.
            column = math.floor((lamp.at[0] - xs[0]) / step + 0.5 + 1e-6)
            while column in row:
                column += 1
            row[column] = lamp.index
        return [sorted(row.items()) for row in rows]

    def draw(self, frame: Frame) -> Text:
        """The rig as text: a block for each lamp, its height and its glow both the drive."""
        drives = lamp_levels(self._rig, frame)
        text = Text(no_wrap=True)
        for row in self._places:
            at = 0
            for column, index in row:
                text.append(" " * (column * CELL - at))
                drive = drives[index]
                light = shine(rgb(self._rig.lamps[index].colour), 0.12 + 0.88 * drive)
                # The height is what the eye sees, not what the slot says: light is not linear to it.
                bar = BARS[0 if drive <= 0 else max(1, round(encode(drive) * (len(BARS) - 1)))]
                text.append(bar * 3 + " " * (CELL - 3), style=f"#{light[0]:02x}{light[1]:02x}{light[2]:02x}")
                at = column * CELL + CELL
            text.append("\n\n" if len(self._places) <= MOST_ROWS // 2 else "\n")
        return text


def view(
    rig: Rig,
    rig_view: RigView,
    beat: Beat,
    frame: Frame,
    news: dict[str, Any],
    square: Sequence[str] = (),
    size: tuple[int, int] = (80, 25),
) -> RenderableType:
    """The whole screen: the title, the rig, and what is going on.

    Args:
        square: lines of a link's QR code, shown beside or below where there is room.
        size: columns and rows of the terminal.
    """
    minutes, seconds = divmod(int(frame.t), 60)
    head = Text(f" {rig.name}", style="bold")
    head.append(f"   {minutes}:{seconds:02d}", style="dim")
    if title := news.get("title"):
        head.append(f"   {title}", style="dim")
    lines: list[Text] = [head, Text(), rig_view.draw(frame)]
    if news.get("blackout"):
        lines.append(Text(" BLACKOUT", style="bold reverse"))
    master = round(100 * news.get("master", 1.0))
    status = f" master {master} %   frame {beat.number}   late {beat.late * 1000:.1f} ms"
    if news.get("skipped"):
        status += f"   left out {news['skipped']}"
    lines.append(Text(status, style="dim"))
    for output in news.get("outputs", ()):
        style = "green" if output["state"] == "up" else "yellow"
        note = f": {output['note']}" if output.get("note") else ""
        lines.append(Text(f" {output['name']} {output['state']}{note}", style=style))
    lines.extend(Text(f" {notice}", style="yellow") for notice in news.get("notices", ())[-6:])
    lines.append(Text(" Ctrl-C ends", style="dim"))
    return _with_square(lines, square, *size)


def _with_square(lines: Sequence[Text], square: Sequence[str], columns: int, rows: int) -> RenderableType:
    """The lines, with the square to their right, or else below, or not at all."""
    if not square:
        return Group(*lines)
    # Its light modules must be the lighter ones, whatever the terminal's own colours are.
    drawn = Text("\n".join(square), style="bright_white on black", no_wrap=True)
    text = [line for part in lines for line in part.split("\n", allow_blank=True)]
    beside = columns - len(square[0]) - 2
    if len(square) <= rows and max(line.cell_len for line in text[: len(square)]) <= beside:
        table = Table.grid(padding=(0, 2, 0, 0))
        table.add_column(width=beside, no_wrap=True)
        table.add_column(no_wrap=True)
        table.add_row(Group(*text[: len(square)]), drawn)
        return Group(table, *text[len(square) :])
    if len(text) + len(square) <= rows:
        return Group(*lines, drawn)
    return Group(*lines)
