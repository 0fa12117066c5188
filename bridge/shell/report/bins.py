"""Knows: how times are counted in fixed bins, and which share of them was at most how long.

Must never know: what took that long.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import Final

# Hundredths of a decade: bins of 5 % at its beginning, 2.5 % at its end, so that quantiles are right to 5 %
# and every edge that a chart may want (1, 2, 5 and their whole multiples) is an edge here.
_STEPS = (*range(100, 200, 5), *range(200, 500, 10), *range(500, 1000, 25))

EDGES: Final[tuple[float, ...]] = (
    *(step * 100 * 10**decade / 1e9 for decade in range(8) for step in _STEPS),
    1000.0,
)
"""Seconds: the upper edges of the bins, 10 microseconds to 1000 s; what is longer has a bin of its own."""


class Bins:
    """Counts times in bounded memory, however many there are."""

    __slots__ = ("_bins", "count", "worst")

    def __init__(self) -> None:
        self.count = 0
        self.worst = 0.0
        self._bins = [0] * (len(EDGES) + 1)

    def add(self, seconds: float) -> None:
        """One time, in seconds; what is below 0 counts as none at all."""
        self._bins[bisect_left(EDGES, seconds)] += 1
        self.count += 1
        if seconds > self.worst:
            self.worst = seconds

    def quantile(self, share: float) -> float:
        """Seconds that `share` (0..1) of the times were at most; up to 5 % too long, never over the worst."""
        wanted, seen = share * self.count, 0
        for edge, count in zip(EDGES, self._bins, strict=False):
            seen += count
            if count and seen >= wanted:
                return min(edge, self.worst)
        return self.worst

    def between(self, edges: Sequence[float]) -> list[int]:
        """How many were at most the first edge, at most the second, …, longer than the last.

        Args:
            edges: rising, in seconds, each one of EDGES.

        Raises:
            ValueError: one that is not: its bin cannot be cut in two (our own mistake, never the player's).
        """
        out, at = [], 0
        for edge in edges:
            upto = bisect_left(EDGES, edge) + 1
            if upto > len(EDGES) or EDGES[upto - 1] != edge:
                raise ValueError(f"{edge} is no edge of a bin")
            out.append(sum(self._bins[at:upto]))
            at = upto
        return [*out, sum(self._bins[at:])]
