"""Knows: which frames came late, why each did, and which were the latest.

Must never know: clocks, what a frame shows, or how any of it is told.

How late a turn came counts from the oldest frame that was due, so that frames left out count as the wait they
were. Of two causes the larger one gives the reason.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from enum import Enum
from typing import Final

from bridge.values.beat import Beat

LATE: Final = 0.001
"""Seconds from which a frame counts as late."""

AWAY: Final = 5.0
"""Seconds without a turn from which the machine is taken to have slept, not to have been busy."""

WORST: Final = 8
FAILED: Final = 5
"""How many of the latest frames, and of the turns that failed, are kept with their time."""


class Reason(Enum):
    """Why a frame came late."""

    OWN = "our own work"
    SYSTEM = "woken late by the system"
    AWAY = "the machine slept or stood still"


@dataclass(frozen=True, slots=True)
class Late:
    """One late frame.

    Args:
        behind: seconds by which it, or the oldest frame left out before it, came late.
        t: seconds of the show. skipped: frames left out before it.
        notes: how many began in that second of the show so far, or in the one before, if those were more.
        song, song_at: the song that played and the second it was at; empty where none did.
    """

    behind: float
    t: float
    skipped: int
    reason: Reason
    notes: int = 0
    song: str = ""
    song_at: float = 0.0


def reason_of(beat: Beat, behind: float, gap: float, period: float) -> Reason:
    """Why a turn came late.

    Args:
        behind: seconds, as `Late.behind`. gap: seconds since the turn before. period: of the frames.
    """
    if gap > AWAY + period:
        return Reason.AWAY
    # What the turn before was still at work counts from the frame it made late, not from the one now shown.
    own = beat.busy + beat.skipped * period if beat.busy > 0.0 else 0.0
    return Reason.OWN if 2.0 * own >= behind else Reason.SYSTEM


class Reasons:
    """Counts late turns by reason and keeps the worst few, in bounded memory.

    Attributes:
        turns, left_out: by reason, how many turns came late, and how many frames were left out before them.
    """

    def __init__(self) -> None:
        self.turns = dict.fromkeys(Reason, 0)
        self.left_out = dict.fromkeys(Reason, 0)
        self._worst: list[tuple[float, int, Late]] = []

    def count(self, reason: Reason, skipped: int) -> None:
        """One late turn."""
        self.turns[reason] += 1
        self.left_out[reason] += skipped

    def is_among_worst(self, behind: float) -> bool:
        """True if a turn so late would be kept."""
        return len(self._worst) < WORST or behind > self._worst[0][0]

    def keep(self, late: Late) -> None:
        """Keep it with its time, in place of the least late of those kept."""
        # Of two that are equally late the one that came first stays.
        entry = (late.behind, -sum(self.turns.values()), late)
        if len(self._worst) < WORST:
            heapq.heappush(self._worst, entry)
        else:
            heapq.heappushpop(self._worst, entry)

    @property
    def worst(self) -> list[Late]:
        """The latest few, the latest first."""
        return [late for _, _, late in sorted(self._worst, key=lambda entry: (-entry[0], -entry[1]))]

    @property
    def late(self) -> int:
        """Turns that came late while the machine was awake."""
        return self.turns[Reason.OWN] + self.turns[Reason.SYSTEM]

    @property
    def skipped(self) -> int:
        """Frames left out while the machine was awake."""
        return self.left_out[Reason.OWN] + self.left_out[Reason.SYSTEM]

    @property
    def latest(self) -> Late | None:
        """The latest frame that came while the machine was awake, of those kept."""
        return next((late for late in self.worst if late.reason is not Reason.AWAY), None)

    @property
    def main(self) -> Reason | None:
        """The reason of most frames late or left out while the machine was awake; None where none was."""
        if not self.late:
            return None
        return max((Reason.OWN, Reason.SYSTEM), key=lambda reason: self.turns[reason] + self.left_out[reason])
