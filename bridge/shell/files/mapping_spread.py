"""Knows: how notes and lamps are dealt out to each other.

Must never know: files, velocities, or what a note does to a lamp.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.values.rig import Lamps


@dataclass(frozen=True, slots=True)
class Dealt:
    """Notes, the lamps of each, and what was left over on either side."""

    notes: tuple[int, ...]
    lamps: tuple[Lamps, ...]
    notes_left: tuple[int, ...] = ()
    lamps_left: Lamps = ()


def deal(
    notes: tuple[int, ...], lamps: Lamps, spread: str | None, at: Sequence[tuple[float, float]]
) -> Dealt:
    """Give lamps to notes.

    Args:
        notes, lamps: in the order of the file.
        spread: each (first note, first lamp), wrap (the same, beginning again when the lamps run out), across
            (each, the lamps from left to right, and upwards where one hangs above another), together (every
            note all lamps), or None: each for several notes and several lamps, else together.
        at: metres of every lamp of the rig, x to the right and y up.
    """
    if spread is None:
        spread = "each" if len(notes) > 1 and len(lamps) > 1 else "together"
    if spread == "together":
        return Dealt(notes, (lamps,) * len(notes))
    if spread == "across":
        lamps = tuple(sorted(lamps, key=lambda lamp: at[lamp]))
    if spread == "wrap" and lamps:
        count = len(notes)
        return Dealt(notes, tuple((lamps[i % len(lamps)],) for i in range(count)), (), lamps[count:])
    both = min(len(notes), len(lamps))
    return Dealt(notes[:both], tuple((lamp,) for lamp in lamps[:both]), notes[both:], lamps[both:])
