"""Knows: which take is being shown while a show goes on, and which takes there are to show.

Must never know: how takes are stored, or who asked.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bridge.shell.feeds import Feed, restamped
from bridge.shell.takes.feeds import PictureFeed
from bridge.shell.takes.reader import Take
from bridge.values.errors import BridgeError
from bridge.values.events import Event, NoteOn, Picture

MOST = 50
"""Takes told of; the newest."""


@dataclass(frozen=True, slots=True)
class Known:
    """A take that can be shown: its number, name, length in seconds and count of notes."""

    number: int
    name: str
    seconds: float
    notes: int


class Replaying:
    """A feed that shows a take when asked. Opening is done aside, so that no frame waits for it.

    Args:
        folder: where takes are. universes: those of the rig; other takes are not shown.
    """

    def __init__(self, folder: Path, universes: tuple[int, ...]) -> None:
        self._folder, self._universes = folder, universes
        self.known: tuple[Known, ...] = ()
        self.loop = False
        self.showing = ""
        """Name of the take that is shown; empty for none."""
        self.trouble = ""
        self._feed: Feed | None = None
        self._ready: tuple[str, PictureFeed] | None = None
        self._begun = 0.0
        self._out: list[Event] = []

    def look(self) -> None:
        """See which takes there are; returns at once."""
        threading.Thread(target=self._look, name="takes", daemon=True).start()

    def _look(self) -> None:
        found = []
        try:
            paths = sorted(self._folder.glob("*.take"), key=lambda path: path.stat().st_mtime)
        except OSError:
            return
        for number, path in enumerate(paths[-MOST:], 1):
            try:
                with Take.open(path) as take:
                    if take.header.universes == self._universes:
                        notes = sum(isinstance(event, NoteOn) for _, _, event in take.events())
                        found.append(Known(number, path.name, round(take.ends, 1), notes))
            except BridgeError:
                continue
        self.known = tuple(found)

    def start(self, number: str) -> None:
        """Show a take by its number, as soon as it is open."""
        name = next((take.name for take in self.known if str(take.number) == number), "")
        if name:
            loop = self.loop
            threading.Thread(target=self._open, args=(name, loop), name="replay", daemon=True).start()

    def _open(self, name: str, loop: bool) -> None:
        try:
            with Take.open(self._folder / name) as take:
                self._ready = (name, PictureFeed(take, loop=loop))
                self.trouble = ""
        except BridgeError as error:
            self.trouble = f"{name}: {error}"

    def stop(self, t: float) -> None:
        """End the showing."""
        if self._feed is not None:
            self._out.append(Picture(t, (), b""))
        self._feed, self.showing = None, ""

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        ready, self._ready = self._ready, None
        if ready is not None and math.isfinite(until):
            self.showing, self._feed = ready
            self._begun = until
        out, self._out = self._out, []
        feed = self._feed
        if feed is not None:
            out += [restamped(event, event.stamp + self._begun) for event in feed.take(until - self._begun)]
            if getattr(feed, "done", False):
                self._feed, self.showing = None, ""
        return out
