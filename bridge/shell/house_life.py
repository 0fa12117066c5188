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
from collections.abc import Callable, Sequence
from functools import partial
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from bridge.shell.house import HousePlan
from bridge.shell.house_rules import Rules
from bridge.shell.picture import PictureReader
from bridge.shell.tty import any_letter
from bridge.values.beat import Beat
from bridge.values.errors import DeviceError
from bridge.values.frame import Frame

if TYPE_CHECKING:
    from bridge.shell.page import PageServer

PICTURES_A_SECOND = 15
LOOK_EVERY = 4
"""Turns between two looks at the mapping file."""


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
    any_letter()
    pipe = Pipe(connection)
    reader = PictureReader(plan.picture, plan.rig.universes)
    with contextlib.ExitStack() as stack:
        stack.callback(reader.close)
        rules = Rules(plan.files, plan.rig, pipe.send)
        page = _serve(plan, reader, pipe, rules) if plan.page else None
        square: list[str] = []
        if page is not None:
            stack.callback(page.stop)
            rules.show = page.show_mapping
            square = _square(plan, page.link)
        rules.catch_up()
        draw = stack.enter_context(_screen(plan, square)) if plan.screen else None
        turn = 0
        while not pipe.asked_to_leave(1.0 / PICTURES_A_SECOND):
            turn += 1
            if draw is not None:
                try:
                    draw(reader)
                except OSError:
                    draw = None  # the terminal is gone; the page and the watch go on
            if turn % LOOK_EVERY == 0:
                rules.look()
            if page is not None and len(plan.files) > 1:
                _follow(page, rules, reader)


def _follow(page: PageServer, rules: Rules, reader: PictureReader) -> None:
    """Show the page the mapping that a song or a program change has brought in."""
    found = reader.look()
    now = int(found[3].get("known", -1)) if found is not None else rules.in_force
    if now != rules.in_force and 0 <= now < len(rules.mappings):
        page.show_mapping(rules.mappings[now])
    rules.in_force = now


def _serve(plan: HousePlan, reader: PictureReader, pipe: Pipe, rules: Rules) -> PageServer | None:
    """The stage page; None, and told, where it cannot be served."""
    from bridge.shell.house_charts import Charts
    from bridge.shell.page import PageServer

    assert plan.page is not None
    charts = Charts(plan.takes)

    def names() -> dict[str, str]:
        found = reader.look()
        return {str(take["number"]): take["name"] for take in (found[3].get("takes") or ())} if found else {}

    server = PageServer(
        reader.look,
        lambda wish: pipe.send("event", wish),
        plan.rig,
        plan.page,
        plan.plays,
        chart=lambda number: charts.draw(names().get(str(number), "")),
        in_force=rules.taught,
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


def _square(plan: HousePlan, link: str) -> list[str]:
    """The link as a square for a tablet's camera, where others than this computer can use it.

    Without a screen it is written out here: no notice has room for it.
    """
    from bridge.shell.page import qr_lines

    if plan.page is None or not plan.page.token:
        return []
    lines = qr_lines(link)
    try:
        "".join(lines).encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except UnicodeError:
        return []  # no square where letters are all there is
    if not plan.screen:
        with contextlib.suppress(OSError):
            # In one piece, since the show speaks meanwhile.
            sys.stdout.write("\n".join(["the stage page, for a tablet's camera:", *lines, ""]))
            sys.stdout.flush()
    return lines


def _has_windows() -> bool:
    """True where a browser would open a window, and not take the terminal."""
    return sys.platform in ("win32", "darwin") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )


@contextlib.contextmanager
def _screen(plan: HousePlan, square: Sequence[str]) -> Any:
    """A function that draws the newest picture in this terminal."""
    from rich.console import Console
    from rich.live import Live

    from bridge.shell.terminal import RigView, view

    rig_view = RigView(plan.rig, shutil.get_terminal_size().columns)
    console = Console()
    with Live(console=console, auto_refresh=False, screen=True, transient=True) as live:

        def drawn(beat: Beat, frame: Frame, news: dict[str, Any]) -> Any:
            return view(plan.rig, rig_view, beat, frame, news, square, console.size)

        yield partial(_draw, live, drawn, [0])


def _draw(live: Any, view: Callable[..., Any], seen: list[int], reader: PictureReader) -> None:
    found = reader.look()
    if found is None or found[0] == seen[0]:
        return
    seen[0] = found[0]
    live.update(view(*found[1:]), refresh=True)
