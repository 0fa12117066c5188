"""What `play` gives a serial port (a pseudo-terminal): START code and slots, bare or in messages."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.acceptance.programs import NEEDS_POSIX, PATIENCE, Piped
from tests.acceptance.scenes import slot_value, write_song
from tests.shell.outputs.bench import Line

NOTES = {0: 127, 5: 64, 127: 1}
SLOTS = bytes(slot_value(NOTES.get(note, 0)) for note in range(128))
DARK = bytes(128)

pytestmark = NEEDS_POSIX


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    """Two ends of a serial line."""
    one = Line(tmp_path)
    yield one
    one.close()


def all_bytes(line: Line, scene: Path, framing: str, packet: bytes) -> bytes:
    """What came out of a show that was ended once `packet` had been there."""
    song = write_song(scene / "song.mid", *NOTES.items())
    got = b""
    with Piped(
        "play", "--no-page", "--midi-file", song, "--out", f"{framing}:{line.device}", folder=scene
    ) as show:
        end = time.monotonic() + PATIENCE
        while packet not in got:
            assert time.monotonic() < end, (
                f"no such packet in {len(got)} bytes, the first {got[:200].hex(' ')}"
            )
            got += line.take(64, 1.0)
        show.signal(signal.SIGINT)
        while (piece := line.take(64, 0.1)) or show.process.poll() is None:
            got += piece
        assert show.ended(5.0) == 130
    return got


def test_a_plain_adapter_gets_start_code_and_slots(line: Line, scene: Path) -> None:
    """Every packet is the null START code and a slot for each lamp, nothing between; the last is dark."""
    packet = b"\0" + SLOTS
    got = all_bytes(line, scene, "break", packet)
    packets = [got[at : at + 129] for at in range(0, len(got), 129)]
    assert set(packets) == {packet, b"\0" + DARK}
    assert packets[-1] == b"\0" + DARK


def test_an_interface_gets_messages(line: Line, scene: Path) -> None:
    """7E, label 6, length with the low byte first, START code, slots, E7 (values from memory)."""
    packet = b"\x7e\x06\x81\x00\x00" + SLOTS + b"\xe7"
    dark = b"\x7e\x06\x81\x00\x00" + DARK + b"\xe7"
    got = all_bytes(line, scene, "packet", packet)
    packets = [got[at : at + 134] for at in range(0, len(got), 134)]
    assert set(packets) == {packet, dark}
    assert packets[-1] == dark
