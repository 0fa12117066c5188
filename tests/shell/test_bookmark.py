"""Marks about files: there until a clean end, one for each show at once, and no trouble where none can be."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from bridge.shell.bookmark import LARGEST, PLACES, Bookmark

HOLDS = """\
import sys
from pathlib import Path
from bridge.shell.bookmark import Bookmark
mark = Bookmark(Path(sys.argv[1]), Path(sys.argv[2]))
mark.put(who=sys.argv[3])
print("ready", flush=True)
sys.stdin.read()
"""


def test_a_mark_is_there_until_a_clean_end(tmp_path: Path) -> None:
    """What was put last is read by the next; cleared, nothing is; each file has a mark of its own."""
    mark, other = Bookmark(Path("a.yaml"), tmp_path / "c"), Bookmark(Path("b.yaml"), tmp_path / "c")
    assert mark.read() == {}
    mark.put(index=1, name="one")
    mark.put(index=2, name="two")
    mark.close()
    again = Bookmark(Path("a.yaml"), tmp_path / "c")
    assert again.read() == {"index": 2, "name": "two"}
    assert other.read() == {}
    again.clear()
    again.clear()
    assert again.read() == {}
    again.close()
    other.close()


def test_a_mark_about_several_files_is_about_all_of_them(tmp_path: Path) -> None:
    """The same rig with another mapping, or the files the other way round, is another show."""
    first = Bookmark([Path("rig"), Path("m")], tmp_path)
    first.put(index=1)
    first.close()
    for files in ([Path("rig"), Path("n")], [Path("m"), Path("rig")], [Path("rig")], Path("rig")):
        other = Bookmark(files, tmp_path)
        assert other.read() == {}
        other.close()
    same = Bookmark([Path("x/../rig"), Path("m").resolve()], tmp_path)
    assert same.read() == {"index": 1}
    same.close()


def test_two_shows_at_once_have_a_mark_each(tmp_path: Path) -> None:
    """The second neither sees nor takes out the mark of the first; who comes after gets what nobody holds."""
    first, second = Bookmark(Path("a"), tmp_path), Bookmark(Path("a"), tmp_path)
    first.put(who=1)
    assert second.read() == {}
    second.put(who=2)
    second.clear()
    assert first.read() == {"who": 1}
    second.put(who=2)
    second.close()
    third = Bookmark(Path("a"), tmp_path)
    assert third.read() == {"who": 2}
    third.close()
    first.close()


def test_a_process_that_is_killed_lets_go_of_its_mark(tmp_path: Path) -> None:
    """While it lives nobody else gets its mark; after kill -9 the next one does."""
    command = [sys.executable, "-c", HOLDS, "a", str(tmp_path), "victim"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == b"ready"
        beside = Bookmark(Path("a"), tmp_path)
        assert beside.read() == {}
        beside.close()
        process.kill()
        process.wait()
    after = Bookmark(Path("a"), tmp_path)
    assert after.read() == {"who": "victim"}
    after.close()


def test_the_newest_mark_nobody_holds_comes_first(tmp_path: Path) -> None:
    """Of several that were left, the one written last."""
    marks = [Bookmark(Path("a"), tmp_path) for _ in range(3)]
    for number, mark in enumerate(marks):
        mark.put(who=number)
        mark.close()
    for path in tmp_path.glob("*.json"):
        os.utime(path, (1e9, 2e9 if "-2.json" in path.name else 1e9))
    newest = Bookmark(Path("a"), tmp_path)
    assert newest.read() == {"who": 1}
    newest.close()


def test_more_shows_than_places_go_without(tmp_path: Path) -> None:
    """The ninth show at once plays without a mark, and harms none."""
    marks = [Bookmark(Path("a"), tmp_path) for _ in range(PLACES + 1)]
    for number, mark in enumerate(marks):
        mark.put(who=number)
    assert [mark.read().get("who") for mark in marks] == [*range(PLACES), None]
    for mark in marks:
        mark.clear()
        mark.close()


def test_rubbish_and_a_folder_that_cannot_be_are_no_trouble(tmp_path: Path) -> None:
    """A mark that is no JSON, or far too large, counts as none; a file for a folder costs the mark."""
    mark = Bookmark(Path("a.yaml"), tmp_path)
    for rubbish in (b"{half", b"[1]", b"\xff\xfe", b"[" * 100_000, b" " * (LARGEST + 1) + b"{}"):
        mark.put(index=1)
        next(tmp_path.glob("*.json")).write_bytes(rubbish)
        assert mark.read() == {}
    mark.close()
    (tmp_path / "file").write_text("")
    lost = Bookmark(Path("a.yaml"), tmp_path / "file")
    lost.put(index=1)
    assert lost.read() == {}
    lost.clear()
    lost.close()
