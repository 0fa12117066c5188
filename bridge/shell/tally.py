"""Knows: what a show was like in numbers: frames, lateness, what was left out.

Must never know: why; who shows it.
"""

from __future__ import annotations

from bridge.values.beat import Beat

BINS_PER_MS = 20
TOP_MS = 100


class Tally:
    """Counts turns in bounded memory, however long the show: lateness in bins of 50 microseconds."""

    def __init__(self) -> None:
        self.frames = self.early = self.skipped = self.errors = 0
        self.worst = 0.0
        self._bins = [0] * (BINS_PER_MS * TOP_MS + 1)

    def add(self, beat: Beat) -> None:
        """One turn."""
        if beat.early:
            self.early += 1
            return
        self.frames += 1
        self.skipped += beat.skipped
        self.errors = beat.errors
        self.worst = max(self.worst, beat.late)
        self._bins[min(len(self._bins) - 1, max(0, int(beat.late * 1000 * BINS_PER_MS)))] += 1

    def late_ms(self, share: float) -> float:
        """Milliseconds by which `share` (0..1) of the turns were at most late."""
        wanted, seen = share * self.frames, 0
        for number, count in enumerate(self._bins):
            seen += count
            if count and seen >= wanted:
                return (number + 1) / BINS_PER_MS
        return 0.0

    def text(self) -> str:
        """One line for the end of a show."""
        left_out = f", {self.skipped} left out" if self.skipped else ", none left out"
        late = (
            f"late by {self.late_ms(0.5):.2f} ms (half of them at most), {self.late_ms(0.99):.2f} ms (99 %)"
        )
        trouble = f"; {self.errors} turns failed and kept the frame before" if self.errors else ""
        early = f" and {self.early} early ones" if self.early else ""
        latest = f"{self.worst * 1000:.2f} ms (the latest)"
        return f"{self.frames} frames{early}{left_out}; {late}, {latest}{trouble}"
