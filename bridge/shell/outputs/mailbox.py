"""Knows: the newest frame and its number, one writer, one reader; a newer frame replaces an older one.

Must never know: what the reader does with a frame, or when one is due.
"""

from __future__ import annotations

import threading
import time

from bridge.values.frame import Frame

WATCHED = 0.0002
"""Seconds at the end of a wait that are watched: under one hundredth of a core at 40 frames a second."""


class Mailbox:
    """One slot with a counter.

    The reader compares counters, so a frame that comes while another is being sent is never lost unseen
    (a "changed" flag would be cleared over it). A lock stands in for a bell: letting it go rings, and that
    never waits, whereas entering a condition may wait for its other side to be scheduled.
    """

    def __init__(self) -> None:
        self._slot: tuple[int, Frame | None, bool, float] = (0, None, False, 0.0)
        self._bell = threading.Lock()
        self._bell.acquire()

    @property
    def newest(self) -> tuple[int, Frame | None, bool, float]:
        """How many frames were put so far, the last, whether it came between two steady ones, its moment.

        (0, None, False, 0.0) before the first.
        """
        return self._slot

    def put(self, frame: Frame, early: bool = False, due: float = 0.0) -> None:
        """Leave a frame for the reader. Never blocks."""
        self._slot = (self._slot[0] + 1, frame, early, due)
        self.ring()

    def ring(self) -> None:
        """Wake the reader, or let its next wait return at once. Never blocks."""
        try:  # noqa: SIM105 - contextlib.suppress would cost more than all the rest of put()
            self._bell.release()
        except RuntimeError:
            pass  # rung already, and not yet heard

    def wait(self, seconds: float | None) -> None:
        """Return when the bell rings, or after `seconds`; None waits for the bell alone.

        The last of it is watched and not slept through: a processor that idles takes its time to wake.
        """
        if seconds is None:
            self._bell.acquire()
            return
        end = time.perf_counter() + seconds
        if seconds > WATCHED and self._bell.acquire(timeout=seconds - WATCHED):
            return
        while not self._bell.acquire(blocking=False):
            if time.perf_counter() >= end:
                return
