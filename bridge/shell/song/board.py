"""Knows: how the song's position crosses from the song's process to the show's, in memory both share.

Must never know: sound, or what is done with a position.

One writer, one reader, no lock, as with the picture of the rig (`picture.py`): a count that is odd while the
numbers change. A sum guards against processors that let the reader see stores out of order.
"""

from __future__ import annotations

from dataclasses import dataclass
from multiprocessing.context import SpawnContext
from typing import Any

TRIES = 50
IDLE, PLAYING, ENDED = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Reading:
    """What the song's process says.

    Args:
        run: number of the start or stop order it last obeyed.
        state: IDLE; PLAYING, also while it waits for its moment; ENDED when the last sample went out.
        wall: monotonic seconds at which `seconds` of the song are heard; 0 and 0 before the first sample.
        underruns: blocks that were not ready in time.
        said: messages it put into the pipe so far.
    """

    run: int = 0
    state: int = IDLE
    wall: float = 0.0
    seconds: float = 0.0
    underruns: int = 0
    said: int = 0


class Board:
    """The shared memory; passed to the song's process when it is started."""

    def __init__(self, context: SpawnContext) -> None:
        self._cells: Any = context.RawArray("d", 8)

    def write(self, reading: Reading) -> None:
        """Put up a new reading."""
        cells = self._cells
        values = (reading.run, reading.state, reading.wall, reading.seconds, reading.underruns, reading.said)
        cells[0] += 1.0
        cells[1:7] = values
        cells[7] = sum(values, cells[0] + 1.0)
        cells[0] += 1.0

    def read(self) -> Reading | None:
        """The newest reading; None where the writer died in the middle of one."""
        for _ in range(TRIES):
            count, *values, total = self._cells[:]
            if count % 2 or self._cells[0] != count or (count and sum(values, count) != total):
                continue
            run, state, wall, seconds, underruns, said = values
            return Reading(int(run), int(state), wall, seconds, int(underruns), int(said))
        return None
