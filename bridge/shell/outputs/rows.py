"""Knows: which rows of a frame an output sends, worked out once for each set of universes a frame may have.

Must never know: any wire, or what numbers the universes go out under.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bridge.values.frame import SLOTS, Frame


class Rows:
    """Picks rows out of frames.

    Args:
        sends: universes of the rig, in the order of the rows wanted.
    """

    def __init__(self, sends: Sequence[int]) -> None:
        self._sends = tuple(sends)
        self._known: tuple[int, ...] | None = None
        self._slice: slice | None = None
        self._mine: list[int] = []
        self._theirs: list[int] = []

    def of(self, frame: Frame) -> npt.NDArray[np.uint8]:
        """Slots of shape (universes sent, 512): the frame's own array where that will do, and not to be kept.

        A universe the frame does not have is dark.
        """
        if frame.universes != self._known:
            self._learn(frame.universes)
        if self._slice is not None:
            return frame.slots[self._slice]
        out = np.zeros((len(self._sends), SLOTS), np.uint8)
        out[self._mine] = frame.slots[self._theirs]
        return out

    def _learn(self, universes: tuple[int, ...]) -> None:
        self._known = universes
        place = {universe: row for row, universe in enumerate(universes)}
        found = [place.get(universe, -1) for universe in self._sends]
        first = found[0] if found else 0
        together = first >= 0 and found == list(range(first, first + len(found)))
        self._slice = slice(first, first + len(found)) if together else None
        self._mine = [row for row, there in enumerate(found) if there >= 0]
        self._theirs = [there for there in found if there >= 0]
