"""The network goes and comes back under the real program; the machine's own is never touched."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.acceptance import programs
from tests.acceptance.programs import NEEDS_POSIX, InTerminal, Running, until
from tests.acceptance.scenes import picture, write_song

NOTES = {60: 100, 64: 127}
HOST = "192.0.2.7"
"""An address kept for documents (RFC 5737), given to the namespace alone."""

EAR = """\
import socket, sys
ear = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
ear.bind(("", 5568))
lit = bytes.fromhex(sys.argv[1])
while True:
    slots = ear.recv(2048)[126:]
    print("L" if slots == lit else "-" if any(slots) else "D", end="", flush=True)
"""
"""A letter a packet: lit as it should be, dark, or else; slots begin at octet 126 (ANSI E1.31 Table 4-1)."""

pytestmark = NEEDS_POSIX


class Network:
    """A network namespace with nothing but its loopback; ends with the process that holds it."""

    def __init__(self) -> None:
        self._holder = subprocess.Popen(
            ["unshare", "--map-root-user", "--net", "cat"], stdin=subprocess.PIPE, stderr=subprocess.PIPE
        )
        self.enter = (
            *("nsenter", "-t", str(self._holder.pid)),
            *("--user", "--net", "--preserve-credentials", "--"),
        )

    def ip(self, *words: str) -> bool:
        """Change it; False where that is not allowed."""
        return subprocess.run([*self.enter, "ip", *words], capture_output=True, check=False).returncode == 0

    def plug(self) -> None:
        """This end gets its address, as it does when a cable is plugged in."""
        assert self.ip("address", "add", f"{HOST}/32", "dev", "lo")

    def pull(self) -> None:
        """The address goes, and with it every way to the lamps."""
        assert self.ip("address", "del", f"{HOST}/32", "dev", "lo")

    def inside(self) -> bool:
        """True once the holder has a network other than ours."""
        theirs, ours = (Path(f"/proc/{who}/ns/net") for who in (self._holder.pid, "self"))
        try:
            return theirs.readlink() != ours.readlink()
        except OSError:
            return False

    def close(self) -> None:
        """Let it go."""
        self._holder.kill()
        self._holder.communicate()


@pytest.fixture
def network() -> Iterator[Network]:
    """A network of our own, up; skips where this machine does not let us have one."""
    if not all(map(shutil.which, ("unshare", "nsenter", "ip"))):
        if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
            pytest.fail("unshare, nsenter or ip is missing")
        pytest.skip("needs unshare, nsenter and ip (util-linux, iproute2)")
    one = Network()
    try:
        end = time.monotonic() + 5.0
        while not one.inside() and one._holder.poll() is None and time.monotonic() < end:
            time.sleep(0.005)
        if not one.inside() or not one.ip("link", "set", "lo", "up"):
            pytest.skip("this machine gives its users no network namespaces")
        one.plug()
        yield one
    finally:
        one.close()


class Listener(Running):
    """Whoever listens to sACN in that network; `letters` tells what came."""

    def __init__(self, network: Network, folder: Path) -> None:
        lit = bytes(picture(NOTES)).hex()
        command = [*network.enter, sys.executable, "-c", EAR, lit]
        super().__init__(command, folder, {"stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}, {})
        assert self.process.stdout is not None
        self._listen("stdout", self.process.stdout)

    @property
    def letters(self) -> str:
        """One for each packet."""
        return self.heard("stdout")


@contextmanager
def show_in(network: Network, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[InTerminal]:
    """A show in a terminal whose network is that one."""
    words = ", ".join(repr(word) for word in network.enter)
    moved = programs.IN_TERMINAL.replace("os.execv(sys.executable, [", f"os.execvp('nsenter', [{words}, ")
    assert moved != programs.IN_TERMINAL
    song = write_song(folder / "song.mid", *NOTES.items())
    monkeypatch.setattr(programs, "IN_TERMINAL", moved)
    with InTerminal(
        "play", "--no-page", "--midi-file", song, "--out", f"sacn:{HOST}/1", folder=folder
    ) as show:
        yield show


def test_a_network_that_goes_and_returns(
    network: Network, scene: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a network the output says so and frames go on; back again, the picture of now is there."""
    with Listener(network, scene) as ear, show_in(network, scene, monkeypatch) as show:
        until(lambda: "L" in ear.letters, "the lamps are lit")
        for _ in range(2):
            network.pull()
            show.shows(f"no network of this machine leads to {HOST}", len(show.raw))
            seen = len(ear.letters)
            network.plug()
            until(lambda: ear.letters[seen : seen + 1], "packets come again")  # noqa: B023
            assert ear.letters[seen:][:1] == "L"
            show.no_longer_shows("no network of this machine")
        show.type(b"\x03")
        assert show.ended(5.0) == 130
        assert "none left out" in show.text_from(0)
        assert "Traceback" not in show.text_from(0)
        until(lambda: ear.letters.endswith("D" * 6), "it ends dark: three pictures, three goodbyes")


def test_without_a_network_at_the_start(
    network: Network, scene: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A show that begins before its network plays all the same, and lights the lamps once it is there."""
    with Listener(network, scene) as ear:
        network.pull()
        with show_in(network, scene, monkeypatch) as show:
            show.shows(f"no network of this machine leads to {HOST}")
            assert ear.letters == ""
            network.plug()
            until(lambda: ear.letters, "packets come")
            assert ear.letters[:1] == "L"
            show.type(b"\x03")
            assert show.ended(5.0) == 130
