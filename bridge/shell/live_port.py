"""Knows: one wanted MIDI input, open or waited for: its messages become stamped events, its end a `PortGone`.

Must never know: how ports are found or opened, or what an event means.

Two threads meet here and nowhere else: the loop polls, the watch attaches and detaches.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass

from bridge.shell.clock import AnyClock
from bridge.shell.midi_api import QUEUE, Input
from bridge.shell.midi_names import Listed
from bridge.shell.stamps import Stamps
from bridge.values.events import Event, PortGone
from bridge.wire.midi_in import MidiDecoder

MOST = 1024
"""Messages of one port in one poll; a program that floods us must not keep the loop from its next frame."""


@dataclass(frozen=True, slots=True)
class PortState:
    """A port as it is shown.

    Args:
        name: the port's name, or what is wanted while no port was found.
        wanted: the part of a name it was asked for by.
        open: True while we listen to it.
        note: why it is not open and what to do; empty where all is well.
        messages: messages that came since the show began.
        rubbish: how often its bytes made no sense.
    """

    name: str
    wanted: str
    open: bool
    note: str = ""
    messages: int = 0
    rubbish: int = 0


class LivePort:
    """One wanted input.

    Args:
        wanted: a part of its name; for a virtual port, the name we give it.
        clock: monotonic time.
        virtual: other programs play into it.
        whole: `wanted` is the name in full, and no other port will do.

    Attributes:
        start: monotonic time at which the show began; stamps count from here.
        note: why it is not open.
        found: the port it is or last was; None before it was first found.
    """

    def __init__(self, wanted: str, clock: AnyClock, virtual: bool = False, whole: bool = False) -> None:
        self.wanted = wanted
        self.virtual = virtual
        self.whole = whole
        self.start = 0.0
        self.note = ""
        self.found: Listed | None = None
        self._name = wanted
        self._clock = clock
        self._lock = threading.Lock()
        self._source: Input | None = None
        self._decoder = MidiDecoder(wanted)
        self._stamps = Stamps()
        self._empty_at = 0.0
        self._left: list[Event] = []
        self._messages = 0
        self._rubbish = 0

    @property
    def is_open(self) -> bool:
        """True while attached."""
        return self._source is not None

    def attach(self, source: Input, found: Listed) -> None:
        """Listen to an open input from now on.

        Args:
            source: the input; closed by `detach`.
            found: what it is called in the list.
        """
        with self._lock:
            if self.found is None or self.found.base != found.base:
                # A port that comes back keeps the name it had, though its place among its likes may differ.
                self._name = found.name
            self.found = found
            self.note = ""
            # A new beginning: what half a message went before belongs to a cable that was pulled.
            self._decoder = MidiDecoder(self._name)
            self._stamps = Stamps()
            self._empty_at = self._clock.now()
            self._source = source

    def detach(self, note: str) -> None:
        """Stop listening; the next poll gives what the driver still held, then a `PortGone`."""
        with self._lock:
            source, self._source = self._source, None
            if source is None:
                return
            now = self._clock.now()
            for _ in range(QUEUE // MOST + 1):
                self._left += self._drain(source, now)
            self._left.append(PortGone(self._clock.now() - self.start, self._name))
            self._rubbish += self._decoder.rubbish
            self._decoder = MidiDecoder(self._name)
            self.note = note
        # Outside the lock, since it may take 10 ms; nobody else has the input any more.
        source.close()

    def let_go(self) -> None:
        """Whoever played here is gone: the next poll gives what the driver holds, then a `PortGone`."""
        with self._lock:
            if self._source is None:
                return
            self._left += self._drain(self._source, self._clock.now())
            self._left.append(PortGone(self._clock.now() - self.start, self._name))

    def poll(self, before: float) -> Sequence[Event]:
        """The events that came since the last poll, in order; returns at once.

        Args:
            before: monotonic time just before the call.
        """
        with self._lock:
            if self._left:
                left, self._left = self._left, []
            else:
                left = []
            if self._source is None:
                return left
            events = self._drain(self._source, before)
            return left + events if left else events

    def state(self) -> PortState:
        """How the port is now."""
        with self._lock:
            rubbish = self._rubbish + self._decoder.rubbish
            return PortState(self._name, self.wanted, self.is_open, self.note, self._messages, rubbish)

    def _drain(self, source: Input, before: float) -> list[Event]:
        """Up to `MOST` messages out of the driver's queue, stamped and decoded."""
        message = source.read()
        if message is None:
            self._empty_at = before
            return []
        messages = [message]
        while len(messages) < MOST and (message := source.read()) is not None:
            messages.append(message)
        stamps = self._stamps.place([delta for _, delta in messages], self._empty_at, self._clock.now())
        if message is None:
            self._empty_at = before
        self._messages += len(messages)
        events: list[Event] = []
        for (data, _), stamp in zip(messages, stamps, strict=True):
            events += self._decoder.feed(bytes(data), stamp - self.start)
        return events
