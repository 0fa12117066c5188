"""Knows: what was seen when lamps were lit one by one, and what may be wrong with the wires; all frozen.

Must never know: how a fault is found, said or mended.
"""

from __future__ import annotations

from collections.abc import Mapping as ReadOnly
from dataclasses import dataclass, field

from bridge.values.rig import Lamps

Slot = tuple[int, int]
"""Universe and slot."""

Seen = ReadOnly[int, Lamps]
"""The lamp whose slot was driven (the first of those that share it) -> the lamps that lit; none: dark."""


@dataclass(frozen=True, slots=True)
class Order:
    """A way in which the slots of some lamps may run.

    Args:
        of: the grid's name.
        lamps: all of them, that of the lowest slot first.
        order, corner: in the words of a rig file; or row, column and its number, where one is turned round.
    """

    of: str
    lamps: Lamps
    order: str
    corner: str


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, or seems to be.

    Args:
        kind: swapped, crossed: two lamps, or more in a circle, hang on one another's slots.
            shifted: all of `where` answer `by` slots higher (or in another universe: see `slots`).
            order: the slots of a grid run otherwise. reversed: those of a row or column do.
            moved: one lamp hangs on another slot. doubled: several hang on one.
            bridged: a lamp answers on two slots. dead: a lamp stays dark. dark: all of `where` do.
            odd: nothing that we know explains it.
        lamps: what it is about, in the order of `slots`.
        where: name of the decoder, grid, entry or universe. what: which of these words it is.
        slots: where each of `lamps` answers, as far as it was seen.
    """

    kind: str
    lamps: Lamps
    slots: tuple[Slot, ...] = ()
    where: str = ""
    what: str = ""
    by: int = 0
    order: str = ""
    corner: str = ""


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What is wrong, and how the lamps hang in truth.

    Args:
        faults: the farthest reaching first.
        hangs: the slot of every lamp, as far as it is known; what the file should say.
        starts: decoder -> start address, for those that answer elsewhere.
        lost: lamps whose slot is another's by now, and whose own nobody saw: nothing can be written down.
        guessed: the one lamp nobody saw, on the one slot that is left.
    """

    faults: tuple[Fault, ...] = ()
    hangs: ReadOnly[int, Slot] = field(default_factory=dict)
    starts: ReadOnly[str, Slot] = field(default_factory=dict)
    lost: Lamps = ()
    guessed: Lamps = ()
