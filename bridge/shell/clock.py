"""Knows: what time it is, how to wait for a moment and be woken before it, how to be punctual.

Must never know: what happens at that moment, or which show it belongs to.

The one file that reads a clock. `FakeClock` is its double for tests and for shows faster than real time.
"""

from __future__ import annotations

import contextlib
import heapq
import math
import os
import select
import socket
import sys
import time
from collections.abc import Callable
from itertools import count
from typing import TypeAlias

LONGEST_WAIT = 3600.0
"""Seconds of one system call; longer waits are made of several, since systems refuse huge times."""

COARSE = 0.002 if sys.platform == "win32" else 0.0
"""Seconds before the moment at which the wait turns from `select` to a finer sleep: Windows ends `select` on
a tick of its timer (from memory of its documentation; not measured here)."""


def asleep() -> float:
    """Seconds that the machine has slept since it was started, while `Clock.now` stood still; 0 if not told.

    Linux: man clock_gettime(2), CLOCK_BOOTTIME counts them and CLOCK_MONOTONIC does not. macOS the other way
    round with CLOCK_UPTIME_RAW, from memory of its documentation; on Windows `Clock.now` goes on (so too).
    """
    boot = getattr(time, "CLOCK_BOOTTIME", None)
    if boot is not None:
        return time.clock_gettime(boot) - time.clock_gettime(time.CLOCK_MONOTONIC)
    awake = getattr(time, "CLOCK_UPTIME_RAW", None)
    if awake is not None:
        return time.clock_gettime(time.CLOCK_MONOTONIC) - time.clock_gettime(awake)
    return 0.0


class Wake:
    """A doorbell that any thread can ring and one waiting clock hears.

    A pair of sockets rather than a pipe, because `select` on Windows takes nothing else.
    """

    def __init__(self) -> None:
        self._ear, self._bell = socket.socketpair()
        self._ear.setblocking(False)
        self._bell.setblocking(False)

    def ring(self) -> None:
        """Wake whoever waits, or the next to wait; returns at once, and does nothing once closed."""
        # Full means that many rings already wait unheard, which wakes just as well.
        with contextlib.suppress(OSError):
            self._bell.send(b"\0")

    def fileno(self) -> int:
        """The descriptor that turns readable when rung, -1 once closed."""
        return self._ear.fileno()

    def heard(self) -> bool:
        """True if it was rung since the last call; silences it."""
        rung = False
        with contextlib.suppress(OSError):
            while self._ear.recv(4096):
                rung = True
        return rung

    def close(self) -> None:
        """Give both sockets back; safe to call twice, and done in any case when nobody holds the bell."""
        self._ear.close()
        self._bell.close()

    def __del__(self) -> None:
        self.close()


class Clock:
    """The machine's steady clock: never set back, never adjusted.

    Attributes:
        wake: ring it to end a `wait` early.
    """

    def __init__(self) -> None:
        self.wake = Wake()
        if sys.platform == "win32":
            # Without it a wait ends on the next tick of 15.6 ms; the request ends with the process.
            import ctypes

            ctypes.windll.winmm.timeBeginPeriod(1)

    def now(self) -> float:
        """Seconds since some moment in the past, the same moment for every process of this machine.

        `perf_counter`, because `monotonic` counts in steps of 15.6 ms on Windows before Python 3.13; on
        Linux and macOS both read the same clock.
        """
        return time.perf_counter()

    def wait(self, until: float, wake: Wake | None = None) -> bool:
        """Return at the moment `until`, or sooner if rung.

        Args:
            until: a time of `now()`, in seconds; infinity waits for the bell alone.
            wake: the bell to listen to; None for the clock's own.

        Returns:
            True if the bell ended the wait (it is silent again), False if the moment came.
        """
        bell = self.wake if wake is None else wake
        while True:
            left = until - time.perf_counter()
            if bell.fileno() < 0:
                time.sleep(max(0.0, min(left, LONGEST_WAIT)))
            else:
                select.select([bell], [], [], max(0.0, min(left - COARSE, LONGEST_WAIT)))
                if bell.heard():
                    return True
            left = until - time.perf_counter()
            if left <= 0.0:
                return False
            if left <= COARSE:
                time.sleep(left)

    def close(self) -> None:
        """Give the bell's sockets back."""
        self.wake.close()


class FakeClock:
    """A clock whose time passes only when somebody waits, so that an hour of show takes seconds.

    Args:
        now: the time at first, in seconds.

    Attributes:
        wake: as `Clock.wake`.
        waits: how often `wait` was called.
    """

    def __init__(self, now: float = 0.0) -> None:
        self.wake = Wake()
        self.waits = 0
        self._now = now
        self._plan: list[tuple[float, int, Callable[[], object]]] = []
        self._order = count()

    def now(self) -> float:
        """As `Clock.now`."""
        return self._now

    def at(self, moment: float, do: Callable[[], object]) -> None:
        """Have `do` called by the wait that reaches `moment`; what is due together runs as it was planned."""
        heapq.heappush(self._plan, (moment, next(self._order), do))

    def spend(self, seconds: float) -> None:
        """Let time pass as slow work does; what is planned meanwhile runs at the next wait."""
        self._now += max(0.0, seconds)

    def wait(self, until: float, wake: Wake | None = None) -> bool:
        """As `Clock.wait`; runs what was planned up to `until`, until something rings.

        Raises:
            ValueError: asked to wait for ever with nothing planned that could ring.
        """
        bell = self.wake if wake is None else wake
        self.waits += 1
        while not bell.heard():
            if self._plan and self._plan[0][0] <= max(until, self._now):
                moment, _, do = heapq.heappop(self._plan)
                self._now = max(self._now, moment)
                do()
            elif math.isinf(until) and until > 0:
                raise ValueError("nothing is planned that could end this wait")
            else:
                self._now = max(self._now, until)
                return False
        return True

    def close(self) -> None:
        """As `Clock.close`."""
        self.wake.close()


AnyClock: TypeAlias = Clock | FakeClock


def claim_priority() -> tuple[bool, str]:
    """Ask the system to run the calling thread before all ordinary ones.

    The priority ends with the thread and is not inherited by processes it starts.

    Returns:
        Whether it was given, and one line that says what was got or how to get it.
    """
    if sys.platform == "win32":
        import ctypes

        kernel = ctypes.windll.kernel32
        given = bool(kernel.SetThreadPriority(kernel.GetCurrentThread(), 15))  # THREAD_PRIORITY_TIME_CRITICAL
        return given, "time-critical thread priority" if given else "the system refused a higher priority"
    if not hasattr(os, "sched_setscheduler"):
        return (
            False,
            "this system gives Python no real-time priority; frames may come a little later",
        )
    try:
        # 10 of 99: above every ordinary thread, below the sound system's.
        os.sched_setscheduler(0, os.SCHED_FIFO | os.SCHED_RESET_ON_FORK, os.sched_param(10))
    except (OSError, AttributeError):
        return False, (
            "not allowed; add the line '@audio - rtprio 95' to a file in /etc/security/limits.d, "
            "run 'sudo usermod -aG audio $USER', then log out and in"
        )
    return True, "real-time priority (SCHED_FIFO 10)"


def give_back_priority() -> None:
    """The calling thread is an ordinary one again: what follows a show must keep nobody waiting."""
    if sys.platform == "win32":
        import ctypes

        kernel = ctypes.windll.kernel32
        kernel.SetThreadPriority(kernel.GetCurrentThread(), 0)  # THREAD_PRIORITY_NORMAL
    elif hasattr(os, "sched_setscheduler"):
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
