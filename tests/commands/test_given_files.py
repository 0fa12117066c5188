"""What is given in place of a plain file is refused at once, by every command that reads one."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke, invoke
from tests.acceptance.scenes import write_scene

__all__ = ["invoke"]

HUGE = 10_000_000_000
"""Bytes of a file that takes no room on the disk."""

READERS = {
    "rig": ["check", "--rig", "{odd}"],
    "mapping": ["check", "--mapping", "{odd}"],
    "set list": ["check", "--mapping", "mapping.yaml", "--set", "{odd}"],
    "picture": ["check", "--mapping", "pictures.yaml"],
    "render": ["render", "--midi-file", "{odd}", "--csv", "out.csv"],
    "play": ["play", "--no-page", "--midi-file", "{odd}"],
    "import": ["take", "import", "{odd}", "new.take"],
    "info": ["take", "info", "{odd}"],
    "replay": ["replay", "{odd}", "--no-page"],
    "sound": ["listen", "{odd}", "--quiet"],
}
"""What is read -> a command line that reads it."""


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A rig and a mapping, in the current folder."""
    write_scene(tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refused(invoke: Invoke, reader: str, odd: Path) -> str:
    """What a command says of a path that it must not read; nothing is written."""
    Path("pictures.yaml").write_text(f"textures: {{a: {{picture: '{odd}', run: true}}}}\n", "utf-8")
    done = invoke(*[word.format(odd=odd) for word in READERS[reader]])
    assert done.code == 2
    assert "Traceback" not in done.errors
    assert not Path("out.csv").exists()
    assert not Path("new.take").exists()
    return done.errors


@pytest.mark.parametrize("reader", READERS)
def test_a_folder_is_refused(invoke: Invoke, scene: Path, reader: str) -> None:
    """A folder is no file, and that is said in these words rather than in the system's."""
    (scene / "odd").mkdir()
    assert "folder" in refused(invoke, reader, scene / "odd")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("reader", READERS)
def test_a_pipe_is_refused(invoke: Invoke, scene: Path, reader: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A pipe that nobody writes to holds no command."""
    monkeypatch.setattr("bridge.shell.given_file.PATIENCE", 0.05)
    os.mkfifo(scene / "odd")
    assert "file" in refused(invoke, reader, scene / "odd")


@pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="this system has no sockets that are files")
@pytest.mark.parametrize("reader", READERS)
def test_a_socket_is_refused(invoke: Invoke, scene: Path, reader: str) -> None:
    """A socket in the file system is no file to read."""
    with socket.socket(socket.AF_UNIX) as server:
        server.bind("odd")
        assert "file" in refused(invoke, reader, scene / "odd")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="this system has no /dev/zero")
@pytest.mark.usefixtures("scene")
@pytest.mark.parametrize("reader", READERS)
def test_a_device_without_end_is_refused(invoke: Invoke, reader: str) -> None:
    """A device that gives bytes for ever fills no memory."""
    assert "file" in refused(invoke, reader, Path("/dev/zero"))


@pytest.mark.parametrize("reader", READERS)
def test_a_file_of_many_gigabytes_is_refused(invoke: Invoke, scene: Path, reader: str) -> None:
    """A file far too large to be what was asked for is refused before it is read."""
    with open(scene / "odd", "wb") as file:
        try:
            file.truncate(HUGE)
        except OSError:
            pytest.skip("this file system makes no file of 10 GB without room for it")
    assert refused(invoke, reader, scene / "odd")
