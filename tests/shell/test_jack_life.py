"""Telling a living server from one that died, by its socket."""

from __future__ import annotations

import socket
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.shell.jack_life import JackLife, server_socket, takes_calls

if not hasattr(socket, "AF_UNIX"):
    pytest.skip("JACK's socket is a thing of POSIX", allow_module_level=True)


@pytest.fixture
def place(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Where a server called `t` would have its socket."""
    import os

    with tempfile.TemporaryDirectory(prefix="lw") as home:
        monkeypatch.setattr(tempfile, "tempdir", home)
        monkeypatch.setenv("JACK_DEFAULT_SERVER", "t")
        yield Path(home, f"jack_t_{os.getuid()}_0")


def serve(place: Path) -> socket.socket:
    """A socket that takes calls there."""
    server = socket.socket(socket.AF_UNIX)
    server.bind(str(place))
    server.listen()
    return server


def test_a_server_lives_as_long_as_it_takes_calls(place: Path) -> None:
    """A socket that somebody listens at is alive; a file that a killed server left behind is not."""
    assert server_socket() is None
    with serve(place):
        assert server_socket() == place
        assert takes_calls(place)
        life = JackLife()
        life.let_in()
        assert not life.ended()
    assert place.exists()
    assert not takes_calls(place)
    assert life.ended()
    place.unlink()
    assert life.ended()


def test_a_server_that_took_the_place_of_ours_is_another(place: Path) -> None:
    """After a quick restart the old server's clients are dead, though a server answers."""
    life = JackLife()
    with serve(place):
        life.let_in()
        place.unlink()
        # The old socket stays open, so that the new file cannot be given the same inode.
        with serve(place):
            assert takes_calls(place)
            assert life.ended()
            life.let_in()
            assert not life.ended()


def test_where_no_socket_is_found_nothing_is_declared_dead(place: Path) -> None:
    """A server of another make has no such socket: that it died cannot be known, so it is not claimed."""
    life = JackLife()
    assert not life.ended()
    life.let_in()
    assert not life.ended()
    with serve(place):
        assert not life.ended()
