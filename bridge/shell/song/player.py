"""Knows: the show's end of a song that plays in a process of its own: orders out, positions in, upkeep.

Must never know: samples, devices, lamps.

A process of its own, because a sound callback takes Python's lock of its process every few milliseconds, and
because a sound system that dies was seen to hang the program that used it.
"""

from __future__ import annotations

import contextlib
import math
import multiprocessing
import os
from multiprocessing.connection import Connection
from typing import Any

from bridge.shell.clock import AnyClock, Clock
from bridge.shell.song.board import ENDED, PLAYING, Board, Reading
from bridge.shell.song.deck import live_in
from bridge.values.errors import DeviceError, FileError

OPENING = 15.0
"""Seconds a sound system may take to open."""

RESTART_PAUSES = (0.5, 1.0, 2.0, 5.0, 10.0)
"""Seconds before a process that ended is started again, for the first time, the second and so on."""


class SongPlayer:
    """A song through a sound device; as `base.Song`.

    Args:
        path: the audio file.
        offset_s: seconds by which the lamps come later than the song; below 0, earlier.
        device: a part of the sound output's name, its number, or None for the system's default.
        clock: monotonic time, the same for all processes of this machine.
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        offset_s: float = 0.0,
        device: str | int | None = None,
        clock: AnyClock | None = None,
    ) -> None:
        self._path, self._offset, self._device = os.fspath(path), offset_s, device
        self._clock = Clock() if clock is None else clock
        self._context = multiprocessing.get_context("spawn")
        self._process: Any = None
        self._pipe: Connection[Any, Any] | None = None
        self._board = Board(self._context)
        self._heard = 0
        self._run = 0
        self._wanted = False
        self._last: tuple[float, float] | None = None
        self._deaths = 0
        self._again_at = math.inf
        self._failure: DeviceError | FileError | None = None
        self.length = 0.0
        """Seconds of the song; 0 until it is `ready`."""
        self.device = ""
        """Name of the sound output; empty until `ready`."""
        self.ready = False
        """True once the song may start without delay."""
        self.trouble = ""
        """As `Song.trouble`."""

    def open(self) -> None:
        """Start the process, open device and file, wait until all is ready.

        Raises:
            FileError: the file cannot be played.
            DeviceError: there is no sound output that can be used.
        """
        self.prepare()
        until = self._clock.now() + OPENING
        while not self.ready and self._failure is None:
            left = until - self._clock.now()
            if left <= 0.0:
                self._failure = DeviceError(
                    "the sound system does not answer", "end what holds it, or start it again"
                )
            elif self._pipe is not None and self._pipe.poll(left):
                self._listen()
        if self._failure is not None:
            failure = self._failure
            self.close()
            raise failure

    def prepare(self) -> None:
        """As `open`, but return at once: `ready` or `trouble` tell how it went."""
        if self._process is None:
            self._spawn()
            self._order("load", self._path)

    def load(self, path: str | os.PathLike[str], offset_s: float = 0.0) -> None:
        """Get the next song ready, on the same device; what plays goes on until `start`. Returns at once."""
        self._path, self._offset = os.fspath(path), offset_s
        self.ready, self.trouble, self.length = False, "", 0.0
        self._failure = None
        if self._process is None:
            self.prepare()
        else:
            self._order("load", self._path)

    def start(self, at: float = 0.0, when: float | None = None) -> None:
        """As `Song.start`."""
        self._begin_run()
        # A file that cannot be played never will be; a device may come back.
        self._wanted, self._deaths = not isinstance(self._failure, FileError), 0
        self._order("start", self._run, at, -math.inf if when is None else when - self._offset)

    def stop(self) -> None:
        """As `Song.stop`."""
        self._begin_run()
        self._order("stop", self._run)

    def position(self) -> tuple[float, float] | None:
        """As `Song.position`."""
        reading = self._reading()
        if reading is not None and reading.said != self._heard:
            self._listen()
        self._look_after()
        if not self._wanted or reading is None or reading.run != self._run:
            return None
        if reading.state != PLAYING or reading.wall == 0.0:
            return None
        self._last = reading.wall, reading.seconds
        return reading.wall, reading.seconds - self._offset

    @property
    def playing(self) -> bool:
        """As `Song.playing`."""
        return self._wanted and not self.ended

    @property
    def ended(self) -> bool:
        """As `Song.ended`."""
        reading = self._reading()
        return self._wanted and reading is not None and reading.run == self._run and reading.state == ENDED

    @property
    def underruns(self) -> int:
        """As `Song.underruns`."""
        reading = self._reading()
        return reading.underruns if reading else 0

    @property
    def pid(self) -> int | None:
        """The song process's id."""
        return self._process.pid if self._process is not None else None

    def close(self) -> None:
        """As `Song.close`."""
        self._wanted = False
        self._again_at = math.inf
        self._let_go()
        if self._process is not None:
            self._process.join(2.0)
            if self._process.is_alive():
                self._process.kill()
                self._process.join(1.0)
            self._process = None

    def _begin_run(self) -> None:
        self._run += 1
        self._wanted = False
        self._last = None

    def _reading(self) -> Reading | None:
        return self._board.read()

    def _spawn(self) -> None:
        ours, theirs = self._context.Pipe()
        self._board = Board(self._context)
        self._heard = 0
        self._process = self._context.Process(
            target=live_in, args=(theirs, self._board, self._device), name="lampwright song", daemon=True
        )
        self._process.start()
        theirs.close()
        self._pipe = ours

    def _order(self, *words: Any) -> None:
        if self._pipe is not None:
            with contextlib.suppress(OSError):
                self._pipe.send(words)

    def _listen(self) -> None:
        """Hear what the process says, if anything."""
        try:
            while self._pipe is not None and self._pipe.poll(0):
                self._take(*self._pipe.recv())
        except (EOFError, OSError):
            if self._failure is None:
                self._fail(DeviceError("the song's process ended", "it is started again"))
            self._let_go()

    def _take(self, word: str, *rest: Any) -> None:
        self._heard += 1
        if word == "ready" and rest[0] == self._path:
            _, self.length, self.device = rest
            self.ready, self.trouble, self._failure = True, "", None
        elif word == "refused" and rest[0] == self._path:
            self._fail(FileError(rest[1]))
        elif word == "failed":
            self._fail(DeviceError(*rest))
        elif word == "trouble":
            (self.trouble,) = rest

    def _fail(self, failure: DeviceError | FileError) -> None:
        self._failure = failure
        self.trouble = str(failure)

    def _let_go(self) -> None:
        self.ready = False
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None

    def _look_after(self) -> None:
        """Start a process that died again, with growing pauses, and let the song sound where it would be."""
        if self._process is None or self._process.is_alive():
            return
        now = self._clock.now()
        if math.isinf(self._again_at):
            self._listen()
            self._let_go()
            self._again_at = now + RESTART_PAUSES[min(self._deaths, len(RESTART_PAUSES) - 1)]
            self._deaths += 1
        elif now >= self._again_at:
            self._again_at = math.inf
            self._failure = None
            self._spawn()
            self._order("load", self._path)
            if self._wanted and self._last is not None:
                self._order("join", self._run, *self._last)
