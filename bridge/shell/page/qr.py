"""Knows: how a link becomes a square that a tablet's camera reads off the terminal.

Must never know: where the link leads.
"""

from __future__ import annotations

import segno

QUIET = 4
"""Empty modules around the code (ISO/IEC 18004 asks for four)."""


def qr_lines(text: str) -> list[str]:
    """The text as a QR code: lines of half blocks, light on dark, two rows of modules to a line."""
    code = segno.make(text, error="l", micro=False)
    rows = [[not dark for dark in row] for row in code.matrix_iter(border=QUIET)]
    if len(rows) % 2:
        rows.append([False] * len(rows[0]))
    marks = {(True, True): "█", (True, False): "▀", (False, True): "▄", (False, False): " "}
    return [
        "".join(marks[upper, lower] for upper, lower in zip(above, below, strict=True))
        for above, below in zip(rows[::2], rows[1::2], strict=True)
    ]
