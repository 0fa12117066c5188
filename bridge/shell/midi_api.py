"""Knows: the MIDI systems of this machine, how to list and open their ports, and what one lacks.

Must never know: what arrives through a port, or which port anybody wants.

The one file that imports rtmidi. A system is for the thread that opened it alone: CoreMIDI tells only that
thread of changes. An `Input` may be read by another thread.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from bridge.shell.jack_life import JackLife, server_socket, takes_calls
from bridge.shell.midi_names import Listed, listed
from bridge.values.errors import DeviceError

try:
    import rtmidi
except ImportError as error:  # a machine for which there is no wheel and no compiler
    rtmidi, WHY_NOT = None, str(error)
else:
    WHY_NOT = ""

QUEUE = 16384
"""Messages rtmidi keeps for us between two polls: 15 s of a full wire (31,250 baud, 3 bytes of 10 bits)."""

CLIENT = "Lampwright"
"""What our clients are called in a MIDI system."""

SEQUENCER = Path("/dev/snd/seq")

TITLES = {"alsa": "ALSA", "jack": "JACK", "core": "CoreMIDI", "winmm": "Windows multimedia"}
NO_VIRTUAL = ("winmm",)
ERRORS = (OSError, RuntimeError, ValueError)
"""What rtmidi raises: its own root is an OSError, a wrong port a ValueError, a missing one a RuntimeError."""

_STDERR = threading.Lock()


class Input:
    """An open MIDI input.

    Attributes:
        read: gives ([status, data, ...], seconds since this port's last message), or None at once if empty.
    """

    def __init__(self, client: Any) -> None:
        self.read: Callable[[], tuple[list[int], float] | None] = client.get_message
        self._client = client

    def close(self) -> None:
        """Close the port and leave the MIDI system; `read` must not be called afterwards."""
        _leave(self._client)


class MidiSystem:
    """One MIDI system, asked through clients of its own that open no port.

    Measured with JACK on two cores: making a client holds Python's lock for 10 to 20 ms, whether it succeeds
    or not, opening a port 8, asking for a list of 8 ports 0.2. So keep clients, and try what failed rarely.

    Args:
        word: a word of `TITLES`.
        code: rtmidi's number for it.
    """

    def __init__(self, word: str, code: int) -> None:
        self.word = word
        self.title = TITLES[word]
        self.has_virtual = word not in NO_VIRTUAL
        self._code = code
        self._life = JackLife() if word == "jack" else None
        self._in: Any = None
        self._out: Any = None

    @property
    def answers(self) -> bool:
        """True once `open` succeeded, until `close`."""
        return self._in is not None

    @property
    def died(self) -> bool:
        """True if it is a program that ended since it let us in: close all of it before anything else."""
        return self.answers and self._life is not None and self._life.ended()

    def open(self, again: bool = False) -> None:
        """Become a client.

        Args:
            again: this is one of many tries; leave it out where files show that nobody would answer.

        Raises:
            DeviceError: the system is not there or lets nobody in; with what to do about it.
        """
        self.close()
        if again and not _worth_trying(self.word):
            raise DeviceError(f"{self.title} is not there", _remedy(self.word))
        self._in = self._client(rtmidi.MidiIn)
        if self._life is not None:
            self._life.let_in()

    def close(self) -> None:
        """Stop being a client; safe to call twice."""
        clients, self._in, self._out = (self._in, self._out), None, None
        for client in clients:
            if client is not None:
                _leave(client)

    def inputs(self) -> tuple[Listed, ...]:
        """Ports we can listen to; none while it does not answer."""
        return self._list(self._in)

    def outputs(self) -> tuple[Listed, ...]:
        """Ports that listen, our own inputs among them; none while it does not answer."""
        if self._out is None and self.answers:
            with contextlib.suppress(DeviceError):
                self._out = self._client(rtmidi.MidiOut)
        return self._list(self._out)

    def open_input(self, port: Listed) -> Input:
        """Listen to a port.

        Raises:
            DeviceError: it is gone, or somebody else holds it.
        """
        client = self._client(rtmidi.MidiIn, QUEUE)
        # The place in the list is asked of the client that opens it, since another may count otherwise.
        keys = [one.key for one in self._list(client)]
        if port.key not in keys:
            _leave(client)
            raise DeviceError(f"MIDI input '{port.name}' went away just now")
        try:
            with silenced():
                client.open_port(keys.index(port.key), own_name(port.name))
        except ERRORS as error:
            _leave(client)
            raise DeviceError(
                f"MIDI input '{port.name}' does not open ({error})",
                "if another program uses it, end that one: some systems give a port to one program only",
            ) from error
        return Input(client)

    def open_output(self, port: Listed) -> Callable[[bytes], None]:
        """A function that sends one whole message to a port.

        Raises:
            DeviceError: it is gone, or somebody else holds it.
        """
        client = self._client(rtmidi.MidiOut)
        keys = [one.key for one in self._list(client)]
        if port.key not in keys:
            _leave(client)
            raise DeviceError(f"MIDI output '{port.name}' went away just now")
        try:
            with silenced():
                client.open_port(keys.index(port.key), own_name(port.name))
        except ERRORS as error:
            _leave(client)
            raise DeviceError(f"MIDI output '{port.name}' does not open ({error})") from error
        return lambda message: client.send_message(message)

    def open_virtual(self, name: str) -> Input:
        """Offer a port of ours that other programs can play into.

        Raises:
            DeviceError: the system has no such ports, or refuses.
        """
        if not self.has_virtual:
            raise DeviceError(f"{self.title} has no virtual ports", "a loopback MIDI driver serves instead")
        client = self._client(rtmidi.MidiIn, QUEUE)
        try:
            with silenced():
                client.open_virtual_port(own_name(name))
        except ERRORS as error:
            _leave(client)
            raise DeviceError(f"{self.title} gives no virtual port ({error})") from error
        return Input(client)

    def _client(self, kind: Any, queue: int = 0) -> Any:
        if self.died:
            raise DeviceError(f"{self.title} ended just now")
        # Otherwise libjack starts a sound server that nobody asked for.
        os.environ.setdefault("JACK_NO_START_SERVER", "1")
        try:
            with silenced():
                if not queue:
                    return kind(self._code, name=f"{CLIENT} ports")
                client = kind(self._code, name=CLIENT, queue_size_limit=queue)
        except ERRORS as error:
            remedy = _remedy(self.word) or f"it says: {error}"
            raise DeviceError(f"{self.title} does not answer", remedy) from error
        # Before a port opens: by default rtmidi drops clock, active sensing and system exclusive.
        client.ignore_types(sysex=False, timing=False, active_sense=False)
        return client

    def _list(self, client: Any) -> tuple[Listed, ...]:
        if client is None:
            return ()
        try:
            return listed(self.word, client.get_ports())
        except ERRORS:
            return ()


def midi_systems() -> tuple[MidiSystem, ...]:
    """The MIDI systems rtmidi was built for on this machine, none of them opened; empty without rtmidi."""
    if rtmidi is None:
        return ()
    pairs = ((rtmidi.get_api_name(code), code) for code in rtmidi.get_compiled_api())
    return tuple(MidiSystem(word, code) for word, code in pairs if word in TITLES)


def own_name(name: str) -> str:
    """A name for a port of ours that every system takes: JACK keeps the colon for itself, long names fail."""
    return name.replace(":", " ")[:60]


def _remedy(word: str) -> str:
    """What to do where a system does not answer."""
    if word == "alsa" and not SEQUENCER.exists():
        return f"there is no {SEQUENCER}: run 'sudo modprobe snd-seq' (a container may have no sound at all)"
    if word == "alsa" and not os.access(SEQUENCER, os.R_OK | os.W_OK):
        return f"you may not use {SEQUENCER}: run 'sudo usermod -aG audio $USER', then log out and in"
    if word == "jack":
        return "start jackd before or during the show; needed only to hear programs that play through JACK"
    return ""


def _worth_trying(word: str) -> bool:
    """False where a look at the files shows that nobody would answer, which spares the show a failing try."""
    if not sys.platform.startswith("linux"):
        return True
    if word == "alsa":
        return SEQUENCER.exists()
    path = server_socket()
    return path is not None and takes_calls(path)


def _leave(client: Any) -> None:
    with silenced(), contextlib.suppress(*ERRORS):
        client.close_port()
        client.delete()


@contextlib.contextmanager
def silenced() -> Iterator[None]:
    """Keep what C libraries print off the player's terminal: they write to descriptor 2 and cannot be told.

    One thread at a time, or the second would save the first's silence as the state to go back to.
    """
    if sys.platform == "win32":
        yield
        return
    with _STDERR, contextlib.ExitStack() as stack:
        with contextlib.suppress(OSError):  # a program without a terminal may have no such descriptor
            saved = os.dup(2)
            stack.callback(os.close, saved)
            stack.callback(os.dup2, saved, 2)
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 2)
            os.close(nowhere)
        yield
