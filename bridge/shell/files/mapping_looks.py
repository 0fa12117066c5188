"""Knows: how the section `looks` becomes levels of lamps.

Must never know: what calls a look, or how it fades.
"""

from __future__ import annotations

from bridge.shell.files.check import entries, take
from bridge.shell.files.lamp_names import LampNames
from bridge.shell.files.leaves import Number
from bridge.shell.files.name_leaves import unfit
from bridge.shell.files.nodes import Node, Table, describe
from bridge.shell.files.report import Report

Picture = tuple[tuple[int, float], ...]

NONE = "none"
"""The word for no look."""


def read_looks(top: Table, names: LampNames, report: Report) -> dict[str, Picture]:
    """The section `looks`: for each name (lamp, level 0..1) in the order of the rig."""
    looks: dict[str, Picture] = {}
    for name, node in entries(top, "looks", report):
        if name.raw == NONE:
            report.error(name, "a look called none", "call it something else: look: none means no look")
        looks[name.raw] = picture_of(node, names, report, "a look")
    return looks


def picture_of(node: Node, names: LampNames, report: Report, what: str) -> Picture:
    """The levels of lamps and groups written as a table; `what` they are of, as in `a look`."""
    if not isinstance(node, Table) or not node:
        found = "an empty table" if isinstance(node, Table) else describe(node)
        report.error(node, f"{what} holds {found}", "write {lamp or group: level}")
        return ()
    levels: dict[int, float] = {}
    for name, value in node.items():
        at = node.keys_at[name]
        level = take(Number(0.0, 1.0), value, f"{name}:", report)
        if reason := unfit(name, stars=True):
            report.error(at, *reason)
            continue
        lamps = names.resolve([at], report)
        # A later mention of a lamp wins.
        levels.update(dict.fromkeys(lamps, level or 0.0))
    return tuple(sorted(levels.items()))
