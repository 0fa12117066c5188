"""Knows: what is missing in a take, and how to say so.

Must never know: files, how rows are found, what a frame shows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bridge.shell.takes.store import EVENTS, FRAMES, REMARKS
from bridge.shell.takes.walk import Walker
from bridge.wire.take_events import read_events
from bridge.wire.take_frames import LOST, read_frames
from bridge.wire.take_header import read_remarks

Progress = Callable[[int, int], None]
"""Called with how much is done and how much there is."""


def quiet(_done: int, _total: int) -> None:
    """Progress that nobody watches."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of a take of which something is missing.

    Args:
        begins, ends: seconds of the take.
        what: frames, events or remarks.
        why: damaged (the file was), or lost (the disk stalled for longer than there was room).
    """

    begins: float
    ends: float
    what: str
    why: str

    def __str__(self) -> str:
        return f"{self.what} from {self.begins:.3f} s to {self.ends:.3f} s are {self.why}"


def find_gaps(walker: Walker, progress: Progress = quiet) -> tuple[Gap, ...]:
    """Go through every row; what is missing, in order of time."""
    hz, wanted = walker.header.refresh_hz, walker.wanted
    gaps: list[Gap] = []

    def gap(begins: int, ends: int, what: str, why: str = "damaged") -> None:
        gaps.append(Gap(begins / hz, max(begins, ends) / hz, what, why))

    at = rows = 0
    for frames in walker.walk(FRAMES, 0, read_frames):
        if frames.first_k != at or frames.n != rows + 1:
            gap(at, frames.first_k, FRAMES)
        for k, count in frames.missing(LOST):
            gap(k, k + count, FRAMES, "lost")
        at, rows = frames.next_k, frames.n
        progress(at, wanted.next_k)
    if wanted.next_k > at:
        gap(at, wanted.next_k, FRAMES)
    k = rows = 0
    for events in walker.walk(EVENTS, 0, read_events):
        if events.n != rows + 1:
            gap(k, events.first[0], EVENTS)
        k, rows = events.last_k, events.n
    if rows < wanted.events:
        gap(k, wanted.next_k, EVENTS)
    k = rows = 0
    for remarks in walker.walk(REMARKS, 0, read_remarks):
        if remarks.n != rows + 1:
            gap(k, remarks.remarks[0].k if remarks.remarks else k, REMARKS)
        k, rows = remarks.remarks[-1].k if remarks.remarks else k, remarks.n
    if rows < wanted.remarks:
        gap(k, wanted.next_k, REMARKS)
    return tuple(sorted(gaps, key=lambda found: (found.begins, found.ends)))
