"""Knows: where a song is at any moment and how fast its clock runs, from readings that jitter.

Must never know: frames, clocks, devices.

Two numbers, place and rate, kept by a Kalman filter (R. E. Kalman, "A New Approach to Linear Filtering and
Prediction Problems", 1960): the first readings count much, later ones ever less, gaps make it doubt again.
"""

from __future__ import annotations

import math

JITTER = 0.003
"""Seconds a reading is usually wrong by (one standard deviation): a sound callback that was late."""

WANDER = 5e-5
"""Seconds per root second by which the song's place wanders for other reasons than its rate."""

RATE_DOUBT = 3e-4
"""How far a sound clock may be from the machine's at first sight; two crystals differ by 1e-4 or less."""

RATE_WANDER = 5e-7
"""Change of that per root second: crystals drift with warmth."""

RATE_MOST = 0.005
"""What is further off is not a clock's rate but a song that stumbles."""

JUMP = 0.02
"""Seconds off at which a reading is left out as a slip, unless others follow that say the same."""

JUMP_READINGS, JUMP_SECONDS = 6, 0.2
"""How many in a row, over how long, make a jump of slips: the song really is elsewhere."""

LEAN, USUAL = 1 / 16, 1 / 64
"""Share of a new reading in the running means of how far readings are off, and how far they usually are."""

LEANING = 0.0015
"""Seconds of the first mean from which readings that lean to one side, though none is far off, make a step: a
sound card that lost a block. A mean over 16 of readings that only jitter is a fifth of what one is off by, so
it rarely comes near the second mean, which it must exceed too."""

LONGEST_GAP = 3600.0


class SongLine:
    """A straight line, place over wall time, fitted to what was heard."""

    def __init__(self) -> None:
        self.known = False
        """True once there was a reading."""
        self._wall = -math.inf
        self._place = 0.0
        self._drift = 0.0
        # Covariance: of the place, of place with rate, of the rate.
        self._pp, self._pr, self._rr = 0.0, 0.0, RATE_DOUBT**2
        self._slips: list[tuple[float, float]] = []
        self._lean, self._usual = 0.0, JITTER

    @property
    def rate(self) -> float:
        """Seconds of song in a second of wall time; 1 before anything is known."""
        return 1.0 + self._drift

    def at(self, wall: float) -> float:
        """The place, in seconds, at a wall time."""
        return self._place + self.rate * (wall - self._wall)

    def forget_place(self) -> None:
        """The next reading may be anywhere; the rate is still believed, since the device is the same."""
        self.known = False

    def hear(self, wall: float, place: float) -> bool:
        """Take a reading; False, and nothing changes, if it is no newer than the last."""
        if wall <= self._wall:
            return False
        if not self.known:
            self._restart(wall, place)
            return True
        self._predict(wall)
        surprise = place - self._place
        spread = math.sqrt(self._pp + JITTER**2)
        if abs(surprise) > max(JUMP, 5.0 * spread):
            self._slip(wall, place, surprise)
            return True
        self._slips.clear()
        self._doubt(surprise)
        total = self._pp + JITTER**2
        gain, rate_gain = self._pp / total, self._pr / total
        self._place += gain * surprise
        self._drift = min(RATE_MOST, max(-RATE_MOST, self._drift + rate_gain * surprise))
        self._rr -= rate_gain * self._pr
        self._pp *= 1.0 - gain
        self._pr *= 1.0 - gain
        return True

    def _doubt(self, surprise: float) -> None:
        """Believe the place less where readings lean to one side, so that a step is taken up in a second."""
        self._lean += LEAN * (surprise - self._lean)
        self._usual += USUAL * (abs(surprise) - self._usual)
        if abs(self._lean) > max(LEANING, self._usual):
            self._pp += self._lean**2
            self._lean = 0.0

    def _predict(self, wall: float) -> None:
        """Go on to a later wall time, with growing doubt."""
        self._place = self.at(wall)
        gap = min(wall - self._wall, LONGEST_GAP)
        self._wall = wall
        self._pp += gap * (2.0 * self._pr + gap * self._rr + WANDER**2)
        self._pr += gap * self._rr
        self._rr = min(self._rr + gap * RATE_WANDER**2, RATE_DOUBT**2)

    def _slip(self, wall: float, place: float, surprise: float) -> None:
        """A reading far off: left out, unless it is one of several that agree."""
        slips = self._slips
        if slips and slips[-1][1] * surprise < 0.0:
            slips.clear()
        slips.append((wall, surprise))
        if len(slips) >= JUMP_READINGS and wall - slips[0][0] >= JUMP_SECONDS:
            self._restart(wall, place)

    def _restart(self, wall: float, place: float) -> None:
        self.known = True
        self._wall, self._place = wall, place
        self._pp, self._pr = JITTER**2, 0.0
        self._slips.clear()
        self._lean, self._usual = 0.0, JITTER
