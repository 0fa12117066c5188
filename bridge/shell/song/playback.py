"""Knows: what the sound callback does: which samples go out next, and which second of the song is heard when.

Must never know: devices, files, processes; the callback's times are handed in.

The callback must never wait, fail, or do more than copy: it belongs to the sound system's own thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from bridge.shell.song.sound_file import Sound
from bridge.shell.song.source import Source

RAMP = 0.005
"""Seconds over which a song that begins or stops in the middle fades, so that it does not click."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment of the song.

    Args:
        heard: stream time, in seconds, at which it is heard.
        seconds: the second of the song.
    """

    heard: float
    seconds: float


class _Run:
    """One start of a song: an object, so that a callback still busy with the last cannot end this one."""

    def __init__(self, source: Source, when: float) -> None:
        self.source = source
        self.when = when
        self.fresh = True
        self.leaving = False
        self.over = False
        self.mark: Mark | None = None


class Playback:
    """Feeds a sound device.

    Args:
        rate: frames a second of the device.

    Attributes:
        underruns: blocks that were not ready in time and were filled with silence.
        errors: callbacks in which something failed; `last_error` says what.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._run: _Run | None = None
        self.underruns = 0
        self.errors = 0
        self.last_error = ""

    @property
    def playing(self) -> bool:
        """True from `start` until the last sample went out."""
        run = self._run
        return run is not None and not run.over

    @property
    def mark(self) -> Mark | None:
        """The newest block that went out; None while no song sounds."""
        run = self._run
        return None if run is None or run.over else run.mark

    def start(self, source: Source, when: float = -math.inf) -> None:
        """Play a source from where it stands, instead of what plays now.

        Args:
            source: with enough in its ring.
            when: the stream time, in seconds, at which its first sample shall be heard; at once where past.
        """
        self._run = _Run(source, when)

    def stop(self) -> None:
        """Fade out with the next block."""
        if self._run is not None:
            self._run.leaving = True

    def fill(self, out: Sound, heard: float) -> None:
        """The callback: fill a block whose first frame is heard at stream time `heard`. Never raises."""
        try:
            run = self._run
            if run is None or run.over:
                out[:] = 0.0
            else:
                self._fill(run, out, heard)
        except Exception as error:
            self.errors += 1
            self.last_error = f"{type(error).__name__}: {error}"
            out[:] = 0.0

    def _fill(self, run: _Run, out: Sound, heard: float) -> None:
        leaving = run.leaving
        early = run.when - heard
        if early > 0.0:
            silent = min(len(out), math.ceil(early * self._rate))
            out[:silent] = 0.0
            out = out[silent:]
            heard += silent / self._rate
            if not len(out):
                run.over = leaving
                return
        run.when = -math.inf
        source = run.source
        # Asked before the samples are counted: what was put in before it said so is counted too.
        done = source.done
        start = source.seconds
        count = source.ring.take_into(out)
        out[count:] = 0.0
        if run.fresh and start > 0.0:
            self._fade(out, rising=True)
        if leaving:
            self._fade(out, rising=False)
        run.fresh = False
        run.mark = Mark(heard, start)
        if leaving or (done and count < len(out)):
            run.over = True
        elif count < len(out):
            self.underruns += 1

    def _fade(self, out: Sound, rising: bool) -> None:
        frames = min(len(out), round(RAMP * self._rate))
        ramp = np.linspace(0.0, 1.0, frames, dtype=np.float32)[:, None]
        if rising:
            out[:frames] *= ramp
        else:
            out[:frames] *= ramp[::-1]
            out[frames:] = 0.0
