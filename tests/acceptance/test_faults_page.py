"""The stage page of the real program: its port is taken, its process dies, a browser stops reading."""

from __future__ import annotations

import json
import os
import signal
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest
from websockets.sync.client import connect

from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, NEEDS_PROC, Piped, house_of, until
from tests.acceptance.scenes import SACN, picture, write_song

pytestmark = [NEEDS_POSIX, NEEDS_PROC]


@contextmanager
def taken_port() -> Iterator[int]:
    """A port of this machine that another program listens on."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        yield other.getsockname()[1]


def free_port() -> int:
    """A port that nobody listens on."""
    with taken_port() as port:
        return port


def answers(port: int) -> bool:
    """True once the page comes."""
    try:
        with urlopen(f"http://127.0.0.1:{port}/", timeout=2.0) as page:
            return bool(page.status == 200)
    except OSError:
        return False


def browser(port: int, **how: Any) -> Any:
    """A browser of our own, at the socket."""
    return connect(f"ws://127.0.0.1:{port}/socket", origin=f"http://127.0.0.1:{port}", **how)  # type: ignore[arg-type]


def strike(one: Any, note: int, velocity: int) -> None:
    """Press a key of the page, or with velocity 0 let it go."""
    one.send(json.dumps({"word": "note", "note": note, "velocity": velocity}))


def test_a_page_port_that_is_taken_costs_the_page_alone(scene: Path, wire: Ear) -> None:
    """The show says that there is no page, why and what to do, and plays."""
    song = write_song(scene / "song.mid", (60, 100))
    with (
        taken_port() as port,
        Piped("play", "--page-port", port, "--midi-file", song, "--out", SACN, folder=scene) as show,
    ):
        show.says("no stage page")
        assert f"port {port}" in show.out
        assert "--page-port" in show.out
        wire.shows(picture({60: 100}))
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        assert show.errors == ""


def test_a_page_that_died_is_served_again_at_its_place(scene: Path, wire: Ear) -> None:
    """Killed, the page's process is replaced: same port, frames unbroken, and the keys it held are let go."""
    port = free_port()
    with Piped("play", "--page-port", port, "--midi-in", "none", "--out", SACN, folder=scene) as show:
        until(lambda: answers(port), "the page is served")
        with browser(port) as one:
            strike(one, 60, 100)
            wire.shows(picture({60: 100}))
            wire.rest()
            before = len(wire.packets)
            house = house_of(show.pid)
            assert house is not None
            os.kill(house, signal.SIGKILL)
            wire.shows(picture({}), 2.0)
        until(lambda: answers(port), "the page is served again")
        wire.rest()
        numbers = [packet.sequence for packet in wire.packets[before:]]
        assert numbers == [(numbers[0] + number) % 256 for number in range(len(numbers))]
        with browser(port) as one:
            strike(one, 62, 100)
            wire.shows(picture({62: 100}))
            strike(one, 62, 0)
            wire.shows(picture({}))


@pytest.mark.timeout(120)
def test_a_browser_that_stops_reading_is_sent_away(scene: Path, wire: Ear) -> None:
    """While it reads nothing others play as before; within half a minute its keys are let go."""
    port = free_port()
    with Piped("play", "--page-port", port, "--midi-in", "none", "--out", SACN, folder=scene) as show:
        until(lambda: answers(port), "the page is served")
        # It takes one message and then no more, nor does it answer a ping, as a tablet that went to sleep.
        with (
            browser(port, max_queue=1, close_timeout=0.1, ping_interval=None) as deaf,
            browser(port) as other,
        ):
            strike(deaf, 60, 100)
            wire.shows(picture({60: 100}))
            stopped = time.monotonic()
            while time.monotonic() < stopped + 3.0:
                strike(other, 64, 100)
                wire.shows(picture({60: 100, 64: 100}), 1.0)
                strike(other, 64, 0)
                wire.shows(picture({60: 100}), 1.0)
                drained(other)
            wire.shows(picture({}), 30.0)
            strike(other, 64, 100)
            wire.shows(picture({64: 100}))
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        assert show.errors == ""


def drained(one: Any) -> None:
    """Read what has come so far."""
    try:
        while True:
            one.recv(timeout=0)
    except TimeoutError:
        return
