"""Knows: how events from any thread wait, in a room of limited size, until the loop's time reaches them.

Must never know: what an event means, beyond whether it may be lost.
"""

from __future__ import annotations

import heapq
import threading
from itertools import count

from bridge.shell.clock import Wake
from bridge.values.events import Event, must_keep

ROOM = 4096
"""Events that may be lost, waiting at a time: 4 s of a full MIDI wire (31,250 baud, 3 bytes of 10 bits)."""


class Inbox:
    """A bounded, thread-safe waiting room, ordered by stamp, then arrival.

    When full, an event that may be lost is lost and counted. One that must be kept comes in over the limit:
    without it a lamp could stay lit, and it takes a person or a cable to make one.

    Args:
        room: how many events that may be lost can wait, 1 or more.
        wake: rung for every event that comes in.

    Raises:
        ValueError: `room` is below 1.
    """

    def __init__(self, room: int = ROOM, wake: Wake | None = None) -> None:
        if room < 1:
            raise ValueError(f"an inbox needs room for at least one event, not {room}")
        self._room = room
        self._wake = wake
        self._lock = threading.Lock()
        self._arrival = count()
        self._heap: list[tuple[float, int, Event]] = []
        self._losable = 0
        self._dropped = 0

    def put(self, event: Event) -> bool:
        """Let an event in, from any thread; returns at once.

        Returns:
            False if it was dropped.
        """
        kept = must_keep(event)
        with self._lock:
            if not kept:
                if self._losable >= self._room:
                    self._dropped += 1
                    return False
                self._losable += 1
            # The number of arrival settles equal stamps, so that two events are never compared.
            heapq.heappush(self._heap, (event.stamp, next(self._arrival), event))
        if self._wake is not None:
            self._wake.ring()
        return True

    def take_until(self, t: float) -> list[Event]:
        """Hand out what is stamped at or before `t` (seconds of show time), by stamp, then arrival."""
        out: list[Event] = []
        with self._lock:
            heap = self._heap
            while heap and heap[0][0] <= t:
                event = heapq.heappop(heap)[2]
                self._losable -= not must_keep(event)
                out.append(event)
        return out

    def take(self, until: float) -> list[Event]:
        """As `take_until`, under the name by which the loop asks every feed."""
        return self.take_until(until)

    @property
    def dropped(self) -> int:
        """Events lost so far because the room was full."""
        return self._dropped

    def __len__(self) -> int:
        """Events waiting now."""
        return len(self._heap)
