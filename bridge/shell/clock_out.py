"""Knows: how our beat goes out as a MIDI clock, so that a workstation can follow.

Must never know: what rules the beat, lamps, which port it is.

Source: MIDI 1.0 Detailed Specification (document 4.2): 24 clocks a quarter note; song position, in
sixteenths, is sent while the song stands, and continue makes the next clock that place.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable

from bridge.shell.clock import Clock, Wake
from bridge.values.events import RealTime, SongPosition
from bridge.wire.midi_out import encode

TICKS = 24
"""A quarter note."""

PORT = "clock"

LEAP = 0.4
"""Beats by which our beat may jump before the receiver is told the place anew."""

HURRY = 0.002
"""Seconds between two ticks at least, where several are due at once."""

TOP = 16384
"""Sixteenths that a song position can name."""

Send = Callable[[bytes], None]


class Ticks:
    """When which message goes out, for a beat that is told again and again.

    Attributes:
        next_at: the moment of the next tick; infinity while no beat is known.
    """

    def __init__(self) -> None:
        self._wall, self._beat, self._bpm = 0.0, 0.0, 0.0
        self._number: int | None = None
        self.next_at = math.inf

    def tell(self, wall: float, beat: float, bpm: float) -> list[bytes]:
        """At `wall` (monotonic seconds) it is `beat` (quarters), at `bpm`; what goes out at once."""
        if not (math.isfinite(wall) and math.isfinite(beat) and bpm > 0.0):
            return []
        off = abs(beat - self._at(wall)) if self._bpm else math.inf
        self._wall, self._beat, self._bpm = wall, max(0.0, beat), bpm
        out: list[bytes] = []
        if off > LEAP:
            if self._number is not None:
                out.append(encode(RealTime(0.0, PORT, "stop")))
            # A place can only be a sixteenth, and the receiver begins it with the tick after continue.
            sixteenth = math.ceil(self._beat * 4.0 + 0.1)
            out += [
                encode(SongPosition(0.0, PORT, sixteenth % TOP)),
                encode(RealTime(0.0, PORT, "continue")),
            ]
            self._number = sixteenth * TICKS // 4
        self._plan()
        return out

    def tick(self) -> bytes:
        """The tick that is due goes out."""
        if self._number is not None:
            self._number += 1
        self._plan()
        return encode(RealTime(0.0, PORT, "clock"))

    def stop(self) -> list[bytes]:
        """The show ends."""
        if self._number is None:
            return []
        self._number, self._bpm, self.next_at = None, 0.0, math.inf
        return [encode(RealTime(0.0, PORT, "stop"))]

    def _at(self, wall: float) -> float:
        return self._beat + (wall - self._wall) * self._bpm / 60.0

    def _plan(self) -> None:
        if self._number is not None and self._bpm > 0.0:
            self.next_at = self._wall + (self._number / TICKS - self._beat) * 60.0 / self._bpm


class ClockOut:
    """Sends a MIDI clock from a thread of its own.

    Args:
        send: takes one whole message; what it raises is kept as `trouble`.
        clock: monotonic time.
    """

    def __init__(self, send: Send, clock: Clock) -> None:
        self._send, self._clock = send, clock
        self._wake = Wake()
        self._lock = threading.Lock()
        self._ticks = Ticks()
        self._out: list[bytes] = []
        self._leave = False
        self.trouble = ""
        """Why the last message did not go out; empty where all is well."""
        self._thread = threading.Thread(target=self._run, name="clock out", daemon=True)
        self._thread.start()

    def tell(self, wall: float, beat: float, bpm: float) -> None:
        """As `Ticks.tell`; call with each frame. Returns at once."""
        with self._lock:
            before = self._ticks.next_at
            self._out += self._ticks.tell(wall, beat, bpm)
            sooner = self._ticks.next_at < before - 0.001 or self._out
        if sooner:
            self._wake.ring()

    def close(self) -> None:
        """Send stop and end the thread; safe to call twice."""
        self._leave = True
        self._wake.ring()
        self._thread.join(1.0)

    def _run(self) -> None:
        while not self._leave:
            with self._lock:
                due, out = self._ticks.next_at, self._out
                self._out = []
            for message in out:
                self._pass(message)
            if self._clock.now() >= due:
                with self._lock:
                    message = self._ticks.tick()
                self._pass(message)
                self._clock.wait(self._clock.now() + HURRY, self._wake)
            else:
                self._clock.wait(due, self._wake)
        for message in self._ticks.stop():
            self._pass(message)
        self._wake.close()

    def _pass(self, message: bytes) -> None:
        try:
            self._send(message)
            self.trouble = ""
        except Exception as error:  # rtmidi has errors of its own, which only midi_api may know
            self.trouble = f"clock_to: the clock was not sent on ({error})"
