"""Knows: this program as one source of sACN: its CID, and which universes it sends over all its outputs.

Must never know: sockets, threads of outputs, or what is in a universe.

ANSI E1.31 knows a source by its CID (clause 5.6), and a source tells once in
E131_UNIVERSE_DISCOVERY_INTERVAL, 10 s, which universes it sends (clause 4.3, Appendix A): the list is that of
the program, not of one output.

The list names every universe that goes out, to a group or to a host (not those that carry synchronization
alone), and goes to the discovery group, once through each interface that an output multicasts through. Where
every output has a host of its own, nothing is sent: discovery is the standard's answer to "which group shall
I join?", a host gets its universes without asking, and a receiver that was only promised data need not know
these packets. (That discovery is multicast: from memory.)
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable

from bridge.shell.outputs.cid import sender_cid
from bridge.wire.sacn import discovery_pages

SOURCE_NAME = "Lampwright"

INTERVAL = 10.0
"""Seconds from one list to the next: E131_UNIVERSE_DISCOVERY_INTERVAL (Appendix A)."""

FIRST_AFTER = 1.0
"""Seconds after the first picture at which the first list goes out: outputs open one after another."""


class SacnSource:
    """What the sACN outputs of one program share. Any thread may call it.

    Args:
        cid: 16 bytes; None for the one of this program on this machine.
        now: monotonic seconds.
    """

    def __init__(self, cid: bytes | None = None, now: Callable[[], float] = time.monotonic) -> None:
        self.cid = sender_cid() if cid is None else cid
        self.name = SOURCE_NAME
        self._now = now
        self._lock = threading.Lock()
        self._sending: dict[object, frozenset[int]] = {}
        self._due: dict[str, float] = {}

    def sends(self, output: object, universes: Iterable[int]) -> None:
        """An output begins to send these, by the numbers they go out under; none: it has ended."""
        numbers = frozenset(universes)
        with self._lock:
            if numbers:
                self._sending[output] = numbers
            else:
                self._sending.pop(output, None)

    @property
    def universes(self) -> tuple[int, ...]:
        """What is sent now, ascending."""
        with self._lock:
            return tuple(sorted(frozenset().union(*self._sending.values())))

    def pages_due(self, interface: str) -> list[bytes]:
        """The packets to send now to the discovery group through an interface; mostly none.

        Whoever asks first when they are due sends them for all.
        """
        now = self._now()
        with self._lock:
            if now < self._due.setdefault(interface, now + FIRST_AFTER):
                return []
            self._due[interface] = now + INTERVAL
        return discovery_pages(self.cid, self.name, self.universes)
