"""Knows: a frame, the bytes of every universe at one moment, checked once when made.

Must never know: why a slot has its value, or any wire.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

SLOTS = 512
"""Slots a universe has after its START code (ANSI E1.11)."""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """One picture of the rig.

    Args:
        t: seconds since the show began.
        universes: universe numbers in ascending order, one per row of `slots`.
        slots: uint8 array of shape (len(universes), 512); column 0 is slot 1. Made read-only here.

    Raises:
        ValueError: the array has another shape or type (our own mistake, never the player's).
    """

    t: float
    universes: tuple[int, ...]
    slots: npt.NDArray[np.uint8]

    def __post_init__(self) -> None:
        if self.slots.dtype != np.uint8 or self.slots.shape != (len(self.universes), SLOTS):
            raise ValueError(
                f"a frame of {len(self.universes)} universes got {self.slots.dtype} {self.slots.shape}"
            )
        self.slots.flags.writeable = False

    def universe(self, number: int) -> bytes:
        """The 512 bytes of a universe; all zero for one the rig does not have."""
        if number not in self.universes:
            return bytes(SLOTS)
        row: bytes = self.slots[self.universes.index(number)].tobytes()
        return row

    def slot(self, universe: int, slot: int) -> int:
        """The value 0..255 of a slot 1..512."""
        return self.universe(universe)[slot - 1]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Frame):
            return NotImplemented
        return (
            self.t == other.t
            and self.universes == other.universes
            and bool(np.array_equal(self.slots, other.slots))
        )

    def __hash__(self) -> int:
        return hash((self.t, self.universes))
