"""Knows: the beat at any moment, through every change of tempo: what moves with the music asks here.

Must never know: what sets the tempo, what follows it, the clock.
"""

from __future__ import annotations

CATCH = 0.5
"""Beats over which a difference is taken up."""

AHEAD = 0.45
"""Beats that may be taken up by going faster or slower; more is a leap, always forwards."""


class Beats:
    """Beats since the show began, in closed form between two changes of tempo.

    Args:
        tempo: beats a minute to begin with.
    """

    __slots__ = ("_beat", "_rate", "_since", "_tempo", "_until", "moment")

    def __init__(self, tempo: float) -> None:
        self._tempo = tempo
        self._since = self._beat = 0.0
        # While a difference is taken up: until when, and at how many beats a second.
        self._until = self._rate = 0.0
        self.moment = 0.0
        """Seconds of the event that is being taken: a change of tempo holds from then on."""

    def at(self, t: float) -> float:
        """The beat at `t` seconds, 0 at the beginning of the show."""
        if t >= self._until:
            start = max(self._since, self._until)
            caught = (self._until - self._since) * self._rate if self._until > self._since else 0.0
            return self._beat + caught + (t - start) * (self._tempo / 60.0)
        return self._beat + (t - self._since) * self._rate

    @property
    def tempo(self) -> float:
        """Beats a minute now."""
        return self._tempo

    @tempo.setter
    def tempo(self, value: float) -> None:
        self._beat, self._since = self.at(self.moment), self.moment
        self._until = 0.0
        self._tempo = value

    def steer(self, beat: float, tempo: float, part: float = 1.0) -> None:
        """Be at `beat` and go at `tempo` from now on; only its place within `part` beats counts.

        A small difference is taken up over the next half beat; the beat never goes back.

        Args:
            part: 1 where any beat is as good as another, 4 where bars of four shall agree.
        """
        moment = max(self.moment, self._since)
        beat += (moment - self.moment) * tempo / 60.0
        now = self.at(moment)
        off = (beat - now) % part
        if off > part - AHEAD:
            off -= part
        self._beat, self._since, self._tempo = now, moment, tempo
        if off > AHEAD:
            self._beat += off
            self._until = self._rate = 0.0
        else:
            self._until = moment + CATCH * 60.0 / tempo
            self._rate = (1.0 + off / CATCH) * tempo / 60.0

    def adopt(self, old: Beats, stamp: float) -> None:
        """Go on where another mapping's beats are at `stamp`, at a tempo of one's own."""
        self._beat, self._since, self.moment = old.at(stamp), stamp, stamp
        self._until = 0.0
