"""Knows: how ticks of a song file become exact seconds, and seconds become beats and back.

Must never know: bytes of a file, events, or how fast the song is being played just now.

Everything is counted in whole units of time and divided once, at the end, so nothing drifts. With ticks per
quarter the unit is a microsecond divided by that number; with SMPTE division it is a part of a frame.
Source: Standard MIDI Files 1.0 (MMA RP-001), division and set tempo.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

DEFAULT_TEMPO = 500_000
"""Microseconds per quarter note where a file sets no tempo: 120 quarters a minute."""

_FRAME_RATES = {24: (24, 1), 25: (25, 1), 29: (30_000, 1001), 30: (30, 1)}
"""SMPTE format -> frames per second as a fraction; 29 is 30 drop frame, 29.97 frames a second."""


@dataclass(frozen=True, slots=True)
class Division:
    """What a tick is.

    Args:
        per_second: units of time in one second.
        per_tick: units in a tick where tempo is ignored (SMPTE); 0 where the tempo is the number of units.
        per_quarter: ticks in a quarter note; 0 with SMPTE.
    """

    per_second: int
    per_tick: int
    per_quarter: int

    @classmethod
    def from_word(cls, word: int) -> Division:
        """The division word of a file header, 0..65535.

        Raises:
            ValueError: no ticks at all, or a frame rate that SMPTE does not have.
        """
        if word < 0x8000:
            if word == 0:
                raise ValueError("1 to 32767 ticks per quarter note")
            return cls(1_000_000 * word, 0, word)
        frames, ticks = 256 - (word >> 8), word & 0xFF
        if frames not in _FRAME_RATES or ticks == 0:
            raise ValueError("24, 25, 29 or 30 frames a second of 1 to 255 ticks")
        rate, scale = _FRAME_RATES[frames]
        return cls(rate * ticks, scale, 0)


class Ruler:
    """Exact time of every tick of tracks that run together.

    Args:
        division: what a tick is.
        changes: (tick, microseconds per quarter note); of several on one tick the last holds.
        start: units of time at tick 0.
    """

    def __init__(self, division: Division, changes: Iterable[tuple[int, int]], start: int = 0) -> None:
        self._division = division
        held = {0: DEFAULT_TEMPO}
        # Sorting is stable: of two changes on one tick the later in the file stays the later.
        held.update(sorted(() if division.per_tick else changes, key=lambda change: change[0]))
        self.ticks = list(held)
        self.tempos = list(held.values())
        self._rates = [division.per_tick or tempo for tempo in self.tempos]
        self._units = [start]
        for number in range(1, len(self.ticks)):
            passed = self.ticks[number] - self.ticks[number - 1]
            self._units.append(self._units[-1] + passed * self._rates[number - 1])

    def units_at(self, tick: int) -> int:
        """Units of time at a tick >= 0."""
        number = bisect_right(self.ticks, tick) - 1
        return self._units[number] + (tick - self.ticks[number]) * self._rates[number]

    def seconds_at(self, tick: int) -> float:
        """Seconds at a tick >= 0, the nearest float to the exact value."""
        return self.units_at(tick) / self._division.per_second

    def points(self, ticks_before: int) -> list[tuple[float, float, int]]:
        """The points of a `TempoMap`, for a piece that begins `ticks_before` after the song."""
        quarter = self._division.per_quarter
        return [
            (self.seconds_at(tick), (ticks_before + tick) / quarter if quarter else 0.0, tempo)
            for tick, tempo in zip(self.ticks, self.tempos, strict=True)
        ]


@dataclass(frozen=True, slots=True)
class TempoMap:
    """Seconds and beats of a song, in both directions; a beat is a quarter note, beat 0 the song's beginning.

    Args:
        points: (seconds, beat, microseconds per quarter note from there on), ascending, the first at 0.
            A file with SMPTE division knows no beats: it counts as 120 a minute throughout.
    """

    points: tuple[tuple[float, float, int], ...] = ((0.0, 0.0, DEFAULT_TEMPO),)

    def beat_at(self, seconds: float) -> float:
        """The beat at a time; times before the song count back at its first tempo."""
        number = bisect_right(self.points, seconds, key=lambda point: point[0])
        begins, beat, tempo = self.points[max(0, number - 1)]
        return beat + (seconds - begins) * 1e6 / tempo

    def seconds_at(self, beat: float) -> float:
        """The time in seconds of a beat, the reverse of `beat_at`."""
        number = bisect_right(self.points, beat, key=lambda point: point[1])
        begins, first, tempo = self.points[max(0, number - 1)]
        return begins + (beat - first) * tempo / 1e6
