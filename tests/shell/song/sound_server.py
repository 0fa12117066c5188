"""A sound system of our own for tests: a JACK server with a dummy sound card, and a program that records.

As a program it records what a PortAudio client plays there: `python -m tests.shell.song.sound_server CLIENT`.
"""

from __future__ import annotations

import contextlib
import ctypes.util
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from bridge.shell.clock import claim_priority
from bridge.shell.song.sound_file import Sound
from tests.shell.jack import JackServer, until

PERIOD = 256
"""Frames between two callbacks."""

CLIENT = "PortAudio"
"""What PortAudio calls its first client of a JACK server."""


class SoundServer(JackServer):
    """A server with two inputs and two outputs. It does not wait for clients (`--sync`), or one that was
    killed would hold up the rest."""

    def __init__(self, rate: int) -> None:
        super().__init__()
        self.rate = rate

    def start(self) -> None:
        """Start and wait until a client gets in."""
        self._process = subprocess.Popen(
            # Punctual on a loaded machine where the system lets it be.
            f"jackd -n {self.name} {'--realtime' if _may_hurry() else '--no-realtime'} --no-mlock -t 2000 "
            f"-d dummy -r {self.rate} -p {PERIOD} -C 2 -P 2".split(),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until(self._lets_in, "jackd answers")


def _may_hurry() -> bool:
    """True where real-time priority is given; tried in a thread that ends at once."""
    given: list[bool] = []
    thread = threading.Thread(target=lambda: given.append(claim_priority()[0]))
    thread.start()
    thread.join()
    return given[0]


@contextlib.contextmanager
def sound_server(rate: int) -> Iterator[SoundServer]:
    """A running server that PortAudio takes for the default one; skips where it cannot be had."""
    if shutil.which("jackd") is None or ctypes.util.find_library("portaudio") is None:
        reason = "jackd or PortAudio is not installed (apt install jackd2 libportaudio2)"
        if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    server = SoundServer(rate)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JACK_DEFAULT_SERVER", server.name)
        patch.setenv("JACK_NO_START_SERVER", "1")
        try:
            server.start()
            yield server
        finally:
            server.bury()


class Recorder:
    """Another program that hears what we play."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.shell.song.sound_server", CLIENT],
            cwd=Path(__file__).parents[3],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "ready\n"

    def heard(self) -> tuple[Sound, list[tuple[float, float]]]:
        """End it; the sound, and (wall time, first left sample) of each block."""
        out, _ = self._process.communicate("stop\n", 20.0)
        samples, walls = json.loads(out)
        sound = np.array(samples, dtype=np.float32).reshape(-1, 2)
        return sound, [(wall, first) for wall, first in walls]

    def __enter__(self) -> Recorder:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.communicate()


def _record(client: str) -> None:
    import sounddevice

    device = next(
        index
        for index, one in enumerate(sounddevice.query_devices())
        if one["name"] == client and one["max_input_channels"]
    )
    blocks: list[Sound] = []
    walls: list[tuple[float, float]] = []

    def hear(block: Sound, _frames: int, _times: object, _status: object) -> None:
        walls.append((time.perf_counter(), float(block[0, 0])))
        blocks.append(block.copy())

    rate = sounddevice.query_devices(device)["default_samplerate"]
    stream = sounddevice.InputStream(device=device, channels=2, samplerate=rate, callback=hear)
    stream.start()
    running = threading.Event()
    while not blocks:
        running.wait(0.005)
    print("ready", flush=True)
    sys.stdin.readline()
    stream.stop()
    print(json.dumps([np.concatenate(blocks).ravel().tolist(), walls]), flush=True)


if __name__ == "__main__":
    _record(sys.argv[1])
