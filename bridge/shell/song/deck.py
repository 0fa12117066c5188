"""Knows: what the song's own process does: obeys orders, plays, tells where the song is.

Must never know: lamps, frames, or who gives the orders.

Orders come through a pipe as tuples: ("load", path), ("start", run, at, when), ("join", run, wall, seconds),
("stop", run). Words go back as tuples: ("ready", path, length, device), ("refused", path, problems),
("failed", what, remedy), ("trouble", text). The process ends when the other end of the pipe closes.
"""

from __future__ import annotations

import contextlib
import math
import os
import signal
import sys
import threading
from multiprocessing.connection import Connection
from typing import Any

from bridge.shell.clock import Clock
from bridge.shell.song.board import ENDED, IDLE, PLAYING, Board, Reading
from bridge.shell.song.output import Output
from bridge.shell.song.playback import Playback
from bridge.shell.song.portaudio import PATIENCE
from bridge.shell.song.sound_file import SoundFile
from bridge.shell.song.source import Source
from bridge.values.errors import DeviceError, FileError

EVERY = 0.02
"""Seconds between two readings."""

JOIN_IN = 0.5
"""Seconds in which a song that is to sound again at its place is found and read."""

CLOSING = 1.0
"""Seconds the sound system has to let go of us."""

LOOKS = 5
SHARP = 5e-5
"""Seconds within which stream clock and ours are read together; tried up to LOOKS times."""


class Deck:
    """Plays one song after the other on one device.

    Raises:
        DeviceError: there is no sound; see `Output`.
    """

    def __init__(self, pipe: Connection[Any, Any], board: Board, device: str | int | None) -> None:
        self._pipe, self._board, self._device = pipe, board, device
        self._clock = Clock()
        self._output: Output | None = None
        self._playback = Playback(1)
        self._path = ""
        self._ready: Source | None = None
        self._playing: Source | None = None
        self._run = 0
        self._stopped = True
        self._said = 0
        self._trouble = ""
        self._calls = 0
        self._called = 0.0

    def run(self) -> None:
        """Obey until the pipe closes."""
        while True:
            try:
                order = self._pipe.recv() if self._pipe.poll(EVERY) else None
            except (EOFError, OSError):
                return
            try:
                if order is not None:
                    self._obey(*order)
                self._look()
            except FileError as error:
                self._say("refused", self._path, tuple(error.problems))
            self._tell()

    def close(self) -> None:
        """End the sound and leave the device."""
        for source in (self._ready, self._playing):
            if source is not None:
                source.close()
        if self._output is not None:
            self._output.close()

    def _obey(self, word: str, *rest: Any) -> None:
        if word == "load":
            self._load(*rest)
        elif word == "start":
            self._start(*rest)
        elif word == "join":
            run, wall, seconds = rest
            now = self._clock.now()
            self._start(run, seconds + (now + JOIN_IN - wall), now + JOIN_IN)
        else:
            (self._run,) = rest
            self._stopped = True
            self._playback.stop()

    def _load(self, path: str) -> None:
        if self._ready is not None:
            self._ready.close()
            self._ready = None
        self._path = path
        if self._output is None:
            file = SoundFile(path)
            file.close()
            self._output = Output(self._device, file.rate)
            self._playback = Playback(self._output.rate)
            self._output.start(self._playback.fill)
        self._ready = Source(path, self._output.rate)
        self._ready.wait(PATIENCE)
        self._say("ready", path, self._ready.length, self._output.name)

    def _start(self, run: int, at: float, when: float) -> None:
        self._run, self._stopped = run, True
        # Whatever sounds now ends, even if there is nothing to take its place.
        self._playback.stop()
        if self._output is None:
            return
        source, self._ready = self._ready, None
        if source is None or abs(at - source.first) * self._output.rate >= 1.0:
            if source is not None:
                source.close()
            source = Source(self._path, self._output.rate, at)
            source.wait(PATIENCE)
        self._playback.start(source, when - self._offset() if math.isfinite(when) else -math.inf)
        if self._playing is not None:
            self._playing.close()
        self._playing = source
        self._stopped = False

    def _look(self) -> None:
        """See that the device still asks for sound, and hear what went wrong."""
        output = self._output
        if output is None:
            return
        now = self._clock.now()
        if output.calls != self._calls:
            self._calls, self._called = output.calls, now
        elif not self._called:
            self._called = now
        elif not output.active or now - self._called > PATIENCE:
            raise DeviceError(f"the sound output '{output.name}' is gone", "it is looked for again")
        trouble = self._playback.last_error
        if self._playing is not None:
            trouble = trouble or self._playing.trouble
        if trouble != self._trouble:
            self._trouble = trouble
            self._say("trouble", trouble)

    def _offset(self) -> float:
        """Our time less the stream's."""
        assert self._output is not None
        best, offset = math.inf, 0.0
        for _ in range(LOOKS):
            before = self._clock.now()
            stream = self._output.stream_time()
            after = self._clock.now()
            if after - before < best:
                best, offset = after - before, (before + after) / 2 - stream
            if best < SHARP:
                break
        return offset

    def _tell(self) -> None:
        mark = self._playback.mark
        wall = mark.heard + self._offset() if mark else 0.0
        state = PLAYING if self._playback.playing else IDLE if self._stopped else ENDED
        seconds = mark.seconds if mark else 0.0
        self._board.write(Reading(self._run, state, wall, seconds, self._playback.underruns, self._said))

    def _say(self, *words: Any) -> None:
        self._said += 1
        with contextlib.suppress(OSError):
            self._pipe.send(words)


def live_in(pipe: Connection[Any, Any], board: Board, device: str | int | None) -> None:
    """The song's process."""
    with contextlib.suppress(ValueError):
        # Ctrl-C is for the show, which then closes our pipe.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Sound systems complain on the terminal at any time; what concerns us goes through the pipe.
    with contextlib.suppress(OSError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
    # The reading thread lets the callback have Python's lock ten times as soon as by default.
    sys.setswitchinterval(0.0005)
    deck = Deck(pipe, board, device)
    code = 0
    try:
        deck.run()
    except DeviceError as error:
        code = 1
        with contextlib.suppress(OSError):
            pipe.send(("failed", error.what, error.remedy))
    except Exception as error:
        code = 1
        with contextlib.suppress(OSError):
            pipe.send(("failed", f"the song's process failed ({type(error).__name__}: {error})", ""))
    finally:
        # PortAudio was seen to hang for ever when it is closed after its JACK server died.
        last = threading.Timer(CLOSING, os._exit, (code,))
        last.daemon = True
        last.start()
        deck.close()
        os._exit(code)
