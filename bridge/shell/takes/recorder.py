"""Knows: how a show is recorded while it is played: the loop hands over and goes on, a thread writes.

Must never know: what a frame or an event means, or who started the recording.

A thread, not a process: `sqlite3` and `zlib` let go of the interpreter while they work, and handing a frame
to a thread is one append, where a process would cost the show a copy through a pipe for each frame.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from bridge.shell.takes.batch import Batcher
from bridge.shell.takes.store import TakeFile, reserve
from bridge.values.beat import Beat
from bridge.values.errors import DeviceError
from bridge.values.events import Event
from bridge.values.frame import SLOTS, Frame
from bridge.wire.take_header import TakeHeader

EVERY = 0.25
"""Seconds between commits; with the time a commit takes, no more than half a second is ever at risk."""

ROOM = 2400
"""Frames that wait while the disk stalls: a minute at 40 Hz, 1.2 MB a universe."""

LEAST_ROOM, MOST_BYTES = 100, 64_000_000
"""Large rigs get less room, in bytes, but never less than so many frames."""

EVENTS_ROOM = 10 * ROOM
"""Turns whose frame found no room, and whose events still do."""

LATE, LATE_WORD = 0.005, "late"
"""Lateness (seconds) from which a turn is remarked on, and the remark's kind; its data is milliseconds."""

LONGEST_CLOSE = 5.0
"""Seconds that `close` gives the disk."""


Handed = tuple[Beat, Frame | None, tuple[Event, ...]]


class Recorder:
    """A take in the making. `tap` is a tap of the loop.

    Making the file and every write happen in a thread of its own; when that fails, `failed` says why, what
    was committed stays, and the show goes on. Where the name is taken, the next free one is used (`path`).

    Args:
        path: where to; nothing that exists is ever written over.
        header: what the take says about itself.
        every: seconds between commits.
        room: frames that may wait for the disk; more are left out and counted.
        before: events that bring about what stands at the beginning (`Standing.events`), for a recording that
            begins in the middle of a show; their stamps become that of the first frame.
    """

    def __init__(
        self,
        path: str | Path,
        header: TakeHeader,
        every: float = EVERY,
        room: int = ROOM,
        before: Sequence[Event] = (),
    ) -> None:
        self.asked = Path(path)
        """The path that was asked for."""
        self.path = self.asked
        """The path of the file, once `ready`."""
        self.failed = ""
        """Why nothing more is written; empty while all is well."""
        self.dropped = 0
        """Frames that found no room."""
        self.written = 0
        """Turns that are safely in the file."""
        self._header, self._every = header, every
        self._room = min(room, max(LEAST_ROOM, MOST_BYTES // (SLOTS * max(1, len(header.universes)))))
        self._before = tuple(before)
        self._last_dropped = -1
        self._batcher = Batcher(header)
        self._queue: deque[Handed | Callable[[], None]] = deque()
        self._open = True
        self._stop, self._ready = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._work, name="take", daemon=True)
        self._thread.start()

    def tap(self, beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
        """Take a frame with the events it took; returns at once, whatever the disk does."""
        if not self._open:
            return
        if self._before:
            events, self._before = (*_at(self._before, frame.t), *events), ()
        waiting = len(self._queue)
        if waiting < self._room:
            self._queue.append((beat, frame, tuple(events)))
            return
        self.dropped += 1
        self._last_dropped = beat.number
        if events and waiting < self._room + EVENTS_ROOM:
            self._queue.append((beat, None, tuple(events)))

    def know(self, mapping: object, text: str) -> None:
        """Keep a mapping's text, before the event that brings the mapping into force is tapped."""
        if self._open:
            self._queue.append(partial(self._batcher.know, mapping, text))

    def remark(self, kind: str, data: Any = None, k: int | None = None) -> None:
        """Note what happened beside frame k (the newest, where none is given); `data` as JSON can say it."""
        if self._open and len(self._queue) < self._room:
            self._queue.append(partial(self._batcher.remark, kind, data, k))

    def ready(self, seconds: float = LONGEST_CLOSE) -> Path:
        """Wait until the file is there; its path.

        Raises:
            DeviceError: it cannot be made, or not in time.
        """
        if not self._ready.wait(seconds):
            raise DeviceError(
                f"the disk of {self.asked} did not answer within {seconds:g} s", "use another disk"
            )
        if self.failed:
            raise DeviceError(self.failed)
        return self.path

    @property
    def waiting(self) -> int:
        """Turns on their way to the disk."""
        return len(self._queue)

    def close(self) -> None:
        """Write what waits and the closing mark. Gives up after LONGEST_CLOSE seconds; safe to call twice."""
        self._open = False
        self._stop.set()
        self._thread.join(LONGEST_CLOSE)
        if self._thread.is_alive() and not self.failed:
            self.failed = (
                f"the disk of {self.path} did not answer within {LONGEST_CLOSE:g} s; the take has no end"
            )

    def _work(self) -> None:
        file: TakeFile | None = None
        try:
            self.path = reserve(self.asked)
            file = TakeFile(self.path, self._header)
            self._ready.set()
            stopping = False
            while not stopping:
                stopping = self._stop.wait(self._every)
                self._flush(file)
            self._batcher.lost_until(self._last_dropped)
            file.write([*self._batcher.rows(), self._batcher.end()])
        except Exception as error:
            # Whatever it is, it may cost the take and nothing else.
            self._open = False
            self.failed = str(error) if isinstance(error, DeviceError) else f"{type(error).__name__}: {error}"
            self._queue.clear()
        finally:
            if file is not None:
                file.close()
            self._ready.set()

    def _flush(self, file: TakeFile) -> None:
        """Everything that waits, in one transaction."""
        queue, turns = self._queue, 0
        for _ in range(len(queue)):
            item = queue.popleft()
            if callable(item):
                item()
                continue
            beat, frame, events = item
            self._batcher.turn(beat.number, beat.skipped, frame, events, beat.early)
            if beat.late >= LATE:
                self._batcher.remark(LATE_WORD, round(beat.late * 1000, 1))
            turns += 1
        rows = self._batcher.rows()
        if rows:
            file.write(rows)
        self.written += turns


def _at(events: Sequence[Event], t: float) -> tuple[Event, ...]:
    return tuple(replace(event, stamp=t) for event in events)
