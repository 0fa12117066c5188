"""Knows: how to squeeze frames of any number into a bounded number, by maximum.

Must never know: what the values mean or how they are drawn.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]
Times = npt.NDArray[np.float64]


class Peaks:
    """Frames folded into at most `2 x width` bins by maximum, so that a short flash stays visible.

    When the bins run out, neighbours are joined and each then holds twice as many frames: an hour
    takes the memory of a minute.

    Args:
        columns: values in a frame.
        width: bins that must at least remain.
    """

    def __init__(self, columns: int, width: int) -> None:
        self._bins: Bytes = np.zeros((2 * width, columns), dtype=np.uint8)
        self._starts: Times = np.zeros(2 * width)
        self._used = self._in_bin = 0
        self._per_bin = 1
        self._last = 0.0
        self.end = 0.0
        """Seconds at which the last frame would give way to a next one."""

    def add(self, t: float, values: Bytes) -> None:
        """One frame at `t` seconds, not before the last one: values 0..255, one per column."""
        if self._in_bin == 0:
            if self._used == len(self._bins):
                self._fold()
            self._starts[self._used] = t
            self._bins[self._used] = values
            self._used += 1
        else:
            np.maximum(self._bins[self._used - 1], values, out=self._bins[self._used - 1])
        self._in_bin = (self._in_bin + 1) % self._per_bin
        self.end = t + (t - self._last if self._used > 1 else 0.0)
        self._last = t

    def _fold(self) -> None:
        half = self._used // 2
        self._bins[:half] = np.maximum(self._bins[0::2], self._bins[1::2])
        self._starts[:half] = self._starts[0::2]
        self._used, self._per_bin = half, self._per_bin * 2

    def read(self) -> tuple[Times, Bytes]:
        """The seconds at which the bins begin, and the bins, one a row."""
        return self._starts[: self._used], self._bins[: self._used]


def resample(starts: Times, rows: Bytes, end: float, width: int) -> Bytes:
    """`rows` (frames, columns), each held until the next begins, as `width` steps of equal length.

    A step shows the maximum of every frame that stands in it.
    """
    edges = np.linspace(float(starts[0]), end, width + 1)
    # A hair's breadth each way keeps a frame that only touches a step's edge out of it.
    hair = (end - float(starts[0])) / width * 1e-6
    first = np.maximum(np.searchsorted(starts, edges[:-1] + hair, side="right") - 1, 0)
    last = np.maximum(np.searchsorted(starts, edges[1:] - hair, side="left") - 1, first)
    out: Bytes = np.array(rows[first])
    for step in range(1, int((last - first).max()) + 1):
        np.maximum(out, rows[np.minimum(first + step, last)], out=out)
    return out
