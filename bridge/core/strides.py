"""Knows: the moments of what comes again every so many beats: on the beat's grid where something rules it.

Must never know: what comes, what rules the beat, lamps.
"""

from __future__ import annotations

from math import ceil

from bridge.core.beats import Beats

LEAST = 0.01
"""Seconds from one to the next at least."""

SAME = 1e-6
"""Share of a step by which a place may miss the grid and is still on it."""

LEAPT = 0.01
"""Beats by which the beat must have passed a place at once for that place to be left out."""


class Strides:
    """One moment after the other, the first at once.

    Where nothing rules the beat each comes a step after the one before, at the tempo of that moment. Where a
    clock, a hand or the music does, they come where the beat is a whole number of steps: the second one on
    the next such place that is at least half a step after the first.

    Args:
        at: seconds of the first.
    """

    __slots__ = ("_beat", "at")

    def __init__(self, at: float) -> None:
        self.at = at
        """Seconds of the next, as far as is known now: on the grid the tempo may still move it."""
        self._beat: float | None = None

    def due(self, beats: Beats, t: float, step: float) -> float | None:
        """The next moment if it is at `t` seconds or before, and go on from it; else None.

        It must be asked before every change of the beat, so that what is due is due by the old one.

        Args:
            step: beats from one to the next, more than 0.
        """
        if self._beat is not None:
            self.at = self._place(beats, step)
        if self.at > t:
            return None
        moment = self.at
        seconds = step * 60.0 / beats.tempo
        if beats.ruled(moment):
            step *= max(1, ceil(LEAST / seconds))
            self._beat = ceil(beats.at(moment) / step + 0.5 - SAME) * step
            self.at = beats.when(self._beat)
        else:
            self._beat, self.at = None, moment + max(LEAST, seconds)
        return moment

    def _place(self, beats: Beats, step: float) -> float:
        """When the beat will be at its next place; one that a leap of the beat has passed is left out."""
        assert self._beat is not None
        if self._beat < beats.begun - LEAPT:
            self._beat = ceil(beats.begun / step - SAME) * step
        return beats.when(self._beat)
