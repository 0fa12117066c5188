"""Knows: the MIDI inputs of a show as one feed of events, in order of time.

Must never know: what an event means, or how a port is found, opened or missed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import TracebackType

from bridge.shell.clock import AnyClock, Clock
from bridge.shell.live_port import LivePort, PortState
from bridge.shell.midi_api import MidiSystem, midi_systems
from bridge.shell.port_watch import PortWatch
from bridge.values.events import Event


class LivePorts:
    """MIDI inputs, polled by the loop.

    Polled, and never rtmidi's callback: beside a busy thread the callback was measured to lose messages and
    to come late, since it needs Python's lock for each one; a poll finds them waiting with their times.

    Args:
        wanted: for each input a part of its name, in any case; a whole name means that port alone. A name
            that fits nothing now is waited for (see `states`). None for every input, now and later.
        clock: monotonic time; the machine's own by default.
        start: the time of `clock` at which the show begins; now by default. May be set later, as `start`.
        virtual: name of a port of ours that other programs play into; empty for none.
        every: seconds between two looks for ports that vanished or appeared; a look costs 0.1 to 0.3 ms.
        systems: the MIDI systems to look in; all of this machine by default.

    Raises:
        UsageError: a part of a name fits several ports; lists them.
    """

    def __init__(
        self,
        wanted: Sequence[str] | None,
        clock: AnyClock | None = None,
        start: float | None = None,
        virtual: str = "",
        every: float = 0.25,
        systems: Sequence[MidiSystem] | None = None,
    ) -> None:
        self._clock = Clock() if clock is None else clock
        texts: dict[str, str] = {}
        for text in wanted or ():
            texts.setdefault(text.casefold(), text)
        self._ports = [LivePort(text, self._clock) for text in texts.values()]
        if virtual:
            self._ports.append(LivePort(virtual, self._clock, virtual=True))
        self._held: list[Event] = []
        self.start = self._clock.now() if start is None else start
        here = midi_systems() if systems is None else systems
        self._watch = PortWatch(here, self._ports, every, self._add if wanted is None else None)
        self._watch.start()

    @property
    def start(self) -> float:
        """The monotonic time from which stamps count."""
        return self._start

    @start.setter
    def start(self, moment: float) -> None:
        self._start = moment
        for port in self._ports:
            port.start = moment

    def take(self, until: float = math.inf) -> list[Event]:
        """Everything stamped at or before `until` and not yet handed out, by stamp, then arrival.

        Asks every port until it is empty and returns at once; what is stamped later waits for another call.

        Args:
            until: seconds since the show began.
        """
        before = self._clock.now()
        held = self._held
        for port in self._ports:
            held += port.poll(before)
        if not held:
            return []
        held.sort(key=_stamp)
        at = len(held)
        while at and held[at - 1].stamp > until:
            at -= 1
        self._held = held[at:]
        return held[:at]

    def states(self) -> tuple[PortState, ...]:
        """Every port for display, in the order wanted, the virtual one last."""
        return tuple(port.state() for port in self._ports)

    @property
    def trouble(self) -> str:
        """A mistake of ours that the watch survived, for display; empty where all is well."""
        return self._watch.trouble

    def _add(self, name: str) -> None:
        """Called by the watch; the loop sees the new port at its next poll."""
        port = LivePort(name, self._clock, whole=True)
        port.start = self._start
        self._ports.append(port)

    def look_now(self) -> None:
        """Look for ports without waiting for the next regular look; returns at once."""
        self._watch.look_now()

    def close(self) -> None:
        """Close every port; safe to call twice."""
        self._watch.close()

    def __enter__(self) -> LivePorts:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _stamp(event: Event) -> float:
    return event.stamp
