"""Knows: when a take is being recorded, where it goes, and what is worth a remark in it.

Must never know: how a take is written, or what a frame means.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from bridge.shell.takes.recorder import Recorder
from bridge.shell.takes.standing import Standing
from bridge.values.beat import Beat
from bridge.values.events import Event, NewMapping
from bridge.values.frame import Frame
from bridge.wire.take_header import TakeHeader


class Counting(Protocol):
    """The part of a guard that a take is told of."""

    @property
    def held(self) -> tuple[float, int]:
        """The share held back now, and how often holding has begun."""


class Recording:
    """Starts and ends takes while a show goes on. `tap` is a tap of the loop.

    Args:
        path: where takes go; the next free name is used where it is taken.
        header: what a take says about itself.
        guards: by name; each time one begins to hold back, the take gets a remark.
        made: the time of day as text, asked when a take begins.
    """

    def __init__(
        self, path: Path, header: TakeHeader, guards: Mapping[str, Counting], made: Callable[[], str]
    ) -> None:
        self._path, self._header, self._guards, self._made = path, header, guards, made
        self._recorder: Recorder | None = None
        self._since = 0.0
        self._standing = Standing()
        self._texts: dict[int, tuple[object, str]] = {}
        self._times = dict.fromkeys(guards, 0)
        self.done: list[Path] = []
        """Takes that were ended."""
        self.trouble = ""
        """Why the last one could not be ended well."""
        self._ending: list[threading.Thread] = []

    @property
    def on(self) -> bool:
        """True while a take is being recorded."""
        return self._recorder is not None

    def seconds(self, t: float) -> float:
        """How long the take that is on has become at show time `t`; 0 while none is."""
        return max(0.0, t - self._since) if self.on else 0.0

    @property
    def line(self) -> str:
        """How it stands, for the player; empty where nothing was ever recorded."""
        if self._recorder is None:
            return self.trouble or (f"recorded: {self.done[-1]}" if self.done else "")
        if self._recorder.failed:
            return f"recording failed: {self._recorder.failed}; the show goes on"
        dropped = f", {self._recorder.dropped} frames found no room" if self._recorder.dropped else ""
        return f"recording: {self._recorder.path}{dropped}"

    def start(self, t: float) -> None:
        """Begin a take at show time `t`; does nothing while one is on."""
        if self._recorder is not None:
            return
        header = replace(self._header, begins_at=self._header.begins_at + t, made=self._made())
        self._since = t
        self._recorder = Recorder(self._path, header, before=self._standing.events(t))
        for mapping, text in self._texts.values():
            self._recorder.know(mapping, text)
        self._times = {name: guard.held[1] for name, guard in self._guards.items()}

    def stop(self) -> None:
        """End the take that is on; returns at once, and the take is finished aside."""
        recorder, self._recorder = self._recorder, None
        if recorder is not None:
            thread = threading.Thread(target=self._finish, args=(recorder,), name="take's end", daemon=True)
            thread.start()
            self._ending.append(thread)

    def _finish(self, recorder: Recorder) -> None:
        recorder.close()
        if recorder.failed:
            self.trouble = f"recording failed: {recorder.failed}"
        else:
            self.done.append(recorder.path)

    def close(self) -> None:
        """End the take that is on and wait for the disk, but no longer than a recorder may."""
        self.stop()
        for thread in self._ending:
            thread.join()

    def toggle(self, t: float) -> None:
        """Begin, or end."""
        if self.on:
            self.stop()
        else:
            self.start(t)

    def tap(self, beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
        """A frame and the events it took."""
        for event in events:
            self._standing.take(event)
            if isinstance(event, NewMapping) and event.text:
                self._texts = {id(event.mapping): (event.mapping, event.text)}
                if self._recorder is not None:
                    self._recorder.know(event.mapping, event.text)
        if self._recorder is None:
            return
        self._recorder.tap(beat, frame, events)
        for name, guard in self._guards.items():
            share, times = guard.held
            if times != self._times[name]:
                self._times[name] = times
                self._recorder.remark(f"{name} guard", round(share, 3), beat.number)
