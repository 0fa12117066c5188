"""Knows: where events come from, as things that can be asked `what happened until t`.

Must never know: what an event means; frames; outputs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Protocol

from bridge.shell.pace import Pace
from bridge.values.events import Event, NoteOn, Picture


class Feed(Protocol):
    """A source of events: live ports, a MIDI file, the page, a take."""

    def take(self, until: float) -> Sequence[Event]:
        """The events stamped at or before `until` (seconds of show time) not yet handed out, in order."""


class ListFeed:
    """Events known beforehand, sorted by stamp: a MIDI file, a take, a test."""

    def __init__(self, events: Iterable[Event]) -> None:
        self._events = sorted(events, key=lambda event: event.stamp)
        self._next = 0

    @property
    def ends(self) -> float:
        """The stamp of the last event; 0 for none."""
        return self._events[-1].stamp if self._events else 0.0

    @property
    def done(self) -> bool:
        """True when every event was handed out."""
        return self._next >= len(self._events)

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        first = self._next
        while self._next < len(self._events) and self._events[self._next].stamp <= until:
            self._next += 1
        return self._events[first : self._next]


class OnPace:
    """A live feed whose stamps follow the show's pace, so that a key struck with the song falls on its frame.

    Args:
        feed: stamps in seconds since `start`, a monotonic time.
    """

    def __init__(self, feed: Feed, start: float, pace: Pace) -> None:
        self._feed, self._start, self._pace = feed, start, pace

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`; all that has arrived lies in the past, so nothing is kept back."""
        arrived = self._feed.take(math.inf)
        stamps = [min(until, self._pace.show(self._start + event.stamp)) for event in arrived]
        return [restamped(event, stamp) for event, stamp in zip(arrived, stamps, strict=True)]


def restamped(event: Event, stamp: float) -> Event:
    """The same event at another time."""
    moved: Event = replace(event, stamp=stamp)
    return moved


class Waiting:
    """Events of all feeds, in order of stamp, then arrival; what is stamped later waits its turn."""

    def __init__(self, feeds: Sequence[Feed]) -> None:
        self._feeds = feeds
        self._held: list[Event] = []

    def poll(self, until: float) -> None:
        """Ask the feeds; cheap enough to be called between frames, so that stamps are fresh."""
        for feed in self._feeds:
            events = feed.take(until)
            if events:
                self._held.extend(events)

    def struck(self, until: float) -> float | None:
        """The moment of the early frame that something waiting here is worth; None where nothing is.

        A strike is answered with the picture at `until`. An early frame of a take has its own moment, and
        shows again at that: the guards count in time, and must see again what they let pass then.
        """
        moment: float | None = None
        for event in self._held:
            if event.stamp <= until:
                if isinstance(event, NoteOn):
                    return until
                if isinstance(event, Picture) and event.early:
                    moment = event.stamp if moment is None else max(moment, event.stamp)
        return moment

    def take(self, until: float) -> list[Event]:
        """Everything stamped at or before `until`, sorted; Python's sort keeps the order of arrival."""
        self.poll(until)
        if not self._held:
            return []
        self._held.sort(key=lambda event: event.stamp)
        at = len(self._held)
        while at and self._held[at - 1].stamp > until:
            at -= 1
        out, self._held = self._held[:at], self._held[at:]
        return out
