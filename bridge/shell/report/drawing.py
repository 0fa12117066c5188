"""Knows: how counts and time lines are drawn as inline SVG of any width, with their labels as text beside it.

Must never know: what is counted.

A picture stretches with the page while the labels keep their size, so that a phone shows them as large as a
laptop does. Everything handed in as a label is escaped here. Nothing is told by colour alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from html import escape as _escape

from bridge.shell.report.facts import plain
from bridge.shell.report.words import clock

LIFT = 0.35
"""Share of a tenfold step that a count of 1 stands above the floor, so that it is seen."""

_UNIT = re.compile(r"(\d) (ms|s|min|h|%|A|V)(?!\w)")
"""A number and its unit stay on one line."""

NICE_SECONDS = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 10800, 21600, 43200, 86400)


def text(words: str) -> str:
    """Any words as text of the page: they can do and tell nothing that they should not."""
    return _UNIT.sub("\\1\u00a0\\2", _escape(plain(words)))


def _decades(top: float) -> int:
    return max(1, math.ceil(math.log10(max(top, 1.0)) - 1e-9))


def _height(count: float, decades: int) -> float:
    """0..100 for a count on a scale of tenfold steps."""
    return 0.0 if count < 1 else 100.0 * (LIFT + math.log10(count)) / (LIFT + decades)


def _place(percent: float, label: str, side: str, end: bool = False) -> str:
    kind = ' class="end"' if end else ""
    return f'<span{kind} style="{side}:{percent:.2f}%">{text(label)}</span>'


def _plot(said: str, inside: str, wide: float, ys: str, xs: str, kind: str = "") -> str:
    return (
        f'<div class="plot {kind}"><div class="ys" aria-hidden="true">{ys}</div>'
        f'<svg viewBox="0 0 {wide:g} 100" preserveAspectRatio="none" role="img" aria-label="{text(said)}">'
        f'{inside}</svg><div class="xs" aria-hidden="true">{xs}</div></div>'
    )


def histogram(
    said: str,
    counts: Sequence[int],
    edges: Sequence[tuple[float, str]],
    late_from: float = math.inf,
    limit: float | None = None,
) -> str:
    """Bars of equal width on a scale of tenfold steps.

    Args:
        said: the picture in words, for who cannot see it.
        edges: place on the axis (1 is the end of the first bar) and label of each mark.
        late_from: bars from this place on are marked as late, by colour and by an edge.
        limit: a place at which a line is drawn.
    """
    decades = _decades(max(counts, default=0))
    wide = 10.0 * len(counts)
    marks = []
    for power in range(decades + 1):
        y = 100.0 - _height(10.0**power, decades)
        marks.append(f'<line class="grid" x1="0" x2="{wide:g}" y1="{y:.2f}" y2="{y:.2f}"/>')
    for at, count in enumerate(counts):
        if count:
            tall = _height(count, decades)
            kind = "late" if at >= late_from else "bar"
            place = f'x="{10 * at + 0.8:g}" y="{100 - tall:.2f}" width="8.4" height="{tall:.2f}"'
            marks.append(f'<rect class="{kind}" {place}/>')
    if limit is not None:
        marks.append(f'<line class="limit" x1="{10 * limit:.2f}" x2="{10 * limit:.2f}" y1="0" y2="100"/>')
    ys = "".join(
        _place(_height(10.0**power, decades), _short(10**power), "bottom") for power in range(decades + 1)
    )
    xs = "".join(_place(100.0 * at / len(counts), label, "left") for at, label in edges)
    return _plot(said, "".join(marks), wide, ys, xs)


def _short(count: int) -> str:
    return (
        f"{count // 1_000_000}M"
        if count >= 1_000_000
        else f"{count // 1000}k"
        if count >= 1000
        else str(count)
    )


def steps(
    said: str, values: Sequence[float], marks: Sequence[tuple[float, str, str]], width: float, kind: str
) -> str:
    """A time line as a filled outline.

    Args:
        values: height of each stretch, 0..1 of the picture.
        marks: height, label and class of each level line.
        width: seconds of a stretch; the axis is marked in minutes and seconds.
    """
    count = max(1, len(values))
    lines = [
        f'<line class="{line}" x1="0" x2="{count}" y1="{100 - 100 * at:.2f}" y2="{100 - 100 * at:.2f}"/>'
        for at, _, line in marks
    ]
    way = "".join(f"V{100 - 100 * min(1.0, value):.1f}H{at + 1}" for at, value in enumerate(values))
    inside = "".join(lines) + f'<path class="{kind}" d="M0 100{way}V100Z"/>'
    ys = "".join(_place(100 * at, label, "bottom") for at, label, _ in marks)
    return _plot(said, inside, count, ys, time_marks(count * width), "low")


def strip(said: str, values: Sequence[float], width: float, kinds: Sequence[str], axis: bool = False) -> str:
    """A band whose filling says a state: each value is the number of a class of `kinds`."""
    count = max(1, len(values))
    parts, at = [], 0
    while at < len(values):
        end = at
        while end < len(values) and values[end] == values[at]:
            end += 1
        kind = kinds[min(len(kinds) - 1, int(values[at]))]
        if kind:
            parts.append(f'<rect class="{kind}" x="{at}" y="4" width="{end - at}" height="92"/>')
        at = end
    xs = time_marks(count * width) if axis else ""
    return _plot(said, "".join(parts), count, "", xs, "strip axis" if axis else "strip")


def time_marks(seconds: float, most: int = 6) -> str:
    """Marks of a time axis at round times, and its end."""
    step = next((nice for nice in NICE_SECONDS if seconds / nice <= most), NICE_SECONDS[-1])
    while seconds / step > most:
        step *= 2
    times = [step * number for number in range(int(seconds / step) + 1)]
    places = [(100.0 * t / seconds, clock(t)) for t in times if t <= seconds]
    return "".join(_place(at, label, "left", end=at > 96.0) for at, label in places)


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[str]], quiet: bool = False) -> str:
    """A table whose first column names its rows; every cell is escaped.

    Args:
        quiet: the caption is for who cannot see the heading above it.
    """
    unseen = ' class="unseen"' if quiet else ""
    cells = "".join(f'<th scope="col">{text(word)}</th>' for word in head)
    top = f"<thead><tr>{cells}</tr></thead>" if head else ""
    body = "".join(
        "<tr>"
        + "".join(
            f'<th scope="row">{text(cell)}</th>' if at == 0 else f"<td>{text(cell)}</td>"
            for at, cell in enumerate(row)
        )
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="wide"><table><caption{unseen}>{text(caption)}</caption>{top}'
        f"<tbody>{body}</tbody></table></div>"
    )


def heading(words: str) -> str:
    """The beginning of a part."""
    return f"<h2>{text(words)}</h2>"


def said(words: str) -> str:
    """A sentence."""
    return f"<p>{text(words)}</p>"


def note(words: str) -> str:
    """What helps to read a chart or a table."""
    return f'<p class="note">{text(words)}</p>'


def over(words: str) -> str:
    """What the chart below shows."""
    return f'<p class="axis-name">{text(words)}</p>'


def numbers(inside: str) -> str:
    """What stands behind a chart, folded away."""
    return f"<details><summary>The numbers</summary>{inside}</details>"
