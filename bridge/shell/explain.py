"""Knows: the order in which a mapping is explained, and how its tables are laid out.

Must never know: how any part of it is found out.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from bridge.shell.explain_chords import chord_rows, never_drawn
from bridge.shell.explain_controls import control_rows
from bridge.shell.explain_keys import key_rows, shared_keys, shared_lamps, unreached
from bridge.shell.explain_moving import sound_rows, texture_rows
from bridge.shell.explain_words import LampWords
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

WIDTH = 118
"""Columns of the terminal that a table takes at most."""

WIDEST = 34
"""Columns of one cell; more goes to the line below."""


def explain(rig: Rig, mapping: Mapping) -> Iterator[str]:
    """What keys, pads, knobs, chords, textures and music drive; what none reaches; what several play.

    Yields: lines of text, ready to be shown.
    """
    words = LampWords(rig)
    if mapping.keys or mapping.texture_keys:
        yield f"\nKeys and pads ({mapping.middle_c}, middle C, is note 60)"
        yield from table(("key", "from", "lamps", "slots", "how", "line"), key_rows(mapping, words))
    if mapping.sets or mapping.does:
        yield "\nControls"
        yield from table(
            ("control", "from", "sets or does", "lamps and slots", "line"), control_rows(mapping, words)
        )
    if mapping.chords:
        yield f"\nChords (judged when the keys have been still for {mapping.window * 1000:g} ms)"
        yield from table(("chord", "from", "draws", "slots", "line"), chord_rows(mapping, words))
        yield from noted(never_drawn(mapping))
    if mapping.textures:
        yield "\nTextures"
        head = ("texture", "shows", "played by", "lamps", "slots", "line")
        yield from table(head, texture_rows(mapping, words))
    if mapping.sound:
        yield "\nSound"
        yield from table(("heard", "lights or does", "slots", "how", "line"), sound_rows(mapping, words))
    if mapping.keys or mapping.chords or mapping.textures or mapping.sound:
        yield "\nReach"
        yield from noted(unreached(rig, mapping, words))
    several = [*shared_keys(mapping), *shared_lamps(mapping, words)]
    if several:
        yield "\nPlayed by several rules"
        yield from noted(several)


def noted(lines: Iterable[str]) -> Iterator[str]:
    """Sentences as a list."""
    for line in lines:
        yield textwrap.fill(line, 100, initial_indent="  - ", subsequent_indent="    ")


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Cells in columns as wide as they must be; what is too long goes on in the line below."""
    cells = [[textwrap.wrap(cell, WIDEST) or [""] for cell in row] for row in (head, *rows)]
    wide = [max(len(line) for row in cells for line in row[column]) for column in range(len(head))]
    for row in cells:
        for down in range(max(len(cell) for cell in row)):
            line = "  ".join(
                (cell[down] if down < len(cell) else "").ljust(width)
                for cell, width in zip(row, wide, strict=True)
            )
            yield f"  {line}".rstrip()
