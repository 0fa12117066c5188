"""Where a show is to be recorded and told of: names that cannot be are refused before the first frame."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke, invoke
from tests.acceptance.scenes import write_scene, write_song

__all__ = ["invoke"]


@pytest.fixture
def play(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[str, ...]:
    """The command that plays a song of a second, a tenth of it."""
    write_scene(tmp_path)
    write_song(tmp_path / "song.mid", (60, 100), seconds=1.0)
    monkeypatch.chdir(tmp_path)
    return ("play", "--midi-file", "song.mid", "--no-page", "--out", "memory", "--seconds", "0.1")


@pytest.mark.parametrize("option", ["--record", "--report"])
def test_a_name_too_long_is_one_line(option: str, play: tuple[str, ...], invoke: Invoke) -> None:
    """A name that no disk takes is refused by its option, not by a traceback."""
    result = invoke(*play, option, "a" * 300 + ".html")
    assert result.code == 2
    assert f"{option} aaa" in result.errors
    assert "name too long" in result.errors.lower()
    assert not list(Path().glob("aaa*"))


def test_a_report_does_not_replace_the_take(play: tuple[str, ...], invoke: Invoke) -> None:
    """One name for both is refused: the page would be written over the show that was played once."""
    result = invoke(*play, "--record", "show.html", "--report", "./show.html")
    assert result.code == 2
    assert "that is where the show is recorded to" in result.errors
    assert not Path("show.html").exists()
