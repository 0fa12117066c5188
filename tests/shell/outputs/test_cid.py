"""The number that tells one sACN source from another."""

from __future__ import annotations

import subprocess
import sys
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.shell.outputs.cid import FILE_NAME, LOCK_NAME, config_folder, sender_cid

PROGRAM = """
import sys
from pathlib import Path
from bridge.shell.outputs.cid import sender_cid
print(sender_cid(Path(sys.argv[1])).hex(), flush=True)
sys.stdin.read()
"""

Start = Callable[[], tuple[subprocess.Popen[str], bytes]]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Starts programs that say their CID and run on until they are ended."""
    running: list[subprocess.Popen[str]] = []

    def one() -> tuple[subprocess.Popen[str], bytes]:
        child = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, str(tmp_path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        running.append(child)
        assert child.stdout is not None
        return child, bytes.fromhex(child.stdout.readline())

    yield one
    for child in running:
        child.kill()
        child.communicate()


def test_it_stays_the_same_between_runs(start: Start, tmp_path: Path) -> None:
    """A second run reads what the first wrote, in the folder of the user's settings (E1.31 clause 5.6)."""
    child, first = start()
    child.communicate("")
    assert start()[1] == first
    assert uuid.UUID(bytes=first).version == 4
    assert uuid.UUID((tmp_path / FILE_NAME).read_text("ascii").strip()).bytes == first


def test_one_program_has_one(tmp_path: Path) -> None:
    """Asked again, a program has the same answer; it is kept in the folder of the user's settings."""
    first = sender_cid()
    assert sender_cid() == first
    assert (config_folder() / FILE_NAME).exists()
    assert sender_cid(tmp_path / "other") != first


def test_programs_at_the_same_time_are_different_sources(start: Start) -> None:
    """Two sources must not share a CID (clause 5.6): each program has its own, the same ones next time."""
    programs = [start() for _ in range(3)]
    made = [cid for _, cid in programs]
    assert len(set(made)) == 3
    for child, _ in programs:
        child.communicate("")
    assert [start()[1] for _ in range(3)] == made


def test_a_killed_program_leaves_its_number_free(start: Start) -> None:
    """After kill -9 the lock is gone, so the next run is that source again; one that runs keeps its own."""
    (first, one), (_, two) = start(), start()
    first.kill()
    first.wait()
    assert start()[1] == one
    assert start()[1] not in (one, two)


@pytest.mark.parametrize("content", [b"", b"rubbish\n", b"\xff\xfe\x00"])
def test_a_broken_file_is_written_anew(start: Start, tmp_path: Path, content: bytes) -> None:
    """What is no CID is replaced by one that stays."""
    (tmp_path / FILE_NAME).write_bytes(content)
    child, first = start()
    child.communicate("")
    assert len(first) == 16
    assert start()[1] == first
    assert {path.name for path in tmp_path.iterdir() if path.is_file()} == {FILE_NAME, LOCK_NAME}


def test_where_nothing_can_be_kept_a_fresh_one_serves(tmp_path: Path) -> None:
    """A settings folder that cannot be made is no error: the program then has a CID for this run alone."""
    (tmp_path / "file").write_text("in the way")
    first, second = (sender_cid(tmp_path / "file" / name) for name in ("a", "b"))
    assert len(first) == len(second) == 16
    assert first != second


def test_without_a_lock_a_fresh_one_serves(start: Start, tmp_path: Path) -> None:
    """Where no lock can be had, nobody knows who else runs: each run is a source of its own."""
    (tmp_path / LOCK_NAME).mkdir()
    made = [start()[1] for _ in range(2)]
    assert len(set(made)) == 2
    assert not (tmp_path / FILE_NAME).exists()


def test_a_folder_in_place_of_the_file_is_no_error(tmp_path: Path) -> None:
    """The file's name may be taken by something that is no file."""
    (tmp_path / FILE_NAME).mkdir()
    assert len(sender_cid(tmp_path)) == 16
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [LOCK_NAME]


def test_a_failed_writing_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the system refuses the last step of keeping it, no half file stays."""

    def refuse(_path: Path, _target: object) -> Path:
        raise OSError("disk full")

    monkeypatch.setattr(Path, "replace", refuse)
    assert len(sender_cid(tmp_path)) == 16
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [LOCK_NAME]


def test_each_system_has_its_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """XDG_CONFIG_HOME or ~/.config, APPDATA, ~/Library/Application Support."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "x"))
    monkeypatch.setenv("APPDATA", str(tmp_path / "a"))
    assert config_folder("linux") == tmp_path / "x" / "lampwright"
    assert config_folder("win32") == tmp_path / "a" / "lampwright"
    assert config_folder("darwin") == tmp_path / "Library" / "Application Support" / "lampwright"
    monkeypatch.setenv("XDG_CONFIG_HOME", "relative")
    assert config_folder("linux") == tmp_path / ".config" / "lampwright"
    monkeypatch.delenv("XDG_CONFIG_HOME")
    assert config_folder("linux") == tmp_path / ".config" / "lampwright"
    monkeypatch.delenv("APPDATA")
    assert config_folder("win32") == tmp_path / "AppData" / "Roaming" / "lampwright"
