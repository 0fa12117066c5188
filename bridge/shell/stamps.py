"""Knows: when a message really came, from a driver's deltas and the moments at which we asked for it.

Must never know: clocks, ports, or what the message says.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

LONGEST = 86400.0
"""Seconds; a delta beyond a day, below zero or no number is a driver's mistake: the message came now."""


class Stamps:
    """The arrival times of one port's messages.

    The driver says how long after the one before it each message came, measured as it came in: exact, but
    without a beginning, and some drivers count wrongly, start over, or run a little fast or slow. We know
    certainly that a message came after the last time the port was found empty and before we held it. So the
    sum of the deltas is laid into our time with an offset, and the offset moves whenever a stamp would leave
    those bounds. Each message read without delay pulls the offset towards the truth, no clock can drift away
    by more than one pause between two polls, and a driver that lies costs no more than that either.
    """

    __slots__ = ("_driver", "_last", "_offset")

    def __init__(self) -> None:
        self._driver = 0.0
        self._offset: float | None = None
        self._last = -math.inf

    def place(self, deltas: Sequence[float], empty_at: float, now: float) -> list[float]:
        """Stamp the messages that one poll found.

        Args:
            deltas: seconds from the port's message before to each, as the driver says; anything goes.
            empty_at: a time at which the port had none of them yet, seconds.
            now: a time at which all of them had come, seconds.

        Returns:
            As many stamps, never falling, never after `now`, nor before `empty_at` if that is before `now`.
        """
        known = [0.0 <= delta <= LONGEST for delta in deltas]
        if deltas and self._offset is None:
            known[0] = False  # a port's first message has none before it
        end = self._driver + math.fsum(delta for delta, fits in zip(deltas, known, strict=True) if fits)
        # The newest is not after now, which bounds the older ones of the same poll too.
        latest = now - end
        offset = latest if self._offset is None else min(self._offset, latest)
        stamps = []
        for delta, fits in zip(deltas, known, strict=True):
            if fits:
                self._driver += delta
            else:
                offset = latest
            stamp = min(max(offset + self._driver, self._last, empty_at), now)
            offset = stamp - self._driver
            self._last = stamp
            stamps.append(stamp)
        if stamps:
            self._offset = offset
        return stamps
