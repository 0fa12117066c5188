"""Sound devices: when a block is heard, and what is missing, with how to get it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from bridge.shell.song.output import LONGEST_LATENCY, heard_at


def test_a_block_is_heard_when_the_sound_system_says() -> None:
    """Its own word counts where it makes sense, else the latency that the stream claims."""
    assert heard_at(10.02, 10.0, 0.1) == 10.02
    assert heard_at(10.0, 10.0, 0.1) == 10.0
    for nonsense in (0.0, 9.99, 10.0 + LONGEST_LATENCY * 1.1, float("nan"), float("inf")):
        assert heard_at(nonsense, 10.0, 0.1) == 10.1


def test_a_machine_without_sound_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """No output at all: what to do, and that a song still gives its timing. In a process of its own, since
    PortAudio asks for devices once."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "lampwright-nobody")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "from bridge.shell.song.output import Output; print(Output(None, 48000).name)",
        ],
        cwd=Path(__file__).parents[3],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    if done.returncode == 0:
        pytest.skip(f"this machine has sound: {done.stdout}")
    if "PortAudio does not work" in done.stderr or "is not installed" in done.stderr:
        pytest.skip("PortAudio is not installed here")
    assert "DeviceError: there is no sound output; plug one in or start the sound system" in done.stderr
    assert "without one the song gives its timing and no sound" in done.stderr
