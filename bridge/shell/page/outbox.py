"""Knows: how wishes leave for the show without anyone waiting for it, and what goes when there are too many.

Must never know: what a wish means, or who made it.
"""

from __future__ import annotations

import threading
from collections import deque

from bridge.shell.page.wishes import Send, Wish, must_keep

MOST = 500
"""Wishes that wait for a show that does not take them; then strikes are dropped, and only they."""

MOST_KEPT = 5000
"""Waiting wishes of any kind: a show that leaves so many is gone."""


class Outbox:
    """A bounded queue with a thread of its own that calls `send`, which may block.

    Attributes:
        dropped: wishes that found no room.
    """

    def __init__(self, send: Send) -> None:
        self._send = send
        self._waiting: deque[Wish] = deque()
        self._some = threading.Condition()
        self._open = True
        self.dropped = 0
        self._thread = threading.Thread(target=self._work, name="page wishes", daemon=True)
        self._thread.start()

    def put(self, wish: Wish) -> bool:
        """Hand a wish over; False if it was dropped."""
        with self._some:
            room = MOST_KEPT if must_keep(wish) else MOST
            if not self._open or len(self._waiting) >= room:
                self.dropped += 1
                return False
            self._waiting.append(wish)
            self._some.notify()
            return True

    def _work(self) -> None:
        while True:
            with self._some:
                while self._open and not self._waiting:
                    self._some.wait()
                if not self._waiting:
                    return
                wish = self._waiting.popleft()
            try:
                self._send(wish)
            except (OSError, EOFError, ValueError):
                # The show is gone; the house is about to follow.
                with self._some:
                    self._open = False
                    self._waiting.clear()
                return

    def close(self) -> None:
        """Send what waits, for a second at most, and end."""
        with self._some:
            self._open = False
            self._some.notify()
        self._thread.join(1.0)
