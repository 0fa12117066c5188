"""The house process is killed while it draws: the show does not care, and another house is started."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, NEEDS_PROC, InTerminal, house_of, until
from tests.acceptance.scenes import SACN, picture, write_song

NOTES = {60: 100}

pytestmark = [NEEDS_POSIX, NEEDS_PROC]


def test_frames_go_on_and_another_house_comes(scene: Path, wire: Ear) -> None:
    """After kill -9 of the house no frame is missing, the same picture stays, and the rig is drawn again."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with InTerminal("play", "--no-page", "--midi-file", song, "--out", SACN, folder=scene) as show:
        show.shows("Ctrl-C ends")
        wire.shows(picture(NOTES))
        wire.rest()
        first = house_of(show.pid)
        assert first is not None
        before = len(wire.raw)
        os.kill(first, signal.SIGKILL)
        killed = time.monotonic()
        place = len(show.raw)
        while time.monotonic() < killed + 1.0:
            assert wire.take(1.0).dmxData == picture(NOTES), "the light never changes"
        wire.rest()
        numbers = [packet.sequence for packet in wire.packets[before:]]
        assert len(numbers) >= 30, "40 a second, and some may be left out on a busy machine"
        assert numbers == [(numbers[0] + number) % 256 for number in range(len(numbers))]
        second = until(lambda: house_of(show.pid), "another house is there")
        assert second != first
        show.shows("Ctrl-C ends", place)
        show.type(b"\x03")
        assert show.ended(2.0) == 130
        assert "Traceback" not in show.text_from(0)
        assert "leaked" not in show.text_from(0)
