"""MIDI faults under the real program: a port of another number, a player that leaves, a machine stopped."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from bridge.shell.takes.reader import Take
from bridge.values.events import PortGone
from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, PATIENCE, Piped
from tests.acceptance.scenes import SACN, picture
from tests.shell.jack import JACK, Keyboard

PLAYER = """\
import sys, threading, rtmidi
out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="workstation")
ports = out.get_ports()
out.open_port(next(number for number, name in enumerate(ports) if name == "Lampwright:Lampwright"), "song")
asked = threading.Thread(target=sys.stdin.read)
asked.start()
while asked.is_alive():  # again and again: JACK makes the connection some time after it says so
    for word in sys.argv[1:]:
        out.send_message(list(bytes.fromhex(word)))
    asked.join(0.05)
out.close_port()
out.delete()
"""
"""A program that plays the same messages into our own port again and again, and leaves with keys down."""

pytestmark = [NEEDS_POSIX, pytest.mark.usefixtures("jack")]


def strike_until(keys: Keyboard, wire: Ear, note: int, lit: dict[int, int]) -> None:
    """Strike a note again and again until this picture is there: nothing else tells when a port was found."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        keys.play([0x90, note, 100])
        if any(wire.take().dmxData == picture(lit) for _ in range(10)):
            return
    pytest.fail("the keyboard was not heard")


def test_a_keyboard_that_returns_under_another_number_plays_on(scene: Path, wire: Ear) -> None:
    """Back with another number and place in the list, the same keyboard is heard, and no other one."""
    named = ("--midi-in", "stand piano")
    with Piped("play", "--no-page", *named, "--out", SACN, folder=scene) as show:
        with Keyboard("stand", "stand piano") as keys:
            strike_until(keys, wire, 60, {60: 100})
        wire.shows(picture({}), 2.0)
        with (
            Keyboard("aside", "aside organ") as before,
            Keyboard("stand", "metronome") as squatter,
            Keyboard("stand", "stand piano") as keys,
        ):
            # The name `stand` is taken, so that JACK calls it `stand-01`; others now stand before it.
            names = in_list()
            assert any(name.startswith("stand-01:stand piano") for name in names), names
            strike_until(keys, wire, 62, {62: 100})
            before.play([0x90, 70, 100])
            squatter.play([0x90, 71, 100])
            strike_until(keys, wire, 64, {62: 100, 64: 100})
        wire.shows(picture({}), 2.0)
        assert show.process.poll() is None


def in_list() -> list[str]:
    """The ports that JACK lists."""
    import rtmidi

    client = rtmidi.MidiIn(JACK, name="looker")
    try:
        return list(client.get_ports())
    finally:
        client.delete()


class Player:
    """Another program that plays into our port, and leaves with its keys down."""

    def __init__(self, *messages: str) -> None:
        command = [sys.executable, "-c", PLAYER, *messages]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL)

    def __enter__(self) -> Player:
        return self

    def __exit__(self, *_: object) -> None:
        # Asked to leave rather than killed: the server waits long for clients that died.
        try:
            self._process.communicate(timeout=5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.communicate()


def test_a_program_that_leaves_with_keys_down_lets_them_go(scene: Path, wire: Ear) -> None:
    """What was held through our own port goes out when the only program that could have played it is gone."""
    with Piped("play", "--no-page", "--midi-in", "nobody", "--out", SACN, folder=scene) as show:
        show.says("in: Lampwright")
        for message, lit in (("903c64", {60: 100}), ("903e64", {62: 100})):
            with Player(message):
                wire.shows(picture(lit))
                # Who plays is seen by looking at the list of ports, four times a second.
                for _ in range(24):
                    wire.take()
            wire.shows(picture({}), 5.0)


def test_active_sensing_tells_which_of_two_left(scene: Path, wire: Ear) -> None:
    """While another program is there, a held key goes out once active sensing stops (MIDI 1.0: 300 ms)."""
    with (
        Keyboard("bystander", "bystander"),
        Piped("play", "--no-page", "--midi-in", "nobody", "--out", SACN, folder=scene) as show,
    ):
        show.says("in: Lampwright")
        with Player("fe", "903c64"):
            wire.shows(picture({60: 100}))
        wire.shows(picture({}), 5.0)


@pytest.mark.parametrize("seconds", [0.5, 4.0])
def test_a_machine_that_stops_goes_on_where_the_time_is(scene: Path, wire: Ear, seconds: float) -> None:
    """Woken again: no burst of old frames, keys let go meanwhile are let go, and the take knows the gap."""
    with (
        Keyboard("stand", "stand piano") as keys,
        Piped(
            *("play", "--no-page", "--midi-in", "stand", "--out", SACN, "--record", "a.take"), folder=scene
        ) as show,
    ):
        wire.take()
        strike_until(keys, wire, 60, {60: 100})
        show.signal(signal.SIGSTOP, group=True)
        stopped = time.monotonic()
        keys.play([0x80, 60, 0], [0x90, 62, 100])
        threading.Event().wait(seconds)
        wire.rest()
        before = len(wire.packets)
        show.signal(signal.SIGCONT, group=True)
        woken = time.monotonic()
        wire.shows(picture({62: 100}), 1.0)
        while time.monotonic() < woken + 1.0:
            assert wire.take(1.0).dmxData == picture({62: 100})
        assert len(wire.packets) - before <= 40 * (time.monotonic() - woken) + 3, (
            "none of what was missed is sent"
        )
        keys.play([0x80, 62, 0])
        wire.shows(picture({}))
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        slept = woken - stopped
    with Take.open(scene / "a.take") as take:
        missed = sum(count for _, count in take.skipped())
        numbers = [k for k, early, _, _ in take.frames() if not early]
        assert missed / 40 == pytest.approx(slept, abs=0.3)
        assert len(numbers) + missed == numbers[-1] + 1, "the numbers go on by the clock"
        assert not any(isinstance(event, PortGone) for _, _, event in take.events())
    assert f"{missed} left out" in show.out
