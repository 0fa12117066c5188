"""Knows: a bounded store of samples between one thread that reads a file and one that plays.

Must never know: files, devices, or time.
"""

from __future__ import annotations

import numpy as np

from bridge.shell.song.sound_file import Sound


class Ring:
    """First in, first out; one writer and one reader, no lock.

    Each side changes only its own count, after the samples are in place: a sound callback must not wait for a
    lock that a reading thread may hold.

    Args:
        frames: how many it holds.
        channels: of the sound.
    """

    def __init__(self, frames: int, channels: int = 2) -> None:
        self._samples = np.zeros((frames, channels), dtype=np.float32)
        self._written = 0
        self._taken = 0

    @property
    def waiting(self) -> int:
        """Frames written and not yet taken."""
        return self._written - self._taken

    @property
    def free(self) -> int:
        """Frames there is room for."""
        return len(self._samples) - self.waiting

    @property
    def taken(self) -> int:
        """Frames taken since the beginning."""
        return self._taken

    def write(self, block: Sound) -> int:
        """Put frames in as far as there is room; how many went in."""
        count = min(len(block), self.free)
        at = self._written % len(self._samples)
        first = min(count, len(self._samples) - at)
        self._samples[at : at + first] = block[:first]
        self._samples[: count - first] = block[first:count]
        self._written += count
        return count

    def take_into(self, out: Sound) -> int:
        """Move the oldest frames into `out` as far as there are any; how many. The rest of `out` stays."""
        count = min(len(out), self.waiting)
        at = self._taken % len(self._samples)
        first = min(count, len(self._samples) - at)
        out[:first] = self._samples[at : at + first]
        out[first:count] = self._samples[: count - first]
        self._taken += count
        return count
