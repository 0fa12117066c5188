"""Knows: the turn of the frame clock: wait for frame k's moment, gather events, advance, hand the frame on.

Must never know: MIDI bytes, packets, files, or what is done with a frame.

Frame k is the picture at t = k / refresh_hz on an absolute schedule: lateness is measured, never added up. It
is made a little before its moment and handed on with it. A song may steer that moment, never its t. Where an
output asks for it, a key that goes down gives an early frame (k, j) at the time it has then, between frame k
and the next, which changes none of those.
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
from bridge.wire.take_rows import MOST_EARLY

POLL_SECONDS = 0.002
"""How often the ports are asked between frames: stamps are this fresh where a driver gives no time."""

EARLY_POLL_SECONDS = 0.0001
"""The same where a key is to be answered at once."""

LEAD_SECONDS = 0.0008
"""How long before its moment a frame is made, so that the outputs send it at that moment: how long the engine
takes differs from frame to frame, and packets would leave as unevenly. At most a tenth of a period."""

EARLY_LEAD_SECONDS = 0.0004
"""The same where keys are to be answered at once: a strike in this time waits for the line once more."""

QUIET_SECONDS = 0.0002
"""Before a frame is made nothing is asked any more, so that no answer that takes its time makes it late."""

GIVE_WAY_SECONDS = 0.0003
"""How long the loop stands aside once a frame was handed on: a thread that was just woken to send it must not
wait for the interpreter, which the loop would keep for as long as it has work."""

Tap = Callable[[Beat, Frame, Sequence[Event]], None]
"""Takes a frame, the turn it came from and the events it took; must return at once. The moment of a steady
frame may be still to come: see `Beat.due`."""


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
        early: seconds that an early frame keeps from the turns before and after it; None for no early frames.
        after: taps that are called a moment later, when the outputs have had the interpreter to themselves.
    """

    def __init__(
        self,
        engine: Engine,
        feeds: Sequence[Feed],
        taps: Sequence[Tap],
        clock: Ticker,
        refresh_hz: float,
        polling: bool = True,
        early: float | None = None,
        after: Sequence[Tap] = (),
    ) -> None:
        self._engine = engine
        self._waiting = Waiting(feeds)
        self._taps, self._after = taps, after
        self._clock = clock
        self._hz = refresh_hz
        self._polling = polling or early is not None
        self._early = early
        self._poll = POLL_SECONDS if early is None else EARLY_POLL_SECONDS
        self._lead = min(LEAD_SECONDS if early is None else EARLY_LEAD_SECONDS, 0.1 / refresh_hz)
        self._pace: Pace = Steady(0.0, refresh_hz)
        self._frame = Frame(0.0, engine.rig.universes, engine.dark())
        self.began = self._ended = float("-inf")
        self._k = self._j = 0
        self.errors = 0
        self.last_error = ""

    def run(self, stop: Callable[[], bool], seconds: float | None = None, pace: Pace | None = None) -> int:
        """Turn until `stop()` or for `seconds` of show; returns the number of the next frame.

        Args:
            pace: when frames are due; steady from now on unless given.
        """
        clock, hz = self._clock, self._hz
        self._pace = pace = Steady(clock.now(), hz) if pace is None else pace
        k = skipped = 0
        while not stop():
            due = pace.due(k)
            self._wait_for(due - self._lead, due, stop)
            if stop():
                break
            now = clock.now()
            if (now - due) * hz >= 1.0:
                # Missed whole frames: leave them out rather than send stale ones in a burst.
                latest = max(k, int(pace.show(now) * hz + 1e-9))
                skipped, k = latest - k, latest
            if seconds is not None and k >= seconds * hz:
                break
            due = pace.due(k)
            self._k, self._j = k, 0
            self._turn(k / hz, due, skipped, max(0.0, self._ended - due))
            k, skipped = k + 1, 0
        return k

    def _turn(self, t: float, due: float, skipped: int, busy: float) -> None:
        events = self._waiting.take(t)
        try:
            self._frame = self._engine.advance(events, t, self._j > 0)
        except Exception as error:
            # Live contains what offline raises: the last good frame goes on being sent.
            self.errors += 1
            self.last_error = f"{type(error).__name__}: {error}"
        late = 0.0 if self._j else max(0.0, self._clock.now() - due)
        self.began = due + late
        beat = Beat(self._k, late, skipped, 0, self.errors, self._j, busy, due)
        for tap in self._taps:
            tap(beat, self._frame, events)
        if self._after:
            self._clock.wait(max(self._clock.now(), due) + GIVE_WAY_SECONDS)
            for tap in self._after:
                tap(beat, self._frame, events)
        self._ended = self._clock.now()

    def _wait_for(self, moment: float, due: float, stop: Callable[[], bool]) -> None:
        clock = self._clock
        now = clock.now()
        quiet = moment - QUIET_SECONDS if self._polling else now
        while now < moment and not stop():
            if now < quiet:
                # A little ahead: a message that comes in while a port is asked is stamped after `now`.
                self._waiting.poll(self._pace.show(now + self._poll))
                if self._early is not None:
                    now = clock.now()
                    t = self._waiting.struck(self._pace.show(now))
                    if t is not None:
                        self._answer(t, now, due)
                clock.wait(min(quiet, now + self._poll))
            else:
                clock.wait(moment)
            now = clock.now()

    def _answer(self, t: float, now: float, due: float) -> None:
        """An early frame at `t`, where one fits between the last turn and the frame that is due."""
        assert self._early is not None
        fits = now - self.began >= self._early and due - now >= self._early
        between = self._k / self._hz < t < (self._k + 1) / self._hz and self._frame.t < t
        if fits and between and self._j < MOST_EARLY:
            self._j += 1
            self._turn(t, now, 0, 0.0)
