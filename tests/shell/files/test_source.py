"""Fetching a file's text: law 6, any bytes are a text or the one named error."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files import read_mapping, read_rig, rig_from_text
from bridge.shell.files.report import Report
from bridge.shell.files.source import LARGEST, decode, read_file
from bridge.values.errors import FileError
from bridge.values.rig import Rig
from tests.shell.files.cases import MAPPING, RIG, boathouse


def refused(path: Path | str) -> list[str]:
    """What `read_rig` says of a file it refuses."""
    with pytest.raises(FileError) as caught:
        read_rig(path)
    return [
        str(problem).removeprefix(f"{path}: ").removeprefix(f"{path}:") for problem in caught.value.problems
    ]


def written(folder: Path, data: bytes) -> Path:
    """A file with these bytes."""
    path = folder / "a.yaml"
    path.write_bytes(data)
    return path


def test_no_file(tmp_path: Path) -> None:
    """A file that is not there is said to be not there."""
    assert refused(tmp_path / "none.yaml") == [
        "there is no such file; check its name and the folder you are in"
    ]
    with pytest.raises(FileError, match="there is no such file"):
        read_mapping(tmp_path / "none.yaml", Rig())


def test_a_folder(tmp_path: Path) -> None:
    """A folder is said to be one."""
    assert refused(tmp_path) == ["this is a folder; give the name of the file in it"]


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="nothing is forbidden here")
def test_forbidden(tmp_path: Path) -> None:
    """A file one may not read is said to be so."""
    path = written(tmp_path, b"rig: a")
    path.chmod(0)
    assert refused(path) == ["this file may not be read; give yourself the right to read it"]


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_names_that_no_file_can_have(name: str) -> None:
    """A name the system itself refuses is the one named error too."""
    with pytest.raises(FileError, match="this file cannot be read"):
        read_rig(name)


def test_fifty_megabytes_are_refused_unread(tmp_path: Path) -> None:
    """A file far too large is refused by its size: a sparse one, whose reading would fill memory, at once."""
    path = tmp_path / "film.yaml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    assert refused(path) == [
        "50000000 bytes are too many for this file; a rig or a mapping has at most 1000000"
    ]


def test_the_largest_file_is_read() -> None:
    """A text of the largest size is read, and one byte more is not."""
    report = Report("a")
    assert decode(b"#" * LARGEST, report) == "#" * LARGEST
    assert decode(b"#" * (LARGEST + 1), report) is None
    assert rig_from_text("rig: a\n#" + "x" * (LARGEST - 8))[0].name == "a"
    with pytest.raises(FileError, match=r"^rig: 1000001 bytes are too many for this file"):
        rig_from_text("#" * (LARGEST + 1))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"rig: a\nlamps\xff: []", "2:6: byte 0xff is not UTF-8; save the file as UTF-8 in your editor"),
        (
            "rig: aé".encode() + b"\xe9\n",
            "1:8: byte 0xe9 is not UTF-8; save the file as UTF-8 in your editor",
        ),
        (b"\xef\xbb\xbfrig: \xff", "1:6: byte 0xff is not UTF-8; save the file as UTF-8 in your editor"),
        (b"rig: a\r\nb\r\xc3", "3:1: byte 0xc3 is not UTF-8; save the file as UTF-8 in your editor"),
        (b"\x7fELF\0\0\xff\xfe", "this is not a text file; give a YAML file in UTF-8"),
        ("rig: a".encode("utf-16"), "this is not a text file; give a YAML file in UTF-8"),
        (
            b"rig: a\n\0",
            "2:1: the control character U+0000 cannot stand in this file; take it out; is this a text file?",
        ),
        (
            b"rig: \x1b[0m",
            "1:6: the control character U+001B cannot stand in this file; take it out; is this a text file?",
        ),
    ],
)
def test_bytes_that_are_no_text(tmp_path: Path, data: bytes, said: str) -> None:
    """What is not UTF-8, or not printable, is named with its place."""
    assert refused(written(tmp_path, data)) == [said]


def test_byte_order_mark_and_line_ends(tmp_path: Path) -> None:
    """A byte order mark and the line ends of any system change neither values nor places."""
    plain, _ = read_rig(written(tmp_path, RIG.encode()))
    marked, _ = read_rig(written(tmp_path, b"\xef\xbb\xbf" + RIG.replace("\n", "\r\n").encode()))
    assert marked == plain
    old, _ = read_rig(written(tmp_path, RIG.replace("\n", "\r").encode()))
    assert old == plain
    assert refused(written(tmp_path, b"\xef\xbb\xbfrgi: a\r\nlapms: []"))[1].startswith(
        "2:1: unknown key 'lapms'"
    )


def test_reading_from_a_path_is_reading_the_text(tmp_path: Path) -> None:
    """Both files are read from str and Path, and messages call them as they were given."""
    rig = written(tmp_path, RIG.encode())
    assert read_rig(str(rig)) == read_rig(rig)
    mapping = written(tmp_path, MAPPING.replace("roof", "rof", 1).encode())
    with pytest.raises(FileError) as caught:
        read_mapping(mapping, boathouse())
    assert str(caught.value).startswith(f"{mapping}:9:")


@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    """Any bytes are a text, or None and one mistake."""
    report = Report("a")
    text = decode(data, report)
    assert (text is None) == report.failed


def test_pipes_are_read() -> None:
    """What a shell hands over as a pipe is read like a file, where the system has pipes with names."""
    if not Path("/dev/fd").exists():
        pytest.skip("no pipes with names here")
    reader, writer = os.pipe()
    os.write(writer, b"rig: a")
    os.close(writer)
    try:
        assert read_file(f"/dev/fd/{reader}", Report("a")) == "rig: a"
    finally:
        os.close(reader)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_that_says_nothing_is_a_mistake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither one that nobody writes to nor one that never ends holds the reader."""
    os.mkfifo(tmp_path / "rig.yaml")
    monkeypatch.setattr("bridge.shell.given_file.PATIENCE", 0.05)
    late = "this pipe does not end within 0.05 seconds; save it in a plain file and give that"
    assert refused(tmp_path / "rig.yaml") == [late]
    reading = os.open(tmp_path / "rig.yaml", os.O_RDONLY | os.O_NONBLOCK)
    writing = os.open(tmp_path / "rig.yaml", os.O_WRONLY)
    try:
        os.write(writing, b"rig: a\n")
        assert refused(tmp_path / "rig.yaml") == [late]
    finally:
        os.close(writing)
        os.close(reading)
