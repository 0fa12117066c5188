"""Knows: the beat at any moment, through every change of tempo: what moves with the music asks here.

Must never know: what sets the tempo, what follows it, the clock.
"""

from __future__ import annotations


class Beats:
    """Beats since the show began, in closed form between two changes of tempo.

    Args:
        tempo: beats a minute to begin with.
    """

    __slots__ = ("_beat", "_since", "_tempo", "moment")

    def __init__(self, tempo: float) -> None:
        self._tempo = tempo
        self._since = self._beat = 0.0
        self.moment = 0.0
        """Seconds of the event that is being taken: a change of tempo holds from then on."""

    def at(self, t: float) -> float:
        """The beat at `t` seconds, 0 at the beginning of the show."""
        return self._beat + (t - self._since) * (self._tempo / 60.0)

    @property
    def tempo(self) -> float:
        """Beats a minute now."""
        return self._tempo

    @tempo.setter
    def tempo(self, value: float) -> None:
        self._beat, self._since = self.at(self.moment), self.moment
        self._tempo = value

    def adopt(self, old: Beats, stamp: float) -> None:
        """Go on where another mapping's beats are at `stamp`, at a tempo of one's own."""
        self._beat, self._since, self.moment = old.at(stamp), stamp, stamp
