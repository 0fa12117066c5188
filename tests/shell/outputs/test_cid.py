"""The number that tells one sACN source from another."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest

from bridge.shell.outputs.cid import FILE_NAME, config_folder, sender_cid


def test_it_stays_the_same_between_runs(tmp_path: Path) -> None:
    """A second run reads what the first wrote, in the folder of the user's settings (E1.31 clause 5.6)."""
    first = sender_cid()
    assert sender_cid() == first
    assert uuid.UUID(bytes=first).version == 4
    assert uuid.UUID((config_folder() / FILE_NAME).read_text("ascii").strip()).bytes == first
    assert sender_cid(tmp_path / "other") != first


@pytest.mark.parametrize("content", [b"", b"rubbish\n", b"\xff\xfe\x00"])
def test_a_broken_file_is_written_anew(tmp_path: Path, content: bytes) -> None:
    """What is no CID is replaced by one that stays."""
    (tmp_path / FILE_NAME).write_bytes(content)
    first = sender_cid(tmp_path)
    assert len(first) == 16
    assert sender_cid(tmp_path) == first
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [FILE_NAME]


def test_where_nothing_can_be_kept_a_fresh_one_serves(tmp_path: Path) -> None:
    """A settings folder that cannot be made is no error: each run then has its own CID."""
    (tmp_path / "file").write_text("in the way")
    folder = tmp_path / "file" / "lampwright"
    first, second = sender_cid(folder), sender_cid(folder)
    assert len(first) == len(second) == 16
    assert first != second


def test_a_folder_in_place_of_the_file_is_no_error(tmp_path: Path) -> None:
    """The file's name may be taken by something that is no file."""
    (tmp_path / FILE_NAME).mkdir()
    assert len(sender_cid(tmp_path)) == 16
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == []


def test_a_failed_writing_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the system refuses the last step of keeping it, no half file stays."""

    def refuse(_path: Path, _target: object) -> Path:
        raise OSError("disk full")

    monkeypatch.setattr(Path, "replace", refuse)
    assert len(sender_cid(tmp_path)) == 16
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == []


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
