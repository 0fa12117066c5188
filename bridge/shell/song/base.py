"""Knows: what a song is to the rest of the show: something that starts, says where it is, and stops.

Must never know: how any song makes sound.
"""

from __future__ import annotations

from typing import Protocol


class Song(Protocol):
    """A song that lamps can follow.

    Seconds are those of the lamps: where an offset delays the lamps, second s is reached that much after the
    song's second s is heard.

    Attributes:
        length: seconds of the song; 0 where not known yet.
        trouble: what is wrong, in one line, for display; empty where all is well.
        underruns: how often sound was not ready in time.
    """

    @property
    def length(self) -> float: ...

    @property
    def trouble(self) -> str: ...

    @property
    def underruns(self) -> int: ...

    @property
    def playing(self) -> bool:
        """True from `start` to the end of the song or `stop`."""

    @property
    def ended(self) -> bool:
        """True once the song has come to its end by itself."""

    def start(self, at: float = 0.0, when: float | None = None) -> None:
        """Begin, or begin again elsewhere. Returns at once.

        Args:
            at: the second to begin with.
            when: the wall time (monotonic seconds) at which the lamps' second `at` shall be; as soon as
                can be where None or too early. Half a second ahead is enough.
        """

    def position(self) -> tuple[float, float] | None:
        """(wall time, second) of the newest reading; None before the first and when no song plays.

        Returns at once; call it each frame, also to let the song be looked after.
        """

    def stop(self) -> None:
        """End the sound. Returns at once."""

    def close(self) -> None:
        """Give everything back; safe to call twice."""
