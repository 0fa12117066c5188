"""Knows: the steady turn: wait for frame k's moment, gather events, advance, hand the frame on.

Must never know: MIDI bytes, packets, files, or what is done with a frame.

Frame k is the picture at t = k / refresh_hz on an absolute schedule: lateness is measured, never added up. A
song may steer the wall time of frame k, never its t.
Live and offline run the same `turn`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from bridge.core.engine import Engine
from bridge.shell.feeds import Feed, Waiting
from bridge.shell.pace import Pace, Steady
from bridge.values.beat import Beat
from bridge.values.events import Event
from bridge.values.frame import Frame

POLL_SECONDS = 0.002
"""How often the ports are asked between frames: stamps are this fresh where a driver gives no time."""

Tap = Callable[[Beat, Frame, Sequence[Event]], None]
"""Takes a frame, the turn it came from and the events it took; must return at once."""


class Ticker(Protocol):
    """The part of a clock the loop needs."""

    def now(self) -> float:
        """Monotonic seconds."""

    def wait(self, until: float) -> object:
        """Return at `until`, or sooner if woken."""


def offline(
    engine: Engine, feeds: Sequence[Feed], refresh_hz: float, frames: int
) -> Iterator[tuple[Beat, Frame, list[Event]]]:
    """Frames 0..frames-1 as fast as they come; errors are raised, not kept going."""
    waiting = Waiting(feeds)
    for k in range(frames):
        t = k / refresh_hz
        events = waiting.take(t)
        yield Beat(k, 0.0), engine.advance(events, t), events


class Loop:
    """The live frame clock.

    Args:
        engine, feeds, refresh_hz: what is played, from where, how many frames a second.
        taps: called with each frame in this order.
        clock: monotonic time.
        polling: ask the feeds between frames too (live ports); False where events are known beforehand.
    """

    def __init__(
        self,
        engine: Engine,
        feeds: Sequence[Feed],
        taps: Sequence[Tap],
        clock: Ticker,
        refresh_hz: float,
        polling: bool = True,
    ) -> None:
        self._engine = engine
        self._waiting = Waiting(feeds)
        self._taps = taps
        self._clock = clock
        self._hz = refresh_hz
        self._polling = polling
        self._pace: Pace = Steady(0.0, refresh_hz)
        self.errors = 0
        self.last_error = ""

    def run(self, stop: Callable[[], bool], seconds: float | None = None, pace: Pace | None = None) -> int:
        """Turn until `stop()` or for `seconds` of show; returns the number of the next frame.

        Args:
            pace: when frames are due; steady from now on unless given.
        """
        clock, hz = self._clock, self._hz
        self._pace = pace = Steady(clock.now(), hz) if pace is None else pace
        frame = Frame(0.0, self._engine.rig.universes, self._engine.dark())
        k = skipped = 0
        while not stop():
            due = pace.due(k)
            self._wait_for(due, stop)
            if stop():
                break
            now = clock.now()
            if (now - due) * hz >= 1.0:
                # Missed whole frames: leave them out rather than send stale ones in a burst.
                latest = max(k, int(pace.show(now) * hz + 1e-9))
                skipped, k = latest - k, latest
            late = max(0.0, now - pace.due(k))
            if seconds is not None and k >= seconds * hz:
                break
            events = self._waiting.take(k / hz)
            try:
                frame = self._engine.advance(events, k / hz)
            except Exception as error:
                # Live contains what offline raises: the last good frame goes on being sent.
                self.errors += 1
                self.last_error = f"{type(error).__name__}: {error}"
            beat = Beat(k, late, skipped, 0, self.errors)
            for tap in self._taps:
                tap(beat, frame, events)
            k, skipped = k + 1, 0
        return k

    def _wait_for(self, due: float, stop: Callable[[], bool]) -> None:
        clock = self._clock
        now = clock.now()
        while now < due and not stop():
            if self._polling:
                self._waiting.poll(self._pace.show(now))
                clock.wait(min(due, now + POLL_SECONDS))
            else:
                clock.wait(due)
            now = clock.now()
