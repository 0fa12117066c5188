"""Knows: what came of one output: when it was up, how even its packets were, how long keys took to reach it.

Must never know: threads, devices, or how any of it is told.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from bridge.shell.outputs.schedule import KEEP_ALIVE
from bridge.shell.report.bins import Bins
from bridge.shell.report.timeline import Timeline
from bridge.values.beat import OutputState

SLACK: Final = 0.001
"""Seconds that a key may take beyond the wait for its frame."""

PENDING: Final = 1024
"""Keys that may wait for their packet at once; what is more counts as missed."""

SPELLS: Final = 12
"""Times of trouble that are kept with their reason."""

LEVELS: Final = {"up": 0.0, "opening": 1.0, "down": 2.0}
"""State -> its height in the time line of states: the worst of a stretch stands."""


@dataclass(slots=True)
class Spell:
    """A time in which an output was not up: from and to in seconds of the show, and why."""

    word: str
    begin: float
    end: float
    note: str


class OutputLog:
    """Follows one output in bounded memory.

    Args:
        name: how it is shown.
        hz: frames a second. own_hz: its own lower rate, 0 for every frame.

    Attributes:
        limit: seconds within which a key must be on the wire: the wait for the next frame, that for the next
            packet where the output has its own rate, and SLACK.
        evenness: how far the times from one steady packet to the next were off the period.
        steady, early: seconds from a key to the first packet of a steady or an early frame that shows it.
        over: keys that took longer than the limit. missed: keys of times in which the output was not up.
        packets: how many were told of.
        up_seconds, seconds: of the show while it was up, and in all.
        spells, troubles: the first times in which it was not up, and how many there were in all.
        states: the worst state of each stretch, by LEVELS.
    """

    def __init__(self, name: str, hz: float, own_hz: float = 0.0) -> None:
        self.name = name
        # An output of its own rate is still kept alive, which then is its rate.
        own = min(1.0 / own_hz, KEEP_ALIVE) if own_hz > 0.0 else 0.0
        self.period = max(1.0 / hz, own)
        self.limit = 1.0 / hz + SLACK + (own if own > 1.0 / hz else 0.0)
        self.evenness, self.steady, self.early = Bins(), Bins(), Bins()
        self.over = self.missed = self.packets = 0
        self.up_seconds = self.seconds = 0.0
        self.spells: list[Spell] = []
        self.troubles = 0
        self.states = Timeline()
        self._hz = hz
        self._word = ""
        self._spell: Spell | None = None
        self._at: float | None = None
        self._looked: float | None = None
        self._pending: deque[tuple[float, float]] = deque()

    def struck(self, t: float, wall: float) -> None:
        """A key that the frame at `t` took was struck at `wall`, monotonic seconds."""
        if len(self._pending) < PENDING:
            self._pending.append((t, wall))
        else:
            self.missed += 1

    def sent(self, packets: Iterable[tuple[float, float]]) -> None:
        """Packets in order: (t of the frame, monotonic seconds when it had been handed over)."""
        for t, when in packets:
            self.packets += 1
            count = t * self._hz
            steady = abs(count - round(count)) < 1e-6
            if steady:
                if self._at is not None:
                    self.evenness.add(abs(when - self._at - self.period))
                self._at = when
            while self._pending and self._pending[0][0] <= t:
                took = when - self._pending.popleft()[1]
                (self.steady if steady else self.early).add(took)
                self.over += took > self.limit

    def pause(self) -> None:
        """The machine slept: the time to the next packet says nothing of how even they are."""
        self._at = None

    def look(self, t: float, wall: float, state: OutputState) -> None:
        """How it is at `t` seconds of the show, at `wall` on the clock, and was since the look before."""
        word = state.state
        passed = wall - self._looked if self._looked is not None else 0.0
        self._looked = wall
        self.seconds += passed
        if word == "up":
            self.up_seconds += passed
        if word != self._word:
            self._change(t, word, state.note)
        elif self._spell is not None:
            self._spell.end = t
            self._spell.note = self._spell.note or state.note
        if word != "up":
            # Nothing leaves: a key of this time is not late, it is not shown; nor is a gap unevenness.
            self._at = None
            self.missed += len(self._pending)
            self._pending.clear()
        self.states.add(t, LEVELS.get(word, 2.0))

    def _change(self, t: float, word: str, note: str) -> None:
        if self._spell is not None:
            self._spell.end = t
            self._spell = None
        if word != "up":
            self.troubles += 1
            if len(self.spells) < SPELLS:
                self._spell = Spell(word, t, t, note)
                self.spells.append(self._spell)
        self._word = word
