"""Knows: the show's end of the analysis of sound: orders out, readings in as events, upkeep.

Must never know: how sound is analysed, or what its readings do.
"""

from __future__ import annotations

import contextlib
import math
import multiprocessing
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from typing import Any

from bridge.shell.inbox import Inbox
from bridge.shell.sound.order import Listening
from bridge.shell.sound.worker import LEAVE, live_in
from bridge.values.events import Event
from bridge.values.sound import Hearing

RESTART_PAUSES = (0.5, 1.0, 2.0, 5.0, 10.0)

ROOM = 20_000
"""Readings that may wait: a minute of them."""

TELL_EVERY = 1.0
"""Seconds between two words to the process of how far the show is, and between two looks after it."""


@contextlib.contextmanager
def deaf_to_ctrl_c() -> Iterator[None]:
    """A process started in here never gets Ctrl-C, not even while it is still importing.

    What a thread has blocked is blocked in what it starts; here it only waits till the end of the block.
    """
    block = getattr(signal, "pthread_sigmask", None)
    if block is None:
        yield
        return
    before = block(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        block(signal.SIG_SETMASK, before)


@dataclass(frozen=True, slots=True)
class _Heard:
    """What is listened to now: the number of the order, what it says, where its readings wait."""

    run: int
    listening: Listening | None
    inbox: Inbox


class SoundFeed:
    """A feed of what is heard; see `feeds.Feed`.

    Readings of a file carry the show time of their second and are handed out when it comes, to the frame, as
    a take does; those of an input carry the moment they were heard.

    Args:
        listening: what to listen to; None for nothing yet.
        now: monotonic seconds, the same for all processes of this machine.
        show: show time of a monotonic time; seconds since `start` unless given.

    Attributes:
        start: monotonic time of show time 0; may be set later.
        trouble: what is wrong, in one line. note: what is worth knowing; both empty where all is well.
    """

    def __init__(
        self,
        listening: Listening | None,
        now: Callable[[], float],
        show: Callable[[float], float] | None = None,
    ) -> None:
        self._now, self._show = now, show
        self.start = now()
        self._context = multiprocessing.get_context("spawn")
        self._process: Any = None
        self._pipe: Connection[Any, Any] | None = None
        # One value, changed at once: the thread that hears readings must not mix two orders.
        self._now_heard = _Heard(0, None, Inbox(ROOM))
        self._told = self._asked = -math.inf
        self._deaths, self._again_at, self._look_at = 0, math.inf, 0.0
        self._closed = self._ready = False
        self.trouble = ""
        self.note = ""
        self._spawn()
        if listening is not None:
            self.listen(listening)

    def listen(self, listening: Listening | None) -> None:
        """Listen to something else, or the same from its beginning; None for nothing. Returns at once."""
        self._asked = -math.inf
        self._listen(listening)

    def hear(self, hearing: Hearing) -> None:
        """Hear the same differently from now on, as a saved mapping asks. Returns at once."""
        listening = self.listening
        if listening is not None and listening.hearing != hearing:
            self._listen(replace(listening, hearing=hearing))

    def _listen(self, listening: Listening | None) -> None:
        """Readings of a file come from the moment on that was asked for last."""
        self._now_heard = _Heard(self._now_heard.run + 1, listening, Inbox(ROOM))
        self.trouble = self.note = ""
        self._ready = False
        self._told = -math.inf
        self._order((self._now_heard.run, listening, self._asked))

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        if math.isfinite(until):
            self._asked = until
            if until - self._told > TELL_EVERY:
                self._told = until
                self._order(float(until))
        if self._now() >= self._look_at:
            self._look_at = self._now() + TELL_EVERY
            self._look_after()
        return self._now_heard.inbox.take_until(until)

    @property
    def listening(self) -> Listening | None:
        """What is listened to."""
        return self._now_heard.listening

    @property
    def ready(self) -> bool:
        """True once readings have come."""
        return self._ready

    @property
    def dropped(self) -> int:
        """Readings lost because nobody took them."""
        return self._now_heard.inbox.dropped

    @property
    def pid(self) -> int | None:
        """The process's id."""
        return self._process.pid if self._process is not None else None

    def close(self) -> None:
        """End the process; safe to call twice."""
        self._closed = True
        # The thread that listens keeps the pipe open, so that closing it alone would say nothing.
        self._order(LEAVE)
        if self._process is not None:
            self._process.join(2.0)
            if self._process.is_alive():
                self._process.kill()
                self._process.join(1.0)
            self._process = None
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None

    def _spawn(self) -> None:
        ours, theirs = self._context.Pipe()
        self._process = self._context.Process(
            target=live_in, args=(theirs,), name="lampwright sound", daemon=True
        )
        with deaf_to_ctrl_c():
            self._process.start()
        theirs.close()
        self._pipe = ours
        threading.Thread(target=self._hear, args=(ours,), name="sound listener", daemon=True).start()

    def _hear(self, pipe: Connection[Any, Any]) -> None:
        while True:
            try:
                word, *rest = pipe.recv()
            except (EOFError, OSError, TypeError):
                # TypeError: the pipe was closed by another thread while this one waited.
                return
            if word == "trouble":
                (self.trouble,) = rest
            elif word == "note":
                (self.note,) = rest
            elif word == "read":
                self._put(*rest)

    def _put(self, run: int, readings: Sequence[Event]) -> None:
        heard = self._now_heard
        if run != heard.run:
            return
        live = heard.listening is not None and not heard.listening.file
        self._ready, self._deaths = True, 0
        for one in readings:
            heard.inbox.put(replace(one, stamp=max(0.0, self._shown(one.stamp))) if live else one)

    def _shown(self, wall: float) -> float:
        return wall - self.start if self._show is None else self._show(wall)

    def _order(self, order: Any) -> None:
        if self._pipe is not None:
            with contextlib.suppress(OSError, ValueError):
                self._pipe.send(order)

    def _look_after(self) -> None:
        """Start a process that died again, with growing pauses."""
        if self._closed or self._process is None or self._process.is_alive():
            return
        now = self._now()
        if math.isinf(self._again_at):
            self._again_at = now + RESTART_PAUSES[min(self._deaths, len(RESTART_PAUSES) - 1)]
            self._deaths += 1
            self.trouble = self.trouble or "the analysis of sound ended; it is started again"
        elif now >= self._again_at:
            self._again_at = math.inf
            self._spawn()
            self._listen(self.listening)
