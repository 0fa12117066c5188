"""Knows: what the analysis process does: listens as asked, sends readings, tells what is wrong.

Must never know: lamps, frames, mappings.

Orders come through a pipe: (run, `Listening` or None to be silent, show time from which readings of a file
are wanted), a number (how far the show is), or "leave". Words go back as tuples: ("read", run, readings),
("trouble", text), ("note", text). Readings of a file carry show time; those of an input monotonic time.
"""

from __future__ import annotations

import contextlib
import math
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterable
from dataclasses import replace
from multiprocessing.connection import Connection
from typing import Any

import numpy as np

from bridge.shell.clock import Clock
from bridge.shell.song.portaudio import PATIENCE
from bridge.shell.song.sound_file import SoundFile
from bridge.shell.sound.ear import HOP, Ear, Reading
from bridge.shell.sound.inputs import SoundInput
from bridge.shell.sound.order import Listening
from bridge.shell.sound.whole import LONGEST, beats_of, find_elsewhere
from bridge.values.errors import DeviceError, FileError
from bridge.values.sound import BeatHeard

AGAIN = (0.5, 1.0, 2.0, 5.0)
"""Seconds before an input that failed is tried again."""

LOOK_EVERY = 0.5
"""Seconds between two looks whether the beats of the whole file are known."""

PIECE = 0.25
"""Seconds of a file that are analysed at a time."""

LEAVE = "leave"

AHEAD = 10.0
"""Seconds by which the analysis of a file may be ahead of what was asked for."""

RUN_UP = 4.0
"""Seconds of a file heard before those that are wanted, so that gain and beat have settled."""

SILENT = 2.0
"""Seconds of an input's silence that are worth a note."""

EMPTY = 5.0
"""Seconds of nothing but zeros after which an input is opened anew: no microphone is that quiet, but a
program that left a sound server is, and when it is back it must be found."""

FULL = 0.999
"""Samples from here on are taken for clipped: more than the input can hold came in."""

OVER, HOT, COOL = 0.5, 1.0, 3.0
"""What a clipped block adds, what is worth a note, and the most there is; it falls by 1 a second."""

TOLD = 5.0
"""Seconds for which a loss is said."""

HUSH = 1e-4
"""Loudness, root mean square, under which an input is silent: -80 dB."""


class GoneError(Exception):
    """An open input gives nothing any more."""


class Worker:
    """Listens to one thing after the other."""

    def __init__(self, pipe: Connection[Any, Any]) -> None:
        self._pipe = pipe
        self._clock = Clock()
        self._order: Listening | None = None
        self._run = 0
        self._file: SoundFile | None = None
        self._input: SoundInput | None = None
        self._ear: Ear | None = None
        self._wanted = 0.0
        self._after, self._first = -math.inf, 0.0
        self._again_at, self._tries = 0.0, 0
        self._calls, self._called, self._quiet, self._empty = 0, 0.0, 0.0, 0.0
        self._lost, self._gaps, self._lost_at, self._hot = 0, 0, -math.inf, 0.0
        self._asked, self._look_at, self._ended = False, 0.0, False
        self._helper: subprocess.Popen[bytes] | None = None
        self._said: dict[str, str] = {}

    def run(self) -> None:
        """Until the pipe closes."""
        while True:
            try:
                if self._pipe.poll(self._pause()):
                    self._obey(self._pipe.recv())
                self._turn()
            except (EOFError, BrokenPipeError, ConnectionError):
                return
            except GoneError as error:
                # A sound system that died was seen to hang whoever closes it: this process ends instead, and
                # another is started.
                self._say("trouble", str(error))
                return
            except FileError as error:
                self._say("trouble", str(error).replace("\n", "; "))
                self._leave()
                self._order = None
            except DeviceError as error:
                self._say("trouble", f"{error}; it is tried again")
                self._say("note", "")
                self._leave()
                self._again_at = self._clock.now() + AGAIN[min(self._tries, len(AGAIN) - 1)]
                self._tries += 1

    def close(self) -> None:
        """Give everything back."""
        self._leave()

    def _pause(self) -> float:
        if self._file is not None and self._behind():
            return 0.0
        return 0.002 if self._input is not None else 0.05

    def _behind(self) -> bool:
        assert self._ear is not None
        assert self._order is not None
        return not self._ended and self._first + self._ear.seconds + self._order.at < self._wanted + AHEAD

    def _obey(self, order: Any) -> None:
        if order == LEAVE:
            raise EOFError
        if isinstance(order, float):
            self._wanted = order
            return
        before = self._order
        self._run, self._order, self._after = order
        self._said.clear()
        if self._input is not None and _same_input(before, self._order):
            # Heard differently from now on: opening it anew would leave a gap.
            self._begin_input(self._order, self._input)
            return
        self._leave()
        self._tries, self._again_at, self._wanted = 0, 0.0, max(0.0, self._after)

    def _turn(self) -> None:
        order = self._order
        if order is None:
            return
        if order.file:
            self._read_on(order)
        elif self._input is not None:
            self._listen_on(order, self._input)
        elif self._clock.now() >= self._again_at:
            self._input = SoundInput(order.device, HOP)
            self._begin_input(order, self._input)

    def _begin_input(self, order: Listening, source: SoundInput) -> None:
        self._ear = Ear(source.rate, order.hearing, order.name)
        self._calls, self._called, self._lost = source.calls, self._clock.now(), source.lost
        self._say("trouble", "")

    def _read_on(self, order: Listening) -> None:
        if self._file is None:
            self._file = SoundFile(order.file)
            begin = self._after - order.at - RUN_UP
            self._first = self._file.seek(begin) if begin > 0.0 else 0.0
            self._ear = Ear(self._file.rate, order.hearing, order.name)
            self._asked = not order.ahead or self._file.length > LONGEST
        if self._ear is None:
            return
        if self._ear.follows and order.ahead:
            self._look_up_beats(order, self._ear)
        if not self._behind():
            return
        block = self._file.read(round(PIECE * self._file.rate))
        if len(block):
            heard = self._ear.hear(block.astype(np.float64))
            self._send_file(replace(one, stamp=one.stamp + self._first + order.at) for one in heard)
        else:
            self._say("trouble", self._file.trouble)
            self._ended = True

    def _look_up_beats(self, order: Listening, ear: Ear) -> None:
        """Take the beats of the whole file from where the ear is now on, once they are known."""
        if self._clock.now() < self._look_at:
            return
        self._look_at = self._clock.now() + LOOK_EVERY
        known = beats_of(order.file)
        if known is None:
            if not self._asked:
                self._asked, self._helper = True, find_elsewhere(order.file)
            return
        after = self._first + ear.leave_beats()
        self._say("note", "beats: from the whole file")
        self._send_file(BeatHeard(at + order.at, order.name, bpm, 1.0) for at, bpm in known if at > after)

    def _listen_on(self, order: Listening, source: SoundInput) -> None:
        assert self._ear is not None
        ear, now = self._ear, self._clock.now()
        if source.calls != self._calls:
            self._calls, self._called = source.calls, now
        elif not source.active or now - self._called > PATIENCE:
            raise GoneError(f"the sound input '{source.name}' is gone; it is looked for again")
        offset = now - source.stream_time()
        for first, block in source.take():
            # The block's first frame and the ear's newest second are the same moment.
            zero = first + offset - ear.seconds
            self._send(replace(one, stamp=one.stamp + zero) for one in ear.hear(block))
            seconds = len(block) / source.rate
            self._quiet = 0.0 if ear.loud > HUSH else self._quiet + seconds
            self._empty = 0.0 if block.any() else self._empty + seconds
            over = OVER if np.abs(block).max(initial=0.0) >= FULL else 0.0
            self._hot = min(COOL, max(0.0, self._hot - seconds) + over)
        if source.lost != self._lost:
            self._gaps += source.lost - self._lost
            self._lost, self._lost_at = source.lost, now
        self._say("note", self._noted(order.name, now))
        if self._empty > EMPTY:
            self._empty = 0.0
            self._leave()
            self._again_at = now

    def _noted(self, name: str, now: float) -> str:
        """What is worth knowing of an input that works."""
        if self._quiet > SILENT:
            return f"{name} is silent"
        if self._hot >= HOT:
            return f"{name} is too loud to be heard well: turn it down where it comes from"
        if now - self._lost_at < TOLD:
            return f"{name}: the machine is too busy to hear everything ({self._gaps} gaps so far)"
        return ""

    def _send_file(self, readings: Iterable[Reading]) -> None:
        """Readings of a file, without those of the run-up."""
        self._send(one for one in readings if one.stamp > self._after)

    def _send(self, readings: Iterable[Reading]) -> None:
        found = list(readings)
        if found:
            self._pipe.send(("read", self._run, found))

    def _say(self, word: str, text: str) -> None:
        if self._said.get(word) != text:
            self._said[word] = text
            self._pipe.send((word, text))

    def _leave(self) -> None:
        if self._file is not None:
            self._file.close()
        if self._input is not None:
            # Closing may hang for ever where the sound system has died.
            helper = threading.Thread(target=self._input.close, daemon=True)
            helper.start()
            helper.join(1.0)
        if self._helper is not None and self._helper.poll() is None:
            self._helper.terminate()
            self._helper.wait()
        self._file = self._input = self._ear = self._helper = None
        self._look_at, self._ended = 0.0, False


def _same_input(a: Listening | None, b: Listening | None) -> bool:
    """True if both listen to the same input."""
    return a is not None and b is not None and not a.file and not b.file and a.device == b.device


def live_in(pipe: Connection[Any, Any]) -> None:
    """The analysis process."""
    with contextlib.suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(OSError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
    sys.setswitchinterval(0.0005)
    worker = Worker(pipe)
    try:
        worker.run()
    except Exception as error:
        with contextlib.suppress(OSError):
            pipe.send(("trouble", f"the analysis of sound failed ({type(error).__name__}: {error})"))
    finally:
        # Sound systems that died were seen to hang the one who closes them.
        last = threading.Timer(1.0, os._exit, (0,))
        last.daemon = True
        last.start()
        with contextlib.suppress(Exception):
            worker.close()
        os._exit(0)
