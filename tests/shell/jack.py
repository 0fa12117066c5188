"""A JACK server of our own and keyboards that play into it, so that tests meet a real MIDI system.

The server has a dummy sound card and a name nobody else uses; only what was started here is ended here.
As a program it is a keyboard with many ports: `python -m tests.shell.jack NAME PORTS MESSAGES SECONDS`.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import rtmidi

JACK = rtmidi.API_UNIX_JACK
ALIVE = [0xFE]
"""Active sensing: what our keyboards send to find out who hears them."""

PERIOD_SECONDS = 128 / 48000
"""How often the server passes messages on: 128 frames at 48 kHz."""


def until(condition: Callable[[], Any], what: str, seconds: float = 20.0) -> Any:
    """The first true answer of `condition`; fails with `what` if none comes."""
    end = time.monotonic() + seconds
    pause = threading.Event()
    while not (answer := condition()):
        if time.monotonic() > end:
            pytest.fail(f"after {seconds:g} s still not so: {what}")
        pause.wait(0.002)
    return answer


class JackServer:
    """One server under one name, which can be ended and started again."""

    def __init__(self) -> None:
        self.name = f"lampwright-{uuid.uuid4().hex[:8]}"
        self._process: subprocess.Popen[bytes] | None = None
        self._killed = False

    def start(self) -> None:
        """Start and wait until a client gets in."""
        self._process = subprocess.Popen(
            # --sync: the server waits for every client: a loaded machine makes messages late, but loses none.
            f"jackd -n {self.name} --no-realtime --no-mlock --sync -t 2000 "
            "-d dummy -r 48000 -p 128 -C 0 -P 0".split(),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until(self._lets_in, "jackd answers")

    def stop(self, kill: bool = False) -> None:
        """End it, by its own id; with `kill` as a crash would."""
        process, self._process = self._process, None
        if process is None:
            return
        if not kill:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(3)
        self._killed = process.poll() is None
        process.kill()
        process.wait()

    def bury(self) -> None:
        """Leave nothing behind: of eight servers JACK remembers, a killed one until its like ends well."""
        self.stop()
        if self._killed:
            self.start()
            self.stop()
        for path in Path("/dev/shm").glob(f"jack*{self.name}*"):
            path.unlink(missing_ok=True)

    def _lets_in(self) -> bool:
        assert self._process is not None
        if self._process.poll() is not None:
            pytest.fail(f"jackd ended at once with {self._process.returncode}")
        with hushed():
            try:
                rtmidi.MidiIn(JACK, name="probe").delete()
            except rtmidi.RtMidiError:
                return False
        return True


@contextlib.contextmanager
def jack_server() -> Iterator[JackServer]:
    """A running server that libjack takes for the default one; skips where jackd is not installed."""
    if shutil.which("jackd") is None or JACK not in rtmidi.get_compiled_api():
        reason = "jackd, or rtmidi with JACK, is not installed (apt install jackd2)"
        if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    server = JackServer()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JACK_DEFAULT_SERVER", server.name)
        patch.setenv("JACK_NO_START_SERVER", "1")
        try:
            server.start()
            yield server
        finally:
            server.bury()


class Keyboard:
    """A port that others can listen to, called `client:port`."""

    def __init__(self, client: str, port: str) -> None:
        with hushed():
            self._out = rtmidi.MidiOut(JACK, name=client)
            self._out.open_virtual_port(port)

    def play(self, *messages: list[int]) -> float:
        """Send messages; gives the monotonic time just before the first."""
        before = time.perf_counter()
        for message in messages:
            self._out.send_message(message)
        return before

    def unplug(self) -> None:
        """Vanish from the list."""
        if not self._out.is_deleted:
            with hushed():
                self._out.close_port()
                self._out.delete()

    def __enter__(self) -> Keyboard:
        return self

    def __exit__(self, *_: object) -> None:
        self.unplug()


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """Keep libjack's words off the terminal."""
    saved = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(saved, 2)
        os.close(saved)
        os.close(nowhere)


class OtherProgram:
    """A keyboard of several ports in a process of its own, so that its playing is not slowed by the test."""

    def __init__(self, name: str, ports: int, messages: int, seconds: float) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.shell.jack", name, str(ports), str(messages), str(seconds)],
            cwd=Path(__file__).parents[2],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._process.stdout is not None
        if self._process.stdout.readline() != "ready\n":
            pytest.fail("the other program does not get into JACK")

    def go(self) -> None:
        """Begin to play."""
        assert self._process.stdin is not None
        self._process.stdin.write("go\n")
        self._process.stdin.flush()

    def sent(self) -> list[float]:
        """The time just before each message, once all are sent; message i went out of port i % ports."""
        assert self._process.stdout is not None
        times: list[float] = json.loads(self._process.stdout.readline())
        return times

    def __enter__(self) -> OtherProgram:
        return self

    def __exit__(self, *_: object) -> None:
        # Asked to leave rather than killed: the server waits long for clients that died.
        try:
            self._process.communicate(timeout=5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.communicate()


def numbered(i: int) -> list[int]:
    """A pitch bend that carries the number 0..16383, so that a lost message or a wrong order shows."""
    return [0xE0, i & 0x7F, i >> 7]


def _play(name: str, ports: int, messages: int, seconds: float) -> None:
    outs = []
    for number in range(ports):
        out = rtmidi.MidiOut(JACK, name=name)
        out.open_virtual_port(f"{name} {number + 1}")
        outs.append(out)
    print("ready", flush=True)
    asked = threading.Thread(target=sys.stdin.readline)
    asked.start()
    # Signs of life until asked to play, so that listeners can tell when they are connected.
    while asked.is_alive():
        for out in outs:
            out.send_message(ALIVE)
        asked.join(0.005)
    pause = threading.Event()
    start = time.perf_counter()
    sent = []
    for i in range(messages):
        left = start + i * seconds / messages - time.perf_counter()
        if left > 0:
            pause.wait(left)
        sent.append(time.perf_counter())
        outs[i % ports].send_message(numbered(i // ports))
    print(json.dumps(sent), flush=True)
    sys.stdin.read()
    for out in outs:
        out.close_port()
        out.delete()


if __name__ == "__main__":
    _play(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), float(sys.argv[4]))
