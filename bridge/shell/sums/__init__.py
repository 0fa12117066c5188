"""What `check` works out of a rig: loads, copper, addresses, rates; each figure with its formula and numbers.

Other folders take what is named here; the rest may change.
"""

from __future__ import annotations

import textwrap

from bridge.shell.sums.addresses import address_lines, ranges, rate_lines
from bridge.shell.sums.loads import (
    Load,
    decoder_lines,
    decoder_loads,
    fuse_short,
    hanging,
    supply_lines,
    supply_loads,
)
from bridge.shell.sums.wires import CableRow, cable_lines, cable_rows, led_lines, line_lines
from bridge.values.rig import Rig

WIDE = 100
"""Letters in a line."""

SECTIONS = (
    ("Supplies", supply_lines),
    ("Decoders", decoder_lines),
    ("Cables, copper at 20 degC", cable_lines),
    ("LED resistors", led_lines),
    ("DMX line", line_lines),
    ("Address plan", address_lines),
    ("Refresh rate", rate_lines),
)


def sum_lines(rig: Rig) -> list[str]:
    """All there is to work out of a rig, as lines for a terminal; sections with nothing are left out."""
    out: list[str] = []
    for title, lines_of in SECTIONS:
        lines = lines_of(rig)
        if lines:
            out += ["", title]
            for line in lines:
                out += _wrapped(line)
    out += ["", "These sums are a planning aid: the local code and the data sheets decide."]
    return out


def _wrapped(line: str) -> list[str]:
    indent = "  " + line[: len(line) - len(line.lstrip())]
    return textwrap.wrap(
        line.strip(), WIDE, initial_indent=indent, subsequent_indent=indent + "    ", break_on_hyphens=False
    )


__all__ = [
    "SECTIONS",
    "CableRow",
    "Load",
    "cable_rows",
    "decoder_loads",
    "fuse_short",
    "hanging",
    "ranges",
    "sum_lines",
    "supply_loads",
]
