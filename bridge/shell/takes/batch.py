"""Knows: how turns of the frame clock become rows of a take: numbers from 0, what was left out or lost.

Must never know: files, threads, clocks, or what an event does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from bridge.shell.takes.store import END_KEY, EVENTS, FRAMES, HEAD, REMARKS, Row, room
from bridge.values.events import Event, NewMapping
from bridge.values.frame import SLOTS, Frame
from bridge.wire.take_events import EventsDraft
from bridge.wire.take_frames import FramesDraft
from bridge.wire.take_header import End, Remark, TakeHeader, end_row, remarks_row, text_rows

MOST_IN_ROW = 4096
"""Frames in one row, also when none changes."""

NO_TEXT = 1_000_000
"""The number of a mapping whose text nobody gave."""

EVENT_BYTES = 12_000
"""A row of events ends with the frame that passes this."""


class Batcher:
    """Turns in, rows out.

    The first turn is frame 0 of the take and its moment is second 0, whatever its number in the show: stamps
    are counted from there (and are as they were, to the bit, where the take begins with the show).

    Args:
        header: rate and universes of the frames to come.
    """

    def __init__(self, header: TakeHeader) -> None:
        self._hz = header.refresh_hz
        self._size = len(header.universes) * SLOTS
        self._room = room(len(header.universes))
        self._frames = FramesDraft(len(header.universes))
        self._events = EventsDraft(self._number_of)
        self._remarks: list[Remark] = []
        self._rows: list[Row] = []
        self._counts = dict.fromkeys((FRAMES, EVENTS, REMARKS), 0)
        self._origin: int | None = None
        self._shift = 0.0
        self._last = -1
        self._j = 0
        self._first: list[Event] = []
        """What early frames took before the first steady one."""
        self._mappings: dict[int, tuple[int, object]] = {}
        self.lost = 0
        """Frames that went out and are not in the take, because the disk took too long."""

    def know(self, mapping: object, text: str) -> None:
        """Keep the text of a mapping that may come as NewMapping."""
        number = len(self._mappings) + 1
        # The mapping is kept too, so that its identity is not given away again.
        self._mappings[id(mapping)] = number, mapping
        self.keep(number, text)

    def keep(self, number: int, text: str) -> None:
        """Keep a mapping's text under a number that events already have."""
        self._rows += [(HEAD, at, row) for at, row in text_rows(number, text.encode("utf-8", "replace"))]

    def _number_of(self, mapping: object) -> int:
        if isinstance(mapping, int):
            return mapping  # from another take: a number already
        return self._mappings.get(id(mapping), (NO_TEXT, None))[0]

    def turn(
        self, number: int, skipped: int, frame: Frame | None, events: Sequence[Event], early: int = 0
    ) -> None:
        """One turn of the clock.

        A take begins with a steady frame: an early one before it is left out, and what it took comes with
        the steady one, by its own stamp.

        Args:
            number: k of the show; the same again for an early frame after it.
            skipped: numbers the clock left out just before.
            frame: what went out; None where it was lost on the way here.
            events: what the frame took.
            early: j of an early frame, for when the steady one may not have come here; 0 otherwise.

        Raises:
            ValueError: numbers that go back, or a frame of another shape (our own mistake).
        """
        if self._origin is None:
            if early:
                self._first += events
                return
            self._origin, self._shift = number, number / self._hz
            events, self._first = [*self._first, *events], []
        k = number - self._origin
        if k < self._last:
            raise ValueError(f"frame {number} came after frame {self._last + self._origin}")
        if k == self._last:
            early = max(early, self._j + (frame is not None))
        self._j = early
        if self._events.size > EVENT_BYTES and not early:
            self._end_events()
        self._last = k
        for event in events:
            self._event(k, event)
        if early and frame is not None:
            # Its steady frame may have found no room where this one did.
            self._miss(k + 1 - self._frames.next_k, 0)
            # Where a turn failed, an older frame went out again.
            self._frames.early(early, max(k / self._hz, frame.t - self._shift), frame.slots)
        elif frame is not None and k >= self._frames.next_k:
            self._miss(k - self._frames.next_k, skipped)
            self._frames.show(frame.slots)
        if self._frames.raw + self._size > self._room or self._frames.shown >= MOST_IN_ROW:
            self._end_frames()

    def _miss(self, missing: int, skipped: int) -> None:
        """Numbers without a frame: the clock owns up to the newest `skipped` of them."""
        lost = max(0, missing - skipped)
        self._frames.miss(lost, lost=True)
        self._frames.miss(missing - lost, lost=False)
        self.lost += lost

    def lost_until(self, number: int) -> None:
        """Frames up to this number of the show went out, and were lost on the way here."""
        if self._origin is not None:
            self._miss(number - self._origin + 1 - self._frames.next_k, 0)

    def _event(self, k: int, event: Event) -> None:
        if isinstance(event, NewMapping) and event.text and id(event.mapping) not in self._mappings:
            self.know(event.mapping, event.text)
        if self._shift:
            event = replace(event, stamp=event.stamp - self._shift)
        try:
            self._events.add(k, self._j, event)
        except ValueError as error:
            self.remark("not recorded", str(error))

    def remark(self, kind: str, data: Any = None, k: int | None = None) -> None:
        """Note something beside frame k of the show (the newest, where none is given), as JSON can say it."""
        at = 0 if self._origin is None else max(0, self._last if k is None else k - self._origin)
        self._remarks.append(Remark(at, kind, data))

    def _end_events(self) -> None:
        if self._events.count:
            self._counts[EVENTS] += 1
            self._rows.append((EVENTS, *self._events.row(self._counts[EVENTS])))

    def _end_frames(self) -> None:
        if not self._frames.empty:
            self._counts[FRAMES] += 1
            row = self._frames.row(self._counts[FRAMES], self._counts[EVENTS], self._counts[REMARKS])
            self._rows.append((FRAMES, *row))

    def _end_remarks(self) -> None:
        if not self._remarks:
            return
        number = self._counts[REMARKS] + 1
        try:
            row = remarks_row(number, self._remarks)
        except (TypeError, ValueError):
            spoken = [Remark(remark.k, remark.kind, repr(remark.data)) for remark in self._remarks]
            row = remarks_row(number, spoken)
        self._counts[REMARKS] = number
        self._rows.append((REMARKS, number, row))
        self._remarks = []

    def rows(self) -> list[Row]:
        """Everything since the last call."""
        self._end_events()
        self._end_remarks()
        self._end_frames()
        rows, self._rows = self._rows, []
        return rows

    def end(self) -> Row:
        """The closing mark, after the last `rows`."""
        counts = self._counts
        end = End(counts[FRAMES], counts[EVENTS], counts[REMARKS], self._frames.next_k, self.lost)
        return HEAD, END_KEY, end_row(end)


Turn = tuple[int, int, Frame | None, Sequence[Event], int]
"""As the arguments of `Batcher.turn`: number, skipped, frame, events, early."""
