"""Knows: a song's timing where there is no sound.

Must never know: devices or files.
"""

from __future__ import annotations

from collections.abc import Callable


class SilentSong:
    """A song that only passes; as `base.Song`.

    Args:
        length: seconds; infinite where not known.
        now: gives monotonic seconds.
        offset_s: seconds by which the lamps come later.
    """

    underruns = 0

    def __init__(
        self, length: float, now: Callable[[], float], offset_s: float = 0.0, trouble: str = ""
    ) -> None:
        self.length = length
        self.trouble = trouble
        self._now = now
        self._offset = offset_s
        # The wall time of the lamps' second 0, and that at which the sound would begin.
        self._zero = self._begin = 0.0
        self._going = False

    @property
    def playing(self) -> bool:
        """As `Song.playing`."""
        return self._going and not self.ended

    @property
    def ended(self) -> bool:
        """As `Song.ended`."""
        return self._going and self._now() >= self._zero - self._offset + self.length

    def start(self, at: float = 0.0, when: float | None = None) -> None:
        """As `Song.start`."""
        now = self._now()
        self._begin = now if when is None else max(now, when - self._offset)
        self._zero = self._begin + self._offset - at
        self._going = True

    def position(self) -> tuple[float, float] | None:
        """As `Song.position`: exact, for now."""
        now = self._now()
        return (now, now - self._zero) if self.playing and now >= self._begin else None

    def stop(self) -> None:
        """As `Song.stop`."""
        self._going = False

    def close(self) -> None:
        """As `Song.close`."""
        self.stop()
