"""Knows: the frames it was given, kept in this machine's memory; a port in plain software.

Must never know: any wire.
"""

from __future__ import annotations

import threading
from collections import deque

from bridge.values.errors import DeviceError
from bridge.values.frame import Frame
from bridge.values.rig import OutputSpec

KEPT = 10_000
"""Frames kept: 250 s at 40 Hz, 5 MB a universe."""


class MemoryOutput:
    """Keeps the newest frames. It can be unplugged and plugged in again like any device.

    Args:
        spec: unused but for its place in the registry.
        kept: most frames to keep; older ones are dropped.
    """

    def __init__(self, spec: OutputSpec | None = None, top_slot: int = 0, kept: int = KEPT) -> None:
        self.spec = spec
        self.top_slot = top_slot
        self.opened = 0
        """Times it was opened."""
        self.closed = 0
        """Times it was closed with a last picture."""
        self.count = 0
        """Frames it was ever given."""
        self._frames: deque[Frame] = deque(maxlen=kept)
        self._changed = threading.Condition()
        self._unplugged: DeviceError | None = None

    @property
    def frames(self) -> tuple[Frame, ...]:
        """The frames kept, the oldest first; the last picture of a close is among them."""
        with self._changed:
            return tuple(self._frames)

    @property
    def newest(self) -> Frame | None:
        """The last frame it was given, None before the first."""
        with self._changed:
            return self._frames[-1] if self._frames else None

    def unplug(self, what: str = "unplugged", remedy: str = "plug it in again") -> None:
        """From now on fail as a device does whose cable was pulled."""
        with self._changed:
            self._unplugged = DeviceError(what, remedy)

    def plug(self) -> None:
        """Work again."""
        with self._changed:
            self._unplugged = None

    def wait_for(self, count: int, seconds: float = 5.0) -> bool:
        """True as soon as it was given `count` frames in all, False if that takes longer than `seconds`."""
        with self._changed:
            return self._changed.wait_for(lambda: self.count >= count, seconds)

    def open(self) -> None:
        """As `Output.open`."""
        with self._changed:
            self._check()
            self.opened += 1

    def send(self, frame: Frame) -> None:
        """As `Output.send`."""
        with self._changed:
            self._check()
            self._frames.append(frame)
            self.count += 1
            self._changed.notify_all()

    def close(self, last: Frame | None) -> None:
        """As `Output.close`; nothing is lost in memory, so `last` is kept once."""
        with self._changed:
            if last is not None:
                self._check()
                self._frames.append(last)
                self.count += 1
                self.closed += 1
            self._changed.notify_all()

    def _check(self) -> None:
        if self._unplugged is not None:
            raise DeviceError(self._unplugged.what, self._unplugged.remedy)
