"""Knows: what one turn of the frame clock was like.

Must never know: who measured it or who shows it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OutputState:
    """How an output is: `state` is up, opening or down; `note` says why and what to do."""

    name: str
    state: str
    note: str = ""
    sent: int = 0
    failed: int = 0


@dataclass(frozen=True, slots=True)
class Beat:
    """One turn of the loop.

    Args:
        number: k of the frame; its picture is the one at t = k / refresh_hz.
        late: seconds by which the picture was ready after its moment.
        skipped: frames left out just before this one because the turn came over a period late.
        dropped: events the inbox had to drop since the show began.
        errors: turns so far in which the engine failed and the last good frame was kept.
        early: j of an early frame (k, j), 1 up; 0 for the steady one. Its picture is that of its own time.
        busy: seconds by which the turn before this one was still at work after this one's moment; 0 where it
            had ended. A turn that is late although none was busy was woken late by the system.
        due: monotonic seconds of its moment, at which outputs send it; that of an early frame has come.
    """

    number: int
    late: float
    skipped: int = 0
    dropped: int = 0
    errors: int = 0
    early: int = 0
    busy: float = 0.0
    due: float = 0.0
