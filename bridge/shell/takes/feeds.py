"""Knows: a take as a feed of the loop: its frames to be shown again, or its events to be performed anew.

Must never know: engines, outputs, clocks; how a take is stored.

Everything is in memory before the show, so that the loop never waits for the disk.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bridge.shell.takes.reader import HAIR, Take
from bridge.shell.takes.standing import Standing
from bridge.values.errors import UsageError
from bridge.values.events import Event, KeyPressure, NewMapping, NoteOff, NoteOn, Picture, RealTime

AFTER = 0.00125
"""Seconds after a steady frame at which an early one can first come: a line is busy for longer. What an early
frame took late, by its stamp, is handed out no sooner: a loop asks up to a millisecond ahead of a frame, and
the steady frame before it would show it."""

Due = tuple[float, Event]
"""Show time at which the loop gets an event, and the event."""

Compile = Callable[[str], object]
"""The text of a mapping -> the mapping, for NewMapping; None where it cannot be had."""


@dataclass(frozen=True, slots=True)
class Window:
    """The part of a take that is played, and how.

    Args:
        begin, end: seconds of the take. loop: start again at the end. speed: 2 is twice as fast.

    Raises:
        UsageError: nothing to play between them, or a speed that is none.
    """

    begin: float
    end: float
    loop: bool
    speed: float
    shortest: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.speed) and 0.0 < self.speed <= 1000.0):
            raise UsageError(f"a speed of {self.speed:g} cannot be played; 1 is as it was, 0.5 half as fast")
        if not self.end - self.begin >= max(self.shortest, HAIR):
            raise UsageError(f"there is nothing to play from {self.begin:g} s to {self.end:g} s")

    @property
    def length(self) -> float:
        """Seconds that one time through takes."""
        return (self.end - self.begin) / self.speed

    @property
    def plain(self) -> bool:
        """True where take time is show time, to the bit."""
        return self.begin == 0.0 and self.speed == 1.0

    def show_time(self, t: float) -> float:
        """The moment of take time `t`, a hair early where it took arithmetic, so that no frame misses it."""
        return t if self.plain else max(0.0, (t - self.begin) / self.speed - HAIR)


def _window(take: Take, begin: float, end: float | None, loop: bool, speed: float) -> Window:
    period = 1.0 / take.header.refresh_hz
    last = take.ends if end is None else min(end, take.ends)
    return Window(0.0 if begin < 0.0 else begin, last, loop, speed, period * 0.999)


class _Pass:
    """Hands out the items of one time through after the other."""

    def __init__(self, window: Window, items: Callable[[], Iterator[Due]]) -> None:
        self._window, self._items = window, items
        self._offset = 0.0  # of this time through; a hair less, where it is one of many
        self._times = 0
        self._now = items()
        self._next = next(self._now, None)

    @property
    def done(self) -> bool:
        """True when everything was handed out; never with `loop`."""
        return self._next is None

    @property
    def ends(self) -> float:
        """Show time at which it is over; infinity with `loop`."""
        return math.inf if self._window.loop else self._window.length

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        if self._next is None or self._next[0] + self._offset > until:
            return ()
        out: list[Event] = []
        while self._next is not None and self._next[0] + self._offset <= until:
            event = self._next[1]
            out.append(replace(event, stamp=event.stamp + self._offset) if self._offset else event)
            self._next = next(self._now, None)
            if self._next is None and self._window.loop:
                self._times += 1
                self._offset = self._times * self._window.length - HAIR
                self._now = self._items()
                self._next = next(self._now, None)
        return out


class PictureFeed(_Pass):
    """The frames of a take as `Picture` events, bytes as recorded, one whenever the frame changes.

    Where frames are damaged or lost the last picture before them stands. The showing ends with the take.

    Args:
        take: may be closed once this is built.
        start, end: seconds of the take; from its beginning to its end unless given.
        loop: start again at the end. speed: 2 is twice as fast.

    Raises:
        UsageError: nothing to play between them, or a speed that is none.
    """

    def __init__(
        self, take: Take, start: float = 0.0, end: float | None = None, loop: bool = False, speed: float = 1.0
    ) -> None:
        window = _window(take, start, end, loop, speed)
        hz = take.header.refresh_hz
        rows = []
        for row in take.frame_rows(window.begin):
            if row.first_k / hz > window.end:
                break
            rows.append(row)
        numbers = take.header.universes

        def items() -> Iterator[Due]:
            shown = None
            waiting: Event | None = None  # the picture that stands as the window begins
            for row in rows:
                for _, j, t, frame in take.unpack(row):
                    if t >= window.end - HAIR:
                        break
                    if shown is not None and (frame.slots is shown or np.array_equal(frame.slots, shown)):
                        continue
                    shown = frame.slots
                    due = window.show_time(max(t, window.begin))
                    if t < window.begin - HAIR:
                        waiting = Picture(due, numbers, shown.tobytes())
                        continue
                    if waiting is not None:
                        if due > waiting.stamp:
                            yield waiting.stamp, waiting
                        waiting = None
                    yield due, Picture(due, numbers, shown.tobytes(), j > 0)
            if waiting is not None:
                yield waiting.stamp, waiting
            if not loop:
                yield window.length, Picture(window.length, (), b"")

        super().__init__(window, items)


class EventFeed(_Pass):
    """The events of a take, to be performed anew on any rig and mapping.

    Each comes with the frame that took it then, and keeps its stamp: what was late is late again. What stood
    at `start` (controllers, the look, the mapping) is brought about first. Keys still down, pedals and
    pictures are let go at the end, and at the seam of a loop. Notes that transposing moves outside 0..127 are
    left out, and counted.

    Args:
        take: may be closed once this is built.
        start, end, loop, speed: as `PictureFeed`.
        transpose: semitones added to every note.
        compile: makes a mapping of its text; without it mappings saved during the recording are left out.

    Raises:
        UsageError: nothing to play between them, or a speed that is none.
    """

    def __init__(
        self,
        take: Take,
        start: float = 0.0,
        end: float | None = None,
        loop: bool = False,
        speed: float = 1.0,
        transpose: int = 0,
        compile: Compile | None = None,
    ) -> None:
        window = _window(take, start, end, loop, speed)
        hz = take.header.refresh_hz
        self.left_out = 0
        """Strikes that transposing moves outside 0..127."""
        standing = Standing()
        played: list[Due] = []
        opening: list[Due] = []
        for k, j, event in take.events(0.0, window.end):
            changed = self._changed(event, take, window, transpose, compile)
            t = max(k / hz + AFTER, event.stamp) if j else k / hz
            if changed is None:
                self.left_out += isinstance(event, NoteOn) and t >= window.begin - HAIR
                continue
            if t >= window.end - HAIR:
                continue
            if t < window.begin - HAIR:
                standing.take(changed)
                continue
            if not played:
                opening = [(0.0, before) for before in standing.events(0.0)]
            standing.take(changed)
            due = window.show_time(t)
            stamp = changed.stamp if window.plain else min(due, window.show_time(changed.stamp))
            played.append((due, replace(changed, stamp=stamp)))
        if not played:
            opening = [(0.0, before) for before in standing.events(0.0)]
        # At a seam the letting go must sort before what the next time through begins with.
        over = max(0.0, window.length - 2 * HAIR) if loop else window.length
        closing = [(over, last) for last in standing.ending(over)]
        everything = [*opening, *played, *closing]
        super().__init__(window, lambda: iter(everything))

    @staticmethod
    def _changed(
        event: Event, take: Take, window: Window, transpose: int, compile: Compile | None
    ) -> Event | None:
        if isinstance(event, NoteOn | NoteOff | KeyPressure) and transpose:
            note = event.note + transpose
            return replace(event, note=note) if 0 <= note <= 127 else None
        if isinstance(event, RealTime) and event.kind == "active_sensing" and window.speed != 1.0:
            # Its rate is a promise in real time; slowed down it would read as a cable pulled.
            return None
        if isinstance(event, NewMapping):
            text = take.mapping_text(event.mapping)
            mapping = compile(text) if compile is not None and text is not None else None
            return replace(event, mapping=mapping, text=text or "") if mapping is not None else None
        return event
