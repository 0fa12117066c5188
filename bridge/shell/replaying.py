"""Knows: which take is being shown while a show goes on, and which takes there are to show.

Must never know: how takes are stored, or who asked.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bridge.shell.feeds import restamped
from bridge.shell.takes.feeds import PictureFeed
from bridge.shell.takes.reader import HAIR, Take
from bridge.values.errors import BridgeError
from bridge.values.events import Event, NoteOn, Picture

MOST = 50
"""Takes told of; the newest."""

LOOKS, LOOK_SECONDS = 20, 0.25
"""A take that was just ended is looked at until its end is on the disk."""


@dataclass(frozen=True, slots=True)
class Known:
    """A take that can be shown: its number, name, length in seconds and count of notes.

    The number stays with the take while the show goes on, whatever else is recorded or removed.
    """

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
        """Start again at the end; may be changed while a take is shown."""
        self.showing = ""
        """Name of the take that is shown; empty for none."""
        self.trouble = ""
        self._looking, self._opening = threading.Lock(), threading.Lock()
        self._numbers: dict[str, int] = {}
        self._read: dict[str, tuple[tuple[int, int], Known | None]] = {}
        """Name -> (time and size of the file, what was found in it), so that no take is read twice."""
        self._feed: PictureFeed | None = None
        self._wanted = 0
        self._ready: tuple[int, str, float, PictureFeed] | None = None
        self._begun = self._length = 0.0
        """Of this time through: show time of its beginning, and seconds; `_since` is that of the first."""
        self._since = 0.0
        self._out: list[Event] = []

    def look(self) -> None:
        """See which takes there are; returns at once."""
        threading.Thread(target=self._look, name="takes", daemon=True).start()

    def _look(self) -> None:
        pause = threading.Event()
        with self._looking:
            for _ in range(LOOKS):
                if self._look_once():
                    return
                pause.wait(LOOK_SECONDS)

    def _look_once(self) -> bool:
        """Look through the folder; False if a take that is new has no end yet."""
        try:
            states = {path: path.stat() for path in self._folder.glob("*.take")}
        except OSError:
            return True
        found, ended = [], True
        for path in sorted(states, key=lambda path: states[path].st_mtime_ns)[-MOST:]:
            state = states[path].st_mtime_ns, states[path].st_size
            before, known = self._read.get(path.name, ((0, 0), None))
            if before != state:
                known, whole = self._read_take(path)
                ended &= whole
                self._read[path.name] = state, known
                if not whole:
                    # Read again while this look lasts, though the file's own size and time may not change.
                    self._read[path.name] = (0, state[1]), known
            if known is not None:
                found.append(known)
        self.known = tuple(found)
        return ended

    def _read_take(self, path: Path) -> tuple[Known | None, bool]:
        """What is known of a take, None where it cannot be shown; and whether its end is there."""
        number = self._numbers.setdefault(path.name, len(self._numbers) + 1)
        try:
            with Take.open(path) as take:
                if take.header.universes != self._universes:
                    return None, True
                notes = sum(isinstance(event, NoteOn) for _, _, event in take.events())
                return Known(number, path.name, round(take.ends, 1), notes), take.complete
        except BridgeError:
            return None, True

    def start(self, number: str) -> None:
        """Show a take by its number, as soon as it is open."""
        name = next((take.name for take in self.known if str(take.number) == number), "")
        if name:
            self._wanted += 1
            threading.Thread(target=self._open, args=(name, self._wanted), name="replay", daemon=True).start()

    def _open(self, name: str, wanted: int) -> None:
        try:
            with Take.open(self._folder / name) as take:
                # Made to go round for ever: whether it does is asked each time it comes to its end.
                ready, trouble = (wanted, name, take.ends, PictureFeed(take, loop=True)), ""
        except BridgeError as error:
            ready, trouble = None, f"{name}: {error}"
        with self._opening:
            # A take that was called off may open later than the one that was wanted instead.
            if wanted == self._wanted:
                self._ready, self.trouble = ready, trouble

    def stop(self, t: float) -> None:
        """End the showing, or one that is about to begin."""
        self._wanted += 1
        if self._feed is not None:
            self._out.append(Picture(t, (), b""))
        self._end()

    def position(self, t: float) -> float:
        """Seconds into the take at show time `t`; 0 while none is shown."""
        return max(0.0, t - self._begun) if self._feed is not None else 0.0

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        ready, self._ready = self._ready, None
        if ready is not None and ready[0] == self._wanted and math.isfinite(until):
            _, self.showing, self._length, self._feed = ready
            self._begun = self._since = until
        out, self._out = self._out, []
        if self._feed is None:
            return out
        try:
            if until >= self._begun + self._length and self.loop:
                self._begun += self._length * ((until - self._begun) // self._length)
            ends = self._begun + self._length
            last = min(until, ends - 2 * HAIR) - self._since
            out += [restamped(event, event.stamp + self._since) for event in self._feed.take(last)]
            if until >= ends:
                out.append(Picture(ends, (), b""))
                self._end()
        except BridgeError as error:
            # A row that is damaged: the showing ends, the show does not.
            self.trouble = f"{self.showing}: {error}"
            out.append(Picture(until, (), b""))
            self._end()
        return out

    def _end(self) -> None:
        self._feed, self.showing = None, ""
