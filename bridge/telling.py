"""Knows: what a show tells its player: before it, on the screen and the page while it runs, and after it.

Must never know: how a show is put together; what is done about any of it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from bridge.plan import Plan
from bridge.running import Running
from bridge.shell.guard_lines import held_lines
from bridge.shell.news import evening_news, news, take_news
from bridge.shell.notices import output_line, port_line, song_lines, unheard_lines
from bridge.shell.resume import TOLD


class Telling:
    """The words of one show.

    Args:
        say: takes a line; it may stall with its reader, so within the show it is called aside.
    """

    def __init__(self, plan: Plan, on: Running, say: Callable[[str], None]) -> None:
        self._plan, self._on, self._say = plan, on, say
        self._said: set[str] = set()
        self._were: set[str] = set()
        self._down: dict[str, str] = {}

    def announce(self) -> None:
        """What is about to be played, and where it goes."""
        rig = self._plan.rig
        self._say(
            f"{self._plan.title or rig.name}: {len(rig.lamps)} lamps, {rig.refresh_hz:g} frames a second"
        )
        for worker in self._on.workers:
            self._said.add(f"out: {worker.name}")
            self._say(f"out: {worker.name}")
        if not self._on.workers:
            self._say("out: nowhere; the rig names no output, so nothing leaves this machine")
        for notice in self.notices():
            self._said.add(notice)
            self._say(notice)

    def tell_news(self) -> None:
        """Without a screen: say what was not said before; a reader that stalls must stall no frame."""
        devices = self._devices()
        lines = [line for line in dict.fromkeys([*devices, *self.notices()]) if line not in self._said]
        # What is plugged in and out again is said each time, every other thing once.
        self._said -= self._were - set(devices)
        self._said.update(lines)
        self._were = set(devices)
        for line in lines:
            threading.Thread(target=self._say, args=(line,), name="news", daemon=True).start()

    def _devices(self) -> list[str]:
        """A line for each port and output as it is now; a screen has its own for the outputs."""
        live = self._on.live
        return [
            *(output_line(worker.state()) for worker in self._on.workers),
            *(port_line(state) for state in (live.states() if live is not None else ())),
        ]

    def news(self) -> dict[str, Any]:
        """Everything the house shows beside the picture."""
        on = self._on
        states = [worker.state() for worker in on.workers]
        found = news(on.engine, on.tally, states, self._plan.title, self.notices())
        found |= evening_news(on.evening, on.t)
        found |= take_news(on.recording, on.replaying, on.t)
        found["known"] = on.known.number(on.engine.mapping)
        return found

    def notices(self) -> list[str]:
        """What the player should know now."""
        on = self._on
        notices = list(self._plan.notices)
        resume = self._plan.resume
        if resume is not None and resume.line and on.t < TOLD:
            notices.insert(0, resume.line)
        if on.live is not None:
            notices += [port_line(state) for state in on.live.states()]
        if on.house is not None:
            notices += on.house.notices
            if on.house.link:
                notices.append(f"stage page: {on.house.link}")
        if on.replaying is not None and on.replaying.trouble:
            notices.append(on.replaying.trouble)
        notices += unheard_lines(on.engine)
        if on.thru is not None and on.thru.trouble:
            notices.append(on.thru.trouble)
        if on.recording is not None and on.recording.line:
            notices.append(on.recording.line)
        if self._plan.screen:
            notices += held_lines(on.engine)
        if on.evening is not None:
            notices += song_lines(on.evening)
        if on.music is not None:
            notices += on.music.lines(on.engine)
        return notices

    def report(self) -> None:
        """Say how it went."""
        on = self._on
        if self._plan.screen:
            # A house that was killed could not give the terminal back.
            self._say("\x1b[?1049l\x1b[?25h\r\x1b[K\x1b[1A")
        self._say(on.tally.text())
        if on.recording is not None and on.recording.line:
            self._say(on.recording.line)
        for state in (worker.state() for worker in on.workers):
            failed = f", failed {state.failed} times: {state.note}" if state.failed else ""
            self._say(f"{state.name}: {state.sent} packets{failed}")
