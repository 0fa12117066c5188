"""Knows: how the show starts the house process, hears from it, starts it again, and ends it.

Must never know: what the house does; MIDI, the engine, outputs.

The house can die without harm: the show goes on and starts another. Nothing here can make a frame late: the
picture goes through shared memory, and a thread of its own listens for what comes back.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from bridge.shell.inbox import Inbox
from bridge.shell.page.settings import PageSettings
from bridge.values.events import Do, Event, PortGone
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

LEAVES_WITHIN = 0.8
"""Seconds the house has to leave when asked, before it is ended."""

RESTART_PAUSES = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True, slots=True)
class HousePlan:
    """What the house is to do.

    Args:
        picture: name of the shared memory that holds the newest frame.
        screen: draw the rig in the terminal.
        files: the mapping files to watch, the one the show begins with first; the news tell which of them
            is in force.
        page: how the stage page is served; None for no page.
        plays: the mapping in force when the show begins.
        takes: the folder in which the takes are that the show tells of.
        browse: open the page in this machine's browser.
    """

    picture: str
    rig: Rig
    screen: bool = False
    files: tuple[tuple[Path, Mapping], ...] = ()
    page: PageSettings | None = None
    plays: Mapping = field(default_factory=Mapping)
    takes: Path = field(default_factory=Path)
    browse: bool = False


class House:
    """The show's end of the house process.

    Args:
        plan: what it is to do.
        now: monotonic seconds; stamps count from `start`, which may be set later.
        target: the function the process runs, given (plan, pipe); must be importable.
    """

    def __init__(
        self,
        plan: HousePlan,
        now: Callable[[], float],
        target: Callable[[HousePlan, Connection[Any, Any]], None],
    ) -> None:
        self._plan, self._now, self._target = plan, now, target
        self.start = now()
        self._context = multiprocessing.get_context("spawn")
        self._inbox = Inbox()
        self._deaths = 0
        self._again_at = 0.0
        self._ports: set[str] = set()
        self.link = ""
        """Where the stage page is; empty while it is not served."""
        self.notices: list[str] = []
        """What the house last had to say (a mistake in a saved mapping, say)."""
        self._start()

    def _start(self) -> None:
        ours, theirs = self._context.Pipe()
        self._process = self._context.Process(
            target=self._target, args=(self._plan, theirs), name="lampwright house", daemon=True
        )
        with deaf_to_ctrl_c():
            self._process.start()
        theirs.close()
        self._pipe, self._down = ours, False
        threading.Thread(target=self._listen, args=(ours,), name="house listener", daemon=True).start()

    def _start_again(self) -> None:
        try:
            self._start()
        except OSError as error:
            # Looked after again in a while, as one that died at once.
            self.notices = [f"no page and no picture for now: {error.strerror or error}; it is tried again"]

    def _listen(self, pipe: Connection[Any, Any]) -> None:
        """Hand on what the house sends until the pipe ends: ("event", maker) or ("notices", lines)."""
        while True:
            try:
                kind, content = pipe.recv()
            except (EOFError, OSError):
                return
            if kind == "notices":
                self.notices = content
            elif kind == "page":
                self.link = content
            elif kind == "event":
                # The house does not know the show's clock: an event counts from when it arrives.
                event = content(self._now() - self.start)
                if port := getattr(event, "port", ""):
                    self._ports.add(port)
                self._inbox.put(event)

    def _let_go(self) -> None:
        """The house died: whatever was held from its page is let go."""
        stamp = self._now() - self.start
        for port in self._ports:
            self._inbox.put(PortGone(stamp, port))
        self._inbox.put(Do(stamp, "light", "all", 0.0))
        self._ports = set()

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`: what the house asked for."""
        return self._inbox.take(until)

    def look_after(self) -> None:
        """Call now and then: starts a process that died again, with growing pauses."""
        if self._process.is_alive():
            return
        now = self._now()
        if not self._down:
            self._down = True
            self._pipe.close()
            self._let_go()
            self._again_at = now + RESTART_PAUSES[min(self._deaths, len(RESTART_PAUSES) - 1)]
            self._deaths += 1
        elif now >= self._again_at:
            # Starting a process can take longer than a frame, and for a large rig it waits for the other end.
            self._down = False
            threading.Thread(target=self._start_again, name="house start", daemon=True).start()

    @property
    def pid(self) -> int | None:
        """The process's id."""
        return self._process.pid

    def close(self) -> None:
        """Ask it to leave, wait a moment, end it."""
        if not self._down:
            try:
                self._pipe.send("leave")
            except OSError:
                self._down = True
        self._process.join(LEAVES_WITHIN)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(1.0)
        self._pipe.close()


@contextlib.contextmanager
def deaf_to_ctrl_c() -> Iterator[None]:
    """A process started here is born deaf to Ctrl-C, which goes to every program of a terminal.

    Kept back and not ignored, since a Ctrl-C that comes in these milliseconds is meant for us, later.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
