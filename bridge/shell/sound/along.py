"""Knows: how lamps hear the song that is played: its readings come as a feed in the song's own seconds.

Must never know: how songs sound, or when one begins.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence

from bridge.shell.feeds import Feed
from bridge.shell.sound.feed import SoundFeed
from bridge.shell.sound.order import Listening
from bridge.values.events import Event
from bridge.values.sound import Hearing


class Both:
    """Two feeds as one, in order of stamp, then the first before the second."""

    def __init__(self, first: Feed, second: Feed) -> None:
        self._first, self._second = first, second

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        found = [*self._first.take(until), *self._second.take(until)]
        found.sort(key=lambda event: event.stamp)
        return found


class Along:
    """Hears the songs of an evening, one after the other, in one process.

    Args:
        now: monotonic seconds.
    """

    def __init__(self, now: Callable[[], float]) -> None:
        self.ears = SoundFeed(None, now)
        self._fresh = ""

    def prepare(self, path: str | os.PathLike[str], hearing: Hearing) -> None:
        """Begin with a song before it plays, so that its first second is heard in time. Returns at once.

        Call it as soon as a song is chosen; called again before it plays, it changes nothing.
        """
        if self._fresh != os.fspath(path):
            self._fresh = os.fspath(path)
            self.ears.listen(Listening(self._fresh, hearing=hearing))

    def feed(
        self, path: str | os.PathLike[str], hearing: Hearing, other: Callable[[], Feed] | None = None
    ) -> Callable[[], Feed]:
        """What makes the feed of a song each time it begins: its readings, and what `other` makes beside."""

        def make() -> Feed:
            self.prepare(path, hearing)
            self._fresh = ""
            return self.ears if other is None else Both(other(), self.ears)

        return make

    def close(self) -> None:
        """End the process; safe to call twice."""
        self.ears.close()
