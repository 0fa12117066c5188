"""Knows: the beat at any moment, through every change of tempo: what moves with the music asks here.

Must never know: what sets the tempo, what follows it, the clock.
"""

from __future__ import annotations

from collections.abc import Callable

CATCH = 0.5
"""Beats over which a difference is taken up."""

AHEAD = 0.45
"""Beats that may be taken up by going faster or slower; more is a leap, always forwards."""


class Beats:
    """Beats since the show began, in closed form between two changes of tempo.

    Args:
        tempo: beats a minute to begin with.
    """

    __slots__ = ("_beat", "_moment", "_rate", "_since", "_tempo", "_until", "followers", "heir", "ruled")

    def __init__(self, tempo: float) -> None:
        self._tempo = tempo
        self._since = self._beat = 0.0
        # While a difference is taken up: until when, and at how many beats a second.
        self._until = self._rate = 0.0
        self._moment = 0.0
        self.ruled: Callable[[float], bool] = lambda _t: False
        """True if a clock, a hand or the music rules the beat at so many seconds."""
        self.followers: list[Callable[[float], object]] = []
        """Told how far time has come before anything that happens then can change the beat."""
        self.heir: Beats | None = None
        """The beats of a later mapping, which go on from these."""

    @property
    def moment(self) -> float:
        """Seconds of the event that is being taken: a change of tempo holds from then on."""
        return self._moment

    @moment.setter
    def moment(self, value: float) -> None:
        for follow in self.followers:
            follow(value)
        self._moment = value

    @property
    def begun(self) -> float:
        """The beat at the last change; what lies before it has been passed, by going or by a leap."""
        return self._beat

    def when(self, beat: float) -> float:
        """Seconds at which it will be `beat`, if nothing changes; never before the last change."""
        if self._until > self._since:
            caught = self._beat + (self._until - self._since) * self._rate
            if beat >= caught:
                return self._until + (beat - caught) * 60.0 / self._tempo
            return self._since + max(0.0, beat - self._beat) / self._rate
        return self._since + max(0.0, beat - self._beat) * 60.0 / self._tempo

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
        # What is due by the old ones happens first.
        old.moment = stamp
        self._beat, self._since, self._moment = old.at(stamp), stamp, stamp
        self._until = 0.0
        old.heir = self
