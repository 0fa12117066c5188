"""Knows: how a curve is put into the text of a mapping file so that all else stays as it was written.

Must never know: what the curve is for, or who asked.

Where things stand comes from the parser's own marks; what comes out is read again and compared, so that a
file we do not understand is refused and never spoiled.
"""

from __future__ import annotations

from collections.abc import Sequence

import yaml

from bridge.shell.files.nodes import Listing, Table, plain
from bridge.shell.files.report import Report
from bridge.shell.files.tree import LOADER, parse
from bridge.values.errors import UsageError

KEY = "curve"
AFTER = ("mapping", "inputs", "middle_c")
"""Keys that the line stands behind where the file has none yet."""

Points = Sequence[tuple[float, float]]


def curve_line(points: Points) -> str:
    """The curve as it stands in a file: `curve: [[34, 0.2], [105, 0.9]]`."""
    return f"{KEY}: {_listed(points)}"


def with_curve(text: str, points: Points, note: str = "") -> str:
    """The text of a mapping file with this curve at its top, for every rule that names none.

    Args:
        note: a comment behind it where the line is new; an old line keeps its own.

    Raises:
        UsageError: the file is written in a way that we would spoil; says what to do by hand.
    """
    try:
        root = yaml.compose(text, Loader=LOADER)
    except yaml.YAMLError:
        root = None
    if not isinstance(root, yaml.MappingNode) or root.flow_style or not root.value:
        raise _by_hand(points)
    lines = text.split("\n")
    ends = {str(key.value): (key, value) for key, value in root.value}
    if KEY in ends:
        key, value = ends[KEY]
        begin, end = _at(key.end_mark), _end(value)
        between = _cut(lines, begin, _at(value.start_mark))
        new = f"{between}{_listed(points)}"
        if "\n" in between:
            # A list below its key moves up behind it, and a comment that stood there behind the list.
            said = between.split("\n")[0].strip(": \r")
            new = f": {_listed(points)}" + (f"   {said}" if said else "")
        lines = _replaced(lines, begin, end, new)
    else:
        found = [ends[name] for name in AFTER if name in ends]
        # Behind the last of them, else above the first key: header comments stay on top.
        row = max(_end(value)[0] for _, value in found) + 1 if found else root.value[0][0].start_mark.line
        indent = " " * root.value[0][0].start_mark.column
        ending = "\r" if lines[0].endswith("\r") else ""
        lines.insert(row, f"{indent}{curve_line(points)}" + (f"   # {note}" if note else "") + ending)
    out = "\n".join(lines)
    if not _only_curve(text, out, points):
        raise _by_hand(points)
    return out


def own_curves(text: str) -> list[int]:
    """Lines of the rules and shapes that name a curve of their own, which the one at the top leaves alone."""
    top = parse(text, Report(""))
    if top is None:
        return []
    chords = top.get("chords")
    shapes = chords.get("shapes") if isinstance(chords, Table) else None
    entries = [
        entry for section in (top.get("keys"), shapes) if isinstance(section, Listing) for entry in section
    ]
    return [entry.line for entry in entries if isinstance(entry, Table) and KEY in entry]


def _listed(points: Points) -> str:
    return "[" + ", ".join(f"[{velocity:g}, {level:g}]" for velocity, level in points) + "]"


def _by_hand(points: Points) -> UsageError:
    return UsageError(
        "this file is written in a way that cannot be changed safely; "
        f"put the line `{curve_line(points)}` into it yourself"
    )


Spot = tuple[int, int]
"""Line and column, from 0."""


def _at(mark: yaml.Mark) -> Spot:
    return mark.line, mark.column


def _end(node: yaml.Node) -> Spot:
    """Where a node ends; a block list ends with its last entry, not where the next token begins."""
    if isinstance(node, yaml.SequenceNode | yaml.MappingNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end(last[1] if isinstance(node, yaml.MappingNode) else last)
    return _at(node.end_mark)


def _cut(lines: list[str], begin: Spot, end: Spot) -> str:
    """The text between two places."""
    if begin[0] == end[0]:
        return lines[begin[0]][begin[1] : end[1]]
    middle = lines[begin[0] + 1 : end[0]]
    return "\n".join([lines[begin[0]][begin[1] :], *middle, lines[end[0]][: end[1]]])


def _replaced(lines: list[str], begin: Spot, end: Spot, new: str) -> list[str]:
    """The lines with what is between two places replaced."""
    head, tail = lines[begin[0]][: begin[1]], lines[end[0]][end[1] :]
    return [*lines[: begin[0]], head + new + tail, *lines[end[0] + 1 :]]


def _only_curve(old: str, new: str, points: Points) -> bool:
    """True if the new text says what the old one said, and the curve."""
    before, after = parse(old, Report("")), parse(new, Report(""))
    if before is None or after is None:
        return False
    wanted = {**plain(before), KEY: [list(point) for point in points]}
    same: bool = plain(after) == wanted
    return same
