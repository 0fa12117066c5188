"""Another program that plays tones into the sound system: `python -m tests.shell.sound.tone_player`.

It prints `ready`; then for each line `HZ LEVEL` that it reads it plays that tone from now on and prints the
monotonic time at which the first block of it was handed to the sound system.
"""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path
from typing import Any


class TonePlayer:
    """The program, as a test sees it."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.shell.sound.tone_player"],
            cwd=Path(__file__).parents[3],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "ready\n"

    def play(self, hz: float, level: float = 0.5) -> float:
        """Play a tone from now on, none at level 0; the monotonic time of its first block."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{hz} {level}\n")
        self._process.stdin.flush()
        return float(self._process.stdout.readline())

    def leave(self) -> None:
        """End, as a program does that is closed."""
        try:
            self._process.communicate("", timeout=5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.communicate()

    def kill(self) -> None:
        """End, as a program does that crashes."""
        self._process.kill()
        self._process.communicate()

    def __enter__(self) -> TonePlayer:
        return self

    def __exit__(self, *_: object) -> None:
        if self._process.poll() is None:
            self.leave()


def _main() -> None:
    import time

    import numpy as np
    import sounddevice

    tone = [0.0, 0.0]
    state: dict[str, Any] = {"phase": 0.0, "began": None}
    begun = threading.Event()
    rate = int(sounddevice.query_devices("system", "output")["default_samplerate"])

    def fill(out: Any, frames: int, _times: Any, _status: Any) -> None:
        if state["began"] is True:
            state["began"] = time.perf_counter()
            begun.set()
        hz, level = tone
        phase = state["phase"] + 2 * np.pi * hz / rate * np.arange(frames)
        out[:] = (level * np.sin(phase))[:, None]
        state["phase"] = float(phase[-1] + 2 * np.pi * hz / rate) if frames else state["phase"]

    with sounddevice.OutputStream(device="system", channels=2, callback=fill, samplerate=rate):
        print("ready", flush=True)
        for line in sys.stdin:
            tone[:] = [float(word) for word in line.split()]
            begun.clear()
            state["began"] = True
            begun.wait(5)
            print(state["began"], flush=True)
    sounddevice._terminate()


if __name__ == "__main__":
    _main()
