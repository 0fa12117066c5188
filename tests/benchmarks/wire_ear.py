"""Knows: when sACN packets arrived on a loopback address, by the kernel's stamps, and what their headers say.

Must never know: who sent them, or what is measured. Linux only (SO_TIMESTAMPNS).

Every benchmark listens on a loopback address of its own (127.0.0.x), so that one that runs for an hour and
another beside it do not take each other's packets.
"""

from __future__ import annotations

import select
import socket
import struct
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

PORT = 5568
"""ANSI E1.31 clause 9.1.1."""
TIMESTAMPNS = 35
"""SO_TIMESTAMPNS of Linux, which Python does not name."""
_SEQUENCE, _OPTIONS, _UNIVERSE, _FIRST_SLOT = 111, 112, 113, 126
_TERMINATED = 0x40


def realtime_offset() -> float:
    """Seconds to take from a kernel stamp (CLOCK_REALTIME) to get `time.perf_counter` (CLOCK_MONOTONIC).

    Of some readings the one that took least: it is off by half of what it took, some 0.1 microseconds.
    """
    best, offset = 1.0, 0.0
    for _ in range(20):
        before = time.perf_counter_ns()
        real = time.clock_gettime_ns(time.CLOCK_REALTIME)
        after = time.perf_counter_ns()
        if (after - before) / 1e9 < best:
            best, offset = (after - before) / 1e9, (real - (before + after) // 2) / 1e9
    return offset


@dataclass
class Heard:
    """One universe's packets in order of arrival: when (`perf_counter`), and their numbers 0..255.

    `slots` holds the values of the packets whose picture was new, and the place of each in `at`.
    """

    at: list[float] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    slots: list[tuple[int, bytes]] = field(default_factory=list)

    def missed(self) -> int:
        """Packets that never came, by the gaps in the numbers."""
        steps = np.diff(np.array(self.numbers, dtype=np.int64)) % 256
        return int((steps - 1)[steps > 0].sum())

    def cut(self, begin: float, end: float) -> Heard:
        """Those that arrived from `begin` to `end`, without their slots."""
        pairs = [(a, n) for a, n in zip(self.at, self.numbers, strict=True) if begin <= a <= end]
        return Heard([a for a, _ in pairs], [n for _, n in pairs])

    def errors_ms(self, hz: float) -> npt.NDArray[np.float64]:
        """How far each interval is from the period, in milliseconds."""
        return np.abs(np.diff(np.array(self.at)) - 1.0 / hz) * 1e3

    def ppm(self, hz: float) -> float:
        """How far the mean rate is from `hz`, in millionths; the ends as the least late of a second each.

        A packet that leaves a millisecond late at one end would alone be 2 ppm of ten minutes.
        """
        late = np.array(self.at) - np.arange(len(self.at)) / hz
        some = max(1, int(hz))
        first, last = late[:some].min(), late[-some:].min()
        span = (len(self.at) - some) / hz
        return float(-(last - first) / span * 1e6) if span > 0 else 0.0


class WireEar:
    """Listens from `with` on, in a thread; what goodbye packets say is not kept.

    Args:
        host: the loopback address.
        slots: how many slots to keep of pictures that differ from the one before; 0 for none.
        told: called with (universe, moment, slots) at each picture that differs, in the thread.
    """

    def __init__(
        self, host: str, slots: int = 0, told: Callable[[int, float, bytes], None] | None = None
    ) -> None:
        self.heard: dict[int, Heard] = {}
        self._slots, self._told = slots, told
        self._ear = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._ear.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 24)
        self._ear.setsockopt(socket.SOL_SOCKET, TIMESTAMPNS, 1)
        self._ear.bind((host, PORT))
        self._last: dict[int, bytes] = {}
        self._offset = realtime_offset()
        self._leave = threading.Event()
        self._thread = threading.Thread(target=self._listen, daemon=True)

    def _listen(self) -> None:
        checked = time.perf_counter()
        while not self._leave.is_set():
            ready, _, _ = select.select([self._ear], [], [], 0.2)
            if not ready:
                continue
            packet, extra, _, _ = self._ear.recvmsg(2048, 128)
            whole, nano = struct.unpack("qq", extra[0][2])
            if time.perf_counter() - checked > 1.0:
                # Both clocks are slewed alike, but only one is ever set.
                checked, self._offset = time.perf_counter(), realtime_offset()
            # Whole seconds apart from the rest: a float of nanoseconds since 1970 has steps of 0.2 us.
            at = whole - self._offset + nano / 1e9
            if packet[_OPTIONS] & _TERMINATED:
                continue
            universe = int.from_bytes(packet[_UNIVERSE : _UNIVERSE + 2])
            heard = self.heard.setdefault(universe, Heard())
            if self._slots or self._told is not None:
                slots = packet[_FIRST_SLOT : _FIRST_SLOT + (self._slots or 512)]
                if slots != self._last.get(universe):
                    self._last[universe] = slots
                    if self._slots:
                        heard.slots.append((len(heard.at), slots))
                    if self._told is not None:
                        self._told(universe, at, slots)
            heard.at.append(at)
            heard.numbers.append(packet[_SEQUENCE])

    def first(self, universe: int, within: float = 20.0) -> float:
        """Wait for a packet of this universe; when the first arrived.

        Raises:
            TimeoutError: none came.
        """
        end = time.monotonic() + within
        while universe not in self.heard or not self.heard[universe].at:
            if time.monotonic() > end:
                raise TimeoutError(f"no packet of universe {universe} within {within:g} s")
            time.sleep(0.005)
        return self.heard[universe].at[0]

    def __enter__(self) -> WireEar:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._leave.set()
        self._thread.join(2.0)
        self._ear.close()
