"""Knows: the tempo that a hand taps, and where its beat is.

Must never know: keys, ports, lamps.
"""

from __future__ import annotations

from statistics import median

KEPT = 8
"""Taps that count."""

PAUSE = 2.5
"""Seconds after which a tap begins anew."""

SLOWEST, FASTEST = 20.0, 400.0
"""Beats a minute that a hand can mean."""

STRAY = 0.35
"""Share by which a tap may be off before it begins anew: the hand means another tempo."""


class Taps:
    """Taps on a key; the second one gives a tempo, later ones make it sure."""

    def __init__(self) -> None:
        self._taps: list[float] = []

    def tap(self, t: float) -> float | None:
        """A tap at `t` seconds; beats a minute, None after the first of a row.

        The tap itself is on the beat.
        """
        if self._taps:
            gap = t - self._taps[-1]
            if 0.0 <= gap <= 60.0 / FASTEST:
                # The same tap twice: a pad that bounces.
                return None
            if gap < 0.0 or gap > PAUSE:
                self._taps = []
            elif len(self._taps) > 1:
                usual = median(self._gaps())
                if abs(gap - usual) > STRAY * usual:
                    # Two taps at a new pace are enough: the last one is their first.
                    self._taps = self._taps[-1:]
        self._taps = [*self._taps, t][-KEPT:]
        if len(self._taps) < 2:
            return None
        gaps = self._gaps()
        return min(FASTEST, max(SLOWEST, 60.0 * len(gaps) / sum(gaps)))

    def _gaps(self) -> list[float]:
        return [b - a for a, b in zip(self._taps, self._taps[1:], strict=False)]
