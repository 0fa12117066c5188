"""Knows: how many messages are too many, and how often anything was refused and why.

Must never know: what a message says.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable


class Allowance:
    """So many a second on average, and as many in one burst.

    Args:
        rate: messages a second.
        now: monotonic seconds.
    """

    def __init__(self, rate: float, now: Callable[[], float]) -> None:
        self._rate, self._now = rate, now
        self._left, self._at = rate, now()

    def spend(self) -> bool:
        """One more came; False if it is one too many."""
        now = self._now()
        self._left = min(self._rate, self._left + (now - self._at) * self._rate)
        self._at = now
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True


class Refused(Counter[str]):
    """How often something was refused, by reason.

    host, origin, token, method: at the door. crowd: too many browsers or sockets. slow: a socket that asked
    for nothing, or read nothing. message: no message of ours. size: too large. rate: too many. look: the page
    only looks. name: a lamp, look or take that is not there. busy: a strike the show had no room for.
    mistake: something failed on our side.
    """

    def all(self) -> int:
        """All together."""
        return sum(self.values())
