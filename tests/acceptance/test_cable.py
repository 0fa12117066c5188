"""A MIDI cable that is pulled in the middle of a chord, and what a keyboard needs to be heard at all."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, Piped
from tests.acceptance.scenes import SACN, picture
from tests.shell.jack import Keyboard

CHORD = {60: 100, 64: 90, 67: 127}
STRIKE = [[0x90, note, velocity] for note, velocity in CHORD.items()]

pytestmark = [NEEDS_POSIX, pytest.mark.usefixtures("jack")]


def test_a_pulled_cable_darkens_its_lamps_and_plays_again(scene: Path, wire: Ear) -> None:
    """Keys that were down when the port vanished go out within two seconds; back again, it plays on."""
    with Piped("play", "--no-page", "--midi-in", "stand", "--out", SACN, folder=scene) as show:
        with Keyboard("stand", "stand piano") as keys:
            wire.take()
            # The port came after the show began, and nothing but its notes tells when it was found.
            strike_until_seen(keys, wire)
        pulled = time.monotonic()
        wire.shows(picture({}), 2.0)
        assert time.monotonic() - pulled < 2.0
        seen = len(wire.packets)
        for _ in range(40):
            assert not any(wire.take(0.5).dmxData), "frames go on, dark"
        assert len(wire.packets) == seen + 40
        with Keyboard("stand", "stand piano") as keys:
            strike_until_seen(keys, wire)
            keys.play([0x80, 64, 0])
            wire.shows(picture({60: 100, 67: 127}))
        assert show.process.poll() is None


def strike_until_seen(keys: Keyboard, wire: Ear) -> None:
    """Play the chord again and again until it lights."""
    end = time.monotonic() + 20.0
    while time.monotonic() < end:
        keys.play(*STRIKE)
        if any(wire.take().dmxData == picture(CHORD) for _ in range(10)):
            return
    pytest.fail("the keyboard was not heard")


def test_every_keyboard_is_heard_where_none_is_named(scene: Path, wire: Ear) -> None:
    """Neither command line nor mapping names a port: `play` hears all that are plugged in."""
    with (
        Keyboard("left", "left hand") as left,
        Keyboard("right", "right hand") as right,
        Piped("play", "--no-page", "--out", SACN, folder=scene) as show,
    ):
        wire.take()
        left.play([0x90, 40, 100])
        right.play([0x90, 80, 50])
        wire.shows(picture({40: 100, 80: 50}), 5.0)
        assert "left hand" in show.out
        assert "right hand" in show.out
