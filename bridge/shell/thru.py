"""Knows: how what arrives is sent on to another MIDI port, for systems where one program holds a port.

Must never know: what a message means; lamps.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bridge.shell.feeds import Feed
from bridge.shell.midi_api import MidiSystem, midi_systems
from bridge.shell.midi_names import pick
from bridge.values.errors import DeviceError, UsageError
from bridge.values.events import Event
from bridge.wire.midi_out import encode

Send = Callable[[bytes], None]


class Thru:
    """A feed that hands on what another gives, and sends it to a port as well.

    Args:
        feed: live ports.
        send: takes one whole message.
    """

    def __init__(self, feed: Feed, send: Send) -> None:
        self._feed, self._send = feed, send
        self.trouble = ""
        """Why the last message did not go out; empty where all is well."""

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        events = self._feed.take(until)
        for event in events:
            message = encode(event)
            if message:
                self._pass_on(message)
        return events

    def _pass_on(self, message: bytes) -> None:
        try:
            self._send(message)
            self.trouble = ""
        except Exception as error:  # rtmidi has errors of its own, which only midi_api may know
            self.trouble = f"thru: a message was not sent on ({error})"


def open_thru(wanted: str, systems: Sequence[MidiSystem] | None = None, word: str = "thru") -> Send:
    """A function that sends to the one output whose name contains `wanted`; `word` of the mapping asks.

    Raises:
        UsageError: the name fits several ports; lists them.
        DeviceError: it fits none, or the port does not open.
    """
    for system in midi_systems() if systems is None else systems:
        try:
            system.open()
        except DeviceError:
            continue
        found = pick(wanted, system.outputs())
        if len(found) > 1:
            names = ", ".join(port.name for port in found)
            raise UsageError(f"{word}: {wanted!r} fits several MIDI outputs: {names}; write more of the name")
        if found:
            return system.open_output(found[0])
    raise DeviceError(
        f"{word}: no MIDI output is called {wanted!r}", "`lampwright ports` lists those that are here"
    )
