"""Knows: the contract of an output, and the thread that feeds it, marks it down and opens it again.

Must never know: any protocol or device, or how a picture comes about.

One daemon thread each, so that a device stalled inside a write costs only itself.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Iterable
from contextlib import suppress
from math import inf
from typing import Protocol

import numpy as np

from bridge.shell.clock import claim_priority
from bridge.shell.outputs.mailbox import Mailbox
from bridge.shell.outputs.schedule import Act, Schedule
from bridge.shell.outputs.spelling import spec_name
from bridge.values.beat import OutputState
from bridge.values.errors import BridgeError
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire.dmx_serial import highest_refresh_hz

TIMES_KEPT = 4096
"""Sends that are remembered for a reader that looks in now and then: more than a second of early ones."""

FEWEST_SLOTS = 24
"""Slots an early output sends at least: with fewer, the mark that ANSI E1.11 then asks for takes as long."""

END_WITHIN = 1.0
"""Seconds an ending output may take before it is left behind (its thread is a daemon)."""

LAST_SENDS = 3
"""Times the last picture goes out: neither UDP nor RS-485 says whether it arrived. Three is the count
of ANSI E1.31 clause 6.2.6 for the end of a stream; on other wires it is common practice."""

LONGEST_REST = 0.3
"""Seconds at most from one last picture to the next: all three have to fit in END_WITHIN."""


def slots_sent(spec: OutputSpec, top_slot: int, unless_told: int) -> int:
    """Slots 1..512 that go out: up to the highest in use, at least `pad_to`, or `unless_told` without it."""
    return min(SLOTS, max(top_slot, spec.pad_to or unless_told))


def line_seconds(spec: OutputSpec, top_slot: int, period: float = inf) -> float:
    """Seconds from packet to packet that an early output keeps at least; 0 for one that sends none early.

    What the receiver takes as the rig says, else what ANSI E1.11 lets so many slots take. A network
    output feeds such a line at its far end, and ANSI E1.31 clause 6.6.1 holds its sender to the same limit.

    Args:
        period: seconds from one steady frame to the next. Where no two packets fit in it none is sent early:
            each steady frame would wait for the early one before it, and strikes come later than without.
    """
    if not spec.early:
        return 0.0
    slots = slots_sent(spec, top_slot, FEWEST_SLOTS)
    line = max(spec.gap, 1.0 / highest_refresh_hz(slots, spec.break_us))
    return line if 2.0 * line <= period else 0.0


def send_last(send: Callable[[Frame], None], last: Frame, line: float) -> None:
    """Send the last picture LAST_SENDS times, each when the line is free again.

    Sent all at once, a receiver that needs its time after the picture before would miss every one of them.

    Args:
        line: as `line_seconds`; 0 where the sending itself takes as long.
    """
    for number in range(LAST_SENDS):
        if number and line > 0.0:
            time.sleep(min(line, LONGEST_REST))
        send(last)


class Output(Protocol):
    """A device or socket. All three methods are called from one thread, its worker's.

    A write must have a timeout under two frame periods, or the worker cannot tell a stall from a slow device.
    """

    def open(self) -> None:
        """Get ready to send; called again after every failure.

        Raises:
            DeviceError: it cannot be opened; says why and what to do.
        """

    def send(self, frame: Frame) -> None:
        """Send one picture.

        Raises:
            DeviceError: it did not go out and the device has to be opened again.
        """

    def close(self, last: Frame | None) -> None:
        """Send `last` (LAST_SENDS times where the wire may lose it), say goodbye, let the device go.

        None: nothing can be sent, since it failed, or nothing ever was. It must be let go in any case.

        Raises:
            DeviceError: the goodbye did not go out.
        """


class OutputWorker:
    """Feeds one output from a thread of its own, from its birth until `close`.

    Args:
        output: the device; only this worker's thread touches it.
        spec: for its name, its refresh rate, and the universe to blacken.
        now: monotonic seconds.
        wait: waits on the mailbox for at most so many seconds (None: for the bell alone).
        line: seconds its line is busy with a packet, see `line_seconds`; 0: early frames are not for it.
    """

    def __init__(
        self,
        output: Output,
        spec: OutputSpec,
        now: Callable[[], float] = time.perf_counter,
        wait: Callable[[Mailbox, float | None], None] = Mailbox.wait,
        line: float = 0.0,
    ) -> None:
        self.name = spec_name(spec)
        self._output = output
        self._spec = spec
        self._now = now
        self._wait = wait
        self._box = Mailbox()
        self.line = line
        self.times: deque[tuple[float, float]] = deque(maxlen=TIMES_KEPT)
        """(t of the frame, time of `now` at which it had been handed over) of the last sends; any thread may
        take from the left."""
        self._schedule = Schedule(spec.refresh_hz, line)
        self._mood = ("opening", "")
        self._sent = 0
        self._taken = 0
        """Number of the frame that was last on its way to the device."""
        self._failed = 0
        self._ending = False
        self._hold = False
        self._thread = threading.Thread(target=self._run, name=f"output {self.name}", daemon=True)
        self._thread.start()

    def post(self, frame: Frame, early: bool = False, due: float = 0.0) -> None:
        """Leave the newest frame; an older one not yet sent is dropped. Never blocks.

        Args:
            early: between two steady ones; dropped where the output sends none, and while a steady one waits
                for the line: a note that began and ended before that one shows in no other.
            due: time of `now` before which it is not sent.
        """
        if early and not self.line:
            return
        number, _, urgent, _ = self._box.newest
        waits = number != self._taken
        if self._spec.refresh_hz:
            # A strike that waits for the line must not wait for the output's own period too.
            early = early or (urgent and waits)
        elif early and waits and not urgent:
            return
        self._box.put(frame, early, due)

    def state(self) -> OutputState:
        """How it is: opening, up, or down with the reason and what to do."""
        word, note = self._mood
        return OutputState(self.name, word, note, self._sent, self._failed)

    def ask_to_close(self, hold: bool) -> None:
        """Begin the end without waiting for it; what was asked first counts."""
        if not self._ending:
            self._hold = hold
            self._ending = True
            self._box.ring()

    def close(self, hold: bool, within: float = END_WITHIN) -> bool:
        """End: send black (or with `hold` the last picture again), say goodbye, let the device go.

        Args:
            within: seconds to wait for it.

        Returns:
            True when the thread is gone; False when the device is stalled and was left behind.
        """
        self.ask_to_close(hold)
        self._thread.join(within)
        return not self._thread.is_alive()

    def _run(self) -> None:
        claim_priority()  # it does not pass on to threads, and a loop that is on time is no use alone
        while not self._ending:
            number, _, early, due = self._box.newest
            act, pause = self._schedule.due(self._now(), number, early, due)
            if act is Act.WAIT:
                self._wait(self._box, pause)
            else:
                self._try(self._open if act is Act.OPEN else self._send)
        self._end()

    def _try(self, step: Callable[[], None]) -> None:
        # Everything is contained, our own mistakes too: a thread that dies quietly is a dark rig
        # on a machine that seems well.
        try:
            step()
        except Exception as error:
            self._failed += 1
            self._mood = ("down", _reason(error))
            with suppress(Exception):  # what went wrong first is what the player needs to read
                self._output.close(None)
            self._schedule.failed(self._now())

    def _open(self) -> None:
        self._output.open()
        self._schedule.opened()
        if self._box.newest[1] is None:
            # With nothing to send, being open is all that can be known. Otherwise a send will tell, and
            # a device that opens but takes nothing does not flicker between up and down.
            self._mood = ("up", "")

    def _send(self) -> None:
        number, frame, early, _ = self._box.newest
        if frame is None:
            return
        began = self._now()
        self._taken = number
        self._output.send(frame)
        self.times.append((frame.t, self._now()))
        self._schedule.sent(began, number, early)
        self._sent += 1
        self._mood = ("up", "")

    def _end(self) -> None:
        word, why = self._mood
        # An output that was down at the end keeps its reason: it is what the player must read.
        note = why if word == "down" and why else "ended"
        if self._schedule.is_open:
            try:
                self._output.close(self._last_picture())
            except Exception as error:
                note = f"ended without its last picture: {_reason(error)}"
        self._mood = ("down", note)

    def _last_picture(self) -> Frame | None:
        newest = self._box.newest[1]
        if self._hold:
            return newest
        t, universes = (newest.t, newest.universes) if newest else (0.0, (self._spec.sends,))
        return Frame(t, universes, np.zeros((len(universes), SLOTS), np.uint8))


def close_all(workers: Iterable[OutputWorker], hold: bool, within: float = END_WITHIN) -> tuple[str, ...]:
    """End all outputs side by side, `within` seconds for all of them together.

    Returns:
        the names of those that did not end in time.
    """
    workers = tuple(workers)
    for worker in workers:
        worker.ask_to_close(hold)
    deadline = time.monotonic() + within
    return tuple(
        worker.name for worker in workers if not worker.close(hold, max(0.0, deadline - time.monotonic()))
    )


def _reason(error: Exception) -> str:
    if isinstance(error, BridgeError):
        return str(error)
    return f"unexpected {type(error).__name__}: {error}; please report it"
