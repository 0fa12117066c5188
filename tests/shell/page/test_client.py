"""One browser at the socket: what it plays arrives, what it may not is refused and counted."""

from __future__ import annotations

import contextlib
import json
import socket
import struct
import threading
import time
from collections.abc import Callable
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection

from bridge.shell.page.wishes import Asked, Played, Turned
from tests.shell.page.conftest import Served, wait_for

Serve = Callable[..., Served]


def say(browser: ClientConnection, word: str, **more: Any) -> None:
    """Send a message."""
    browser.send(json.dumps({"word": word, **more}))


def until(browser: ClientConnection, word: str) -> dict[str, Any]:
    """The next message with a word."""
    while True:
        data = browser.recv(timeout=5)
        if isinstance(data, str) and (found := json.loads(data))["word"] == word:
            return dict(found)


def read_on(browser: ClientConnection) -> None:
    """Until the page sends the browser away."""
    while True:
        browser.recv(timeout=5)


def test_keys_arrive_as_the_input_they_play_as(serve: Serve) -> None:
    """A key played as an input comes from a port that the input's rules hear; others come from `page`."""
    served = serve()
    with served.browser() as browser:
        say(browser, "note", note=60, velocity=90, source="piano")
        say(browser, "note", note=61, velocity=80)
        say(browser, "note", note=60, velocity=0, source="piano")
        say(browser, "control", control=21, value=64, source="pads")
        say(browser, "bend", value=-8192, channel=16)
        wait_for(lambda: len(served.show.wishes) == 5)
    assert list(served.show.wishes)[:5] == [
        Played("page piano", 1, 60, 90),
        Played("page", 1, 61, 80),
        Played("page piano", 1, 60, 0),
        Turned("page pads", 1, "control", 21, 64),
        Turned("page", 16, "bend", 0, -8192),
    ]


def test_lamps_light_and_the_picture_says_so(serve: Serve) -> None:
    """A key of the page lights its lamp, and the change reaches the browser as a few bytes."""
    served = serve()
    with served.browser() as browser:
        until(browser, "news")
        say(browser, "note", note=48, velocity=127, source="piano")

        def drives() -> bytes:
            data = browser.recv(timeout=5)
            if isinstance(data, bytes):
                say(browser, "seen", n=struct.unpack_from("<I", data, 1)[0])
                if data[0] == 2 and data[5:7] == b"\0\0" and data[7] > 100:
                    return data
            return b""

        assert len(wait_for(drives)) == 8


def test_what_a_browser_held_is_let_go_when_it_leaves(serve: Serve) -> None:
    """Law 5: a browser that closes, crashes or loses its network leaves no lamp lit."""
    served = serve()
    with served.browser() as browser:
        say(browser, "note", note=48, velocity=100, source="piano")
        say(browser, "control", control=64, value=127, source="piano")
        say(browser, "do", what="light", name="door", value=1)
        wait_for(lambda: len(served.show.wishes) == 3)
        browser.socket.shutdown(socket.SHUT_RDWR)
    wait_for(lambda: len(served.show.wishes) == 6)
    assert set(list(served.show.wishes)[3:]) == {
        Played("page piano", 1, 48, 0),
        Turned("page piano", 1, "control", 64, 0),
        Asked("light", "door", 0.0),
    }


def test_a_key_held_by_two_browsers_ends_with_the_second(serve: Serve) -> None:
    """The first to let go releases nothing."""
    served = serve()
    with served.browser() as one, served.browser() as two:
        for browser in (one, two):
            say(browser, "note", note=48, velocity=100)
        wait_for(lambda: len(served.show.wishes) == 2)
        say(one, "note", note=48, velocity=0)
        say(one, "do", what="release_all")
        wait_for(lambda: len(served.show.wishes) == 3)
        say(two, "note", note=48, velocity=0)
        wait_for(lambda: len(served.show.wishes) == 4)
    assert list(served.show.wishes)[2:] == [Asked("release_all"), Played("page", 1, 48, 0)]


def test_only_what_is_there_can_be_asked_for(serve: Serve) -> None:
    """A look, lamp or take that is not there is answered, counted, and never reaches the show."""
    served = serve()
    served.show.more["takes"] = [{"number": 3, "name": "friday", "seconds": 9.5}]
    with served.browser() as browser:
        while "takes" not in until(browser, "news")["news"]:
            pass
        for what, name in (
            ("look", "nothing"),
            ("light", "../door"),
            ("replay", "4"),
            ("replay", "/etc/passwd"),
        ):
            say(browser, "do", what=what, name=name, value=1)
            assert until(browser, "reply")["ok"] is False
        for what, name in (("look", "walkin"), ("look", ""), ("light", "door"), ("replay", "3")):
            say(browser, "do", what=what, name=name, value=1)
        wait_for(lambda: len(served.show.wishes) == 4)
    assert served.page.refused["name"] == 4


def test_a_page_that_only_looks_changes_nothing(serve: Serve) -> None:
    """View only: every wish and every lesson is refused and counted; pictures still come."""
    served = serve(view_only=True)
    with served.browser() as browser:
        assert until(browser, "facts")["view_only"] is True
        say(browser, "note", note=60, velocity=90)
        say(browser, "do", what="blackout_on")
        say(browser, "teach", kind="note", then="blackout")
        for _ in range(3):
            assert until(browser, "reply")["ok"] is False
    assert served.page.refused["look"] == 3
    assert not served.show.wishes


@pytest.mark.parametrize(
    ("message", "code", "why"),
    [
        ("{", 1008, "message"),
        ('{"word": "note", "note": 128, "velocity": 1}', 1008, "message"),
        ('{"word": "note", "note": 60, "velocity": 1, "port": "x"}', 1008, "message"),
        ('{"word": "open", "path": "/etc/passwd"}', 1008, "message"),
        ('{"word": "do", "what": "master", "value": NaN}', 1008, "message"),
        ("[" * 8000, 1008, "message"),
        (b"\x00\x01\x02", 1003, "message"),
        ("x" * 10_000_000, 1009, "size"),
        ("x" * 9000, 1009, "size"),
    ],
)
def test_rubbish_is_refused_and_the_page_lives(
    serve: Serve, message: str | bytes, code: int, why: str
) -> None:
    """Law 6: no message but ours; who sends another is sent away, counted, and may come back."""
    served = serve()
    with served.browser() as browser:
        with contextlib.suppress(ConnectionClosed):
            browser.send(message)
        with pytest.raises(ConnectionClosed) as closed:
            read_on(browser)
    # A sender of ten megabytes may be cut off before it reads why.
    assert closed.value.rcvd is None or closed.value.rcvd.code == code
    wait_for(lambda: served.page.refused[why] == 1)
    with served.browser() as browser:
        until(browser, "facts")
    assert not served.page.refused["mistake"]


def test_a_flood_is_cut_off(serve: Serve) -> None:
    """Ten thousand messages at once: the sender is sent away, the show sees a few hundred at most."""
    served = serve(rate=300)
    flood = json.dumps({"word": "note", "note": 60, "velocity": 90})

    def run() -> str:
        with served.browser() as browser:
            try:
                for _ in range(10_000):
                    browser.send(flood)
                while True:
                    browser.recv(timeout=5)
            except ConnectionClosed as closed:
                return closed.rcvd.reason if closed.rcvd else "cut"

    assert run() in ("too many messages", "cut")
    wait_for(lambda: served.page.refused["rate"] == 1)
    # What it held is let go, so one more.
    assert len(served.show.wishes) < 1000


def test_a_crowd_is_kept_out(serve: Serve) -> None:
    """Two hundred sockets: as many as are allowed come in, the rest is refused; a place left is free."""
    served = serve(clients=20)
    statuses: list[int] = []
    with contextlib.ExitStack() as inside:
        for _ in range(200):
            try:
                inside.enter_context(served.browser())
            except InvalidStatus as error:
                statuses.append(error.response.status_code)
        assert statuses == [503] * 180
        assert served.page.refused["crowd"] == 180
    assert wait_for(lambda: comes_in(served))


def comes_in(served: Served) -> bool:
    """True if there is a place for one more browser."""
    try:
        with served.browser() as browser:
            return bool(until(browser, "facts"))
    except InvalidStatus:
        return False


def test_a_socket_that_is_silent_for_ever_is_let_go(serve: Serve) -> None:
    """Half open: a far end that answers no ping gives its place back."""
    served = serve(clients=1, ping_s=0.2)
    line = socket.create_connection(served.place, 5)
    line.sendall(
        f"GET /socket HTTP/1.1\r\nHost: {served.host}\r\nOrigin: {served.origin}\r\nUpgrade: websocket\r\n"
        "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n".encode()
    )
    assert b"101" in line.recv(100)

    assert wait_for(lambda: comes_in(served))
    line.close()


def test_a_browser_that_draws_nothing_gets_no_more_pictures(serve: Serve) -> None:
    """A slow or hidden browser gets fewer pictures; the newest comes when it looks again."""
    served = serve()
    with served.browser() as browser:
        say(browser, "note", note=48, velocity=127, source="piano")
        seen, end = [], time.monotonic() + 1.0
        while time.monotonic() < end:
            data = browser.recv(timeout=5)
            if isinstance(data, bytes):
                seen.append(struct.unpack_from("<I", data, 1)[0])
        assert seen == [1, 2, 3]
        say(browser, "seen", n=3)
        while not isinstance(data := browser.recv(timeout=5), bytes):
            pass
        assert struct.unpack_from("<I", data, 1)[0] == 4


def test_idle_connections_are_ended(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    """A connection that asks for nothing, byte by byte or at all, is ended and counted."""
    monkeypatch.setattr("bridge.shell.page.door.FIRST_SECONDS", 0.3)
    served = serve()
    lines = [socket.create_connection(served.place, 5) for _ in range(50)]
    lines[0].sendall(b"GET / HTTP/1.1\r\nHost:")
    for line in lines:
        with contextlib.suppress(ConnectionResetError):
            assert line.recv(10) == b""
        line.close()
    assert served.page.refused["slow"] == 50


def test_ten_thousand_a_second_from_one_do_not_keep_another_waiting(serve: Serve) -> None:
    """While one browser floods and is sent away again and again, another's key soon arrives."""
    served = serve()
    stop = threading.Event()

    def flood() -> None:
        while not stop.is_set():
            try:
                with served.browser() as browser:
                    while not stop.is_set():
                        browser.send('{"word":"do","what":"release_all"}')
            except (ConnectionClosed, InvalidStatus, OSError, TimeoutError):
                continue

    thread = threading.Thread(target=flood)
    thread.start()
    try:
        with served.browser() as browser:
            waits = []
            for note in range(40, 50):
                begun = time.monotonic()
                say(browser, "note", note=note, velocity=99)
                wait_for(lambda: Played("page", 1, note, 99) in list(served.show.wishes))  # noqa: B023
                waits.append(time.monotonic() - begun)
            assert sorted(waits)[5] < 0.5
    finally:
        stop.set()
        thread.join(5.0)
