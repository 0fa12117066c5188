"""Where an evening was, for after a crash."""

from __future__ import annotations

from pathlib import Path

from bridge.shell.bookmark import Bookmark


def test_a_mark_is_there_until_a_clean_end(tmp_path: Path) -> None:
    """What was put last is read; cleared, nothing is; each set list has a mark of its own."""
    mark, other = Bookmark(Path("a.yaml"), tmp_path / "c"), Bookmark(Path("b.yaml"), tmp_path / "c")
    assert mark.read() == {}
    mark.put(index=1, name="one")
    mark.put(index=2, name="two")
    assert Bookmark(Path("a.yaml"), tmp_path / "c").read() == {"index": 2, "name": "two"}
    assert other.read() == {}
    mark.clear()
    mark.clear()
    assert mark.read() == {}


def test_rubbish_and_a_folder_that_cannot_be_are_no_trouble(tmp_path: Path) -> None:
    """A mark that is no JSON counts as none; a file in place of the folder costs the mark only."""
    mark = Bookmark(Path("a.yaml"), tmp_path)
    mark.put(index=1)
    next(tmp_path.glob("evening-*.json")).write_text("{half")
    assert mark.read() == {}
    (tmp_path / "file").write_text("")
    lost = Bookmark(Path("a.yaml"), tmp_path / "file")
    lost.put(index=1)
    assert lost.read() == {}
