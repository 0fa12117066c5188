"""Knows: what goes on in the house process: drawing the terminal, watching the mapping file.

Must never know: MIDI, the engine, outputs. It sees pictures and news and sends wishes back.
"""

from __future__ import annotations

import contextlib
import shutil
import signal
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection
from typing import Any

from bridge.shell.house import HousePlan
from bridge.shell.picture import PictureReader
from bridge.shell.watch import MappingWatch
from bridge.values.events import NewMapping
from bridge.values.mapping import Mapping

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


def live_in(plan: HousePlan, pipe: Connection[Any, Any]) -> None:
    """The house process: until it is asked to leave, or the show is gone."""
    with contextlib.suppress(ValueError):
        # Ctrl-C is for the show, which then asks us to leave.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    reader = PictureReader(plan.picture, plan.rig.universes)
    with contextlib.ExitStack() as stack:
        stack.callback(reader.close)
        watch = MappingWatch(plan.mapping, plan.rig) if plan.mapping else None
        draw = stack.enter_context(_screen(plan)) if plan.screen else None
        turn = 0
        with contextlib.suppress(BrokenPipeError, OSError):
            while not _asked_to_leave(pipe, 1.0 / PICTURES_A_SECOND):
                turn += 1
                if draw is not None:
                    draw(reader)
                if watch is not None and turn % LOOK_EVERY == 0:
                    _tell(pipe, watch)


def _tell(pipe: Connection[Any, Any], watch: MappingWatch) -> None:
    found = watch.look()
    if isinstance(found, tuple):
        pipe.send(("event", Saved(*found)))
        pipe.send(("notices", []))
    elif found:
        pipe.send(("notices", [*found, "the mapping in force is still the one before"]))


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


def _asked_to_leave(pipe: Connection[Any, Any], seconds: float) -> bool:
    """Wait for `seconds`; True if the show asked, or is gone."""
    try:
        if pipe.poll(seconds):
            return bool(pipe.recv() == "leave")
    except (EOFError, OSError):
        return True
    return False
