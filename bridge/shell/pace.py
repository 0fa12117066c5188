"""Knows: at what wall time frame k is due and what show time a wall time is, steadily or steered by a song.

Must never know: clocks, threads, sound devices; every time is handed in.

Frame k is always the picture at t = k / refresh_hz. A song moves only the wall time at which t comes.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import Protocol

from bridge.shell.song.line import SongLine

LOCK_SLEW = 0.015
"""How much faster or slower than the song the show may run to take up a difference, in lock. With what a
sound clock itself may be off (0.005, see `song/line.py`) frames come within 2 % of their period."""

CATCH_SLEW = 0.25
"""The same while a start, or a song that jumped, is being caught."""

LOCK_EASE, CATCH_EASE = 1.0, 0.25
"""Seconds over which a difference is taken up, where that is slower than the slew allows."""

LOCKED, LOST = 0.002, 0.02
"""Seconds of difference at which catching ends, and at which it begins again: a song that keeps losing time
faster than the lock may follow."""

KEPT = 2048
"""Bends of the past that are kept, to date late events: more than half a minute at 50 readings a second."""


class Pace(Protocol):
    """How show time (seconds, 0 at frame 0) lies on the monotonic clock."""

    def due(self, k: int) -> float:
        """The wall time of frame k, in monotonic seconds."""

    def show(self, wall: float) -> float:
        """The show time at a wall time: the inverse of `due`. Below 0 before the start."""


class Steady:
    """Show time runs as the machine's clock does.

    Args:
        start: wall time of frame 0.
        hz: frames a second.
    """

    def __init__(self, start: float, hz: float) -> None:
        self._start, self._hz = start, hz

    def due(self, k: int) -> float:
        """As `Pace.due`."""
        return self._start + k / self._hz

    def show(self, wall: float) -> float:
        """As `Pace.show`."""
        return wall - self._start


class Steered:
    """Show time runs as a song does: readings of the song's position bend it, smoothly and never backwards.

    What was told stays true: an answer of `due` or `show` settles everything up to that moment, and a reading
    bends only what lies behind it. So ask for the frame that comes next, not for one an hour ahead.

    The song's clock is estimated as a line (`SongLine`); the show runs at the line's rate plus what takes up
    the difference. Where no more readings come, the difference is taken up and the last rate goes on.

    Args:
        start: wall time of frame 0.
        hz: frames a second.
        song_at: the show time, in seconds, at which the song's second 0 belongs.
    """

    def __init__(self, start: float, hz: float, song_at: float = 0.0) -> None:
        self._hz = hz
        self._line = SongLine()
        # Show time over wall time: straight from bend to bend, at `_rate` behind the last.
        self._walls = [start]
        self._shows = [0.0]
        self._rate = 1.0
        self._settled = start
        self._song_at = song_at
        self._catching = True
        self._off = 0.0

    @property
    def locked(self) -> bool:
        """True once the song was heard and the show runs with it."""
        return self._line.known and not self._catching

    @property
    def off(self) -> float:
        """Seconds the show was behind the song at the last reading, as far as is known; below 0: ahead."""
        return self._off

    @property
    def rate(self) -> float:
        """Seconds of the song that pass in a second of the machine's clock, as far as is known; near 1."""
        return self._line.rate

    def due(self, k: int) -> float:
        """As `Pace.due`."""
        wall = self._when(k / self._hz)
        self._settled = max(self._settled, wall)
        return wall

    def show(self, wall: float) -> float:
        """As `Pace.show`."""
        self._settled = max(self._settled, wall)
        return self._at(wall)

    def begin(self, song_at: float) -> None:
        """Another song begins, or the same one elsewhere: its second 0 belongs at this show time.

        The show catches it within a second or so. Least is seen where `song_at` is chosen so that the show
        is a little ahead and waits: the next frame after the moment at which the song was first heard.
        """
        self._song_at = song_at
        self._line.forget_place()
        self._catching = True

    def hear(self, wall: float, position: float) -> None:
        """A reading: at `wall` the song's second `position` is heard. The same one twice counts once.

        Args:
            wall: monotonic seconds; a little in the future where the sound is still on its way.
            position: seconds since the song's beginning.
        """
        if not (math.isfinite(wall) and math.isfinite(position)):
            return
        if self._line.hear(wall, position + self._song_at):
            self._bend()

    def _bend(self) -> None:
        """Lay the way to the song's line, from the last settled moment on."""
        wall = self._settled
        show = self._at(wall)
        self._off = off = self._line.at(wall) - show
        if abs(off) < LOCKED:
            self._catching = False
        elif abs(off) > LOST:
            self._catching = True
        slew, ease = (CATCH_SLEW, CATCH_EASE) if self._catching else (LOCK_SLEW, LOCK_EASE)
        span = max(ease, abs(off) / slew)
        rate = self._line.rate
        keep = bisect_right(self._walls, wall)
        if keep and self._walls[keep - 1] == wall:
            keep -= 1
        del self._walls[keep:], self._shows[keep:]
        self._walls += (wall, wall + span)
        self._shows += (show, show + rate * span + off)
        self._rate = rate
        if len(self._walls) > 2 * KEPT:
            del self._walls[:KEPT], self._shows[:KEPT]

    def _at(self, wall: float) -> float:
        return _along(self._walls, self._shows, wall, self._rate)

    def _when(self, show: float) -> float:
        return _along(self._shows, self._walls, show, 1.0 / self._rate)


def _along(xs: list[float], ys: list[float], x: float, beyond: float) -> float:
    """A line through points: at slope 1 before the first, at slope `beyond` after the last."""
    if x >= xs[-1]:
        return ys[-1] + (x - xs[-1]) * beyond
    i = bisect_right(xs, x)
    if i == 0:
        return ys[0] + (x - xs[0])
    return ys[i - 1] + (x - xs[i - 1]) * (ys[i] - ys[i - 1]) / (xs[i] - xs[i - 1])
