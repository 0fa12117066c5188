"""Knows: what goes on in the house process: drawing the terminal, watching the mapping file.

Must never know: MIDI, the engine, outputs. It sees pictures and news and sends wishes back.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import sys
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from bridge.shell.house import HousePlan
from bridge.shell.picture import PictureReader
from bridge.shell.watch import MappingWatch
from bridge.values.errors import DeviceError
from bridge.values.events import NewMapping
from bridge.values.mapping import Mapping

if TYPE_CHECKING:
    from bridge.shell.page import PageServer

PICTURES_A_SECOND = 15
LOOK_EVERY = 4
"""Turns between two looks at the mapping file."""


@dataclass(frozen=True, slots=True)
class Saved:
    """Makes the event of a saved mapping once its time is known; crosses the pipe."""

    mapping: Mapping
    text: str

    def __call__(self, stamp: float) -> NewMapping:
        """The event."""
        return NewMapping(stamp, self.mapping, text=self.text)


class Pipe:
    """The way back to the show, for several threads."""

    def __init__(self, pipe: Connection[Any, Any]) -> None:
        self._pipe, self._lock = pipe, threading.Lock()

    def send(self, kind: str, content: object) -> None:
        """One message; nothing where the show is gone."""
        with self._lock, contextlib.suppress(OSError):
            self._pipe.send((kind, content))

    def asked_to_leave(self, seconds: float) -> bool:
        """Wait for `seconds`; True if the show asked, or is gone."""
        try:
            if self._pipe.poll(seconds):
                return bool(self._pipe.recv() == "leave")
        except (EOFError, OSError):
            return True
        return False


def live_in(plan: HousePlan, connection: Connection[Any, Any]) -> None:
    """The house process: until it is asked to leave, or the show is gone."""
    for name in ("SIGINT", "SIGHUP"):
        # Ctrl-C and a closed terminal are for the show, which then asks us to leave.
        if hasattr(signal, name):
            with contextlib.suppress(ValueError):
                signal.signal(getattr(signal, name), signal.SIG_IGN)
    pipe = Pipe(connection)
    reader = PictureReader(plan.picture, plan.rig.universes)
    with contextlib.ExitStack() as stack:
        stack.callback(reader.close)
        watch = MappingWatch(plan.mapping, plan.rig) if plan.mapping else None
        page = _serve(plan, reader, pipe) if plan.page else None
        if page is not None:
            stack.callback(page.stop)
        draw = stack.enter_context(_screen(plan)) if plan.screen else None
        turn = 0
        while not pipe.asked_to_leave(1.0 / PICTURES_A_SECOND):
            turn += 1
            if draw is not None:
                try:
                    draw(reader)
                except OSError:
                    draw = None  # the terminal is gone; the page and the watch go on
            if watch is not None and turn % LOOK_EVERY == 0:
                _tell(pipe, watch, page)


def _tell(pipe: Pipe, watch: MappingWatch, page: PageServer | None) -> None:
    found = watch.look()
    if isinstance(found, tuple):
        pipe.send("event", Saved(*found))
        pipe.send("notices", [])
        if page is not None:
            page.show_mapping(found[0])
    elif found:
        pipe.send("notices", [*found, "the mapping in force is still the one before"])


def _serve(plan: HousePlan, reader: PictureReader, pipe: Pipe) -> PageServer | None:
    """The stage page; None, and told, where it cannot be served."""
    from bridge.shell.house_charts import chart_of_take
    from bridge.shell.page import PageServer

    assert plan.page is not None

    def names() -> dict[str, str]:
        found = reader.look()
        return {str(take["number"]): take["name"] for take in (found[3].get("takes") or ())} if found else {}

    server = PageServer(
        reader.look,
        lambda wish: pipe.send("event", wish),
        plan.rig,
        plan.page,
        plan.plays,
        chart=lambda number: chart_of_take(plan.takes, names().get(str(number), "")),
        in_force=lambda mapping, text: pipe.send("event", Saved(mapping, text)),
    )
    try:
        server.start()
    except DeviceError as error:
        pipe.send("notices", [f"no stage page: {error}"])
        return None
    pipe.send("page", server.link)
    if plan.browse and _has_windows():
        webbrowser.open(server.link)
    return server


def _has_windows() -> bool:
    """True where a browser would open a window, and not take the terminal."""
    return sys.platform in ("win32", "darwin") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )


@contextlib.contextmanager
def _screen(plan: HousePlan) -> Any:
    """A function that draws the newest picture in this terminal."""
    from rich.console import Console
    from rich.live import Live

    from bridge.shell.terminal import RigView, view

    rig_view = RigView(plan.rig, shutil.get_terminal_size().columns)
    with Live(console=Console(), auto_refresh=False, screen=True, transient=True) as live:
        yield partial(_draw, live, lambda *parts: view(plan.rig, rig_view, *parts), [0])


def _draw(live: Any, view: Callable[..., Any], seen: list[int], reader: PictureReader) -> None:
    found = reader.look()
    if found is None or found[0] == seen[0]:
        return
    seen[0] = found[0]
    live.update(view(*found[1:]), refresh=True)
