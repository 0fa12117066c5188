"""Knows: how a thread keeps two seconds of a file's sound ready at the device's rate.

Must never know: devices, the moment anything is heard, other processes.
"""

from __future__ import annotations

import os
import threading

from bridge.shell.song.resample import Resampler
from bridge.shell.song.ring import Ring
from bridge.shell.song.sound_file import Sound, SoundFile

AHEAD = 2.0
"""Seconds kept ready: more than a disk that falls asleep takes to wake, little to fill."""

ENOUGH = 0.3
"""Seconds that must be ready before the song may begin."""

BLOCK = 2048
"""Frames read at a time: a few milliseconds of work, so that Python's lock is soon free again."""

PAUSE = 0.02
"""Seconds between two looks whether there is room. The sound callback could ring a bell instead, but a bell
is a lock, and it must take none."""


class Source:
    """A song from some second on, read ahead by a thread of its own.

    Args:
        path: the audio file.
        rate: frames a second wanted.
        at: the second to begin with.

    Attributes:
        ring: where the sound waits.
        first: the second of the song at which the ring's sound begins.
        length: seconds of the whole song.

    Raises:
        FileError, DeviceError: as `SoundFile`.
    """

    def __init__(self, path: str | os.PathLike[str], rate: int, at: float = 0.0) -> None:
        self._file = SoundFile(path)
        self.length = self._file.length
        self.rate = rate
        self.first = self._file.seek(at)
        self.ring = Ring(round(AHEAD * rate))
        self._resampler = Resampler(self._file.rate, rate)
        self._done = False
        self._trouble = ""
        self._stop = threading.Event()
        self._enough = threading.Event()
        self._thread = threading.Thread(target=self._read, name="song reader", daemon=True)
        self._thread.start()

    @property
    def done(self) -> bool:
        """True once everything that will ever come is in the ring."""
        return self._done

    @property
    def seconds(self) -> float:
        """The second of the song that is taken from the ring next."""
        return self.first + self.ring.taken / self.rate

    @property
    def trouble(self) -> str:
        """Why the song ends early; empty where it does not."""
        return self._trouble or self._file.trouble

    def wait(self, seconds: float) -> bool:
        """Wait until there is enough to begin with; False if that takes longer."""
        return self._enough.wait(seconds)

    def close(self) -> None:
        """End the thread, close the file; safe to call twice."""
        self._stop.set()
        self._thread.join(2.0)

    def _read(self) -> None:
        try:
            while not self._stop.is_set():
                block = self._file.read(BLOCK)
                if not len(block):
                    self._put(self._resampler.finish())
                    break
                self._put(self._resampler.feed(block))
        except Exception as error:
            # A thread must not die unseen; the song ends here and says why.
            self._trouble = f"{type(error).__name__}: {error}"
        finally:
            self._done = True
            self._enough.set()
            self._file.close()

    def _put(self, block: Sound) -> None:
        """Wait for room, bit by bit."""
        while len(block) and not self._stop.is_set():
            block = block[self.ring.write(block) :]
            if self.ring.waiting >= ENOUGH * self.rate:
                self._enough.set()
            if len(block):
                self._stop.wait(PAUSE)
