"""Knows: how frames of a rig become pictures at a rate of their own, no flash lost on the way.

Must never know: how a picture is drawn or stored.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np

from bridge.shell.draw_rig import Floats, lamp_levels
from bridge.values.frame import Frame
from bridge.values.rig import Rig

HAIR = Fraction(1, 1000)
"""Share of a picture's time by which a frame may be early, since times from arithmetic are."""


class Paced:
    """Joins the frames between two pictures by maximum, so that a short flash stays visible.

    Args:
        rig: whose frames come.
        rate: pictures a second.
        show: is handed the levels of the lamps (N of them, 0..1) and for how many pictures they stand.
    """

    def __init__(self, rig: Rig, rate: Fraction, show: Callable[[Floats, int], None]) -> None:
        self._rig, self._rate, self._show = rig, rate, show
        self._tick = -1
        self._levels: Floats = np.zeros(len(rig.lamps))

    def add(self, frame: Frame) -> None:
        """One frame of the rig, not before the last one; the first is the beginning."""
        tick = int(Fraction(frame.t).limit_denominator(1_000_000) * self._rate + HAIR)
        levels = lamp_levels(self._rig, frame)
        if tick == self._tick:
            np.maximum(self._levels, levels, out=self._levels)
            return
        if self._tick >= 0:
            self._show(self._levels, tick - self._tick)
        self._tick, self._levels = tick, levels

    def end(self) -> None:
        """Show what is still waiting for one picture; darkness where no frame came at all."""
        self._show(self._levels, 1)
