"""Lengths and moves that cannot be meant are said, and nothing is written for them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke, invoke, rows_of
from tests.acceptance.scenes import write_scene, write_song

__all__ = ["invoke"]

SLOW = bytes.fromhex("ff 51 03 ff ff ff")
"""The slowest tempo there is, 16.8 s a quarter note (Standard MIDI Files 1.0, set tempo)."""


def endless(path: Path) -> Path:
    """A MIDI file whose one note ends after the longest wait that fits, 2^28 - 1 ticks, at 96 a quarter."""
    body = b"\0\x90\x3c\x64" + b"\xff\xff\xff\x7f\x80\x3c\0" + b"\0\xff\x2f\0"
    head = bytes.fromhex("4d546864 00000006 0000 0001 0060")
    path.write_bytes(head + b"MTrk" + len(body).to_bytes(4) + body)
    return path


def crawling(path: Path) -> Path:
    """A MIDI file of one note of 5200 quarters at the slowest tempo: a little over a day."""
    body = b"\0" + SLOW + b"\0\x90\x3c\x64" + b"\x9e\xbc\x00\x80\x3c\0" + b"\0\xff\x2f\0"
    head = bytes.fromhex("4d546864 00000006 0000 0001 0060")
    path.write_bytes(head + b"MTrk" + len(body).to_bytes(4) + body)
    return path


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A rig, a mapping and a song of two notes in a second, in the current folder."""
    write_scene(tmp_path)
    write_song(tmp_path / "song.mid", (60, 100), (120, 90), seconds=1.0)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def take(scene: Path, invoke: Invoke) -> str:
    """A take of that song."""
    assert (scene / "song.mid").exists()
    assert invoke("take", "import", "song.mid", "song.take").code == 0
    return "song.take"


@pytest.mark.usefixtures("scene")
@pytest.mark.timeout(60)
@pytest.mark.parametrize("make", [endless, crawling])
def test_a_song_of_over_a_day_is_not_rendered(invoke: Invoke, make: object) -> None:
    """The file, its length and the option that ends it are said at once; with the option it is rendered."""
    assert callable(make)
    make(Path("long.mid"))
    done = invoke("render", "--midi-file", "long.mid", "--csv", "out.csv")
    assert done.code == 2
    assert done.errors.startswith("long.mid: lasts ")
    assert "hours, and a song has 24 at most; add --seconds S" in done.errors
    assert not Path("out.csv").exists()
    assert invoke("render", "--midi-file", "long.mid", "--csv", "out.csv", "--seconds", 1).code == 0
    assert len(rows_of(Path("out.csv"))) == 41


@pytest.mark.usefixtures("scene")
@pytest.mark.timeout(60)
def test_a_song_of_over_a_day_makes_no_take(invoke: Invoke) -> None:
    """An import says what is wrong with it, and leaves no file behind."""
    endless(Path("long.mid"))
    done = invoke("take", "import", "long.mid", "long.take")
    assert done.code == 2
    assert "long.mid: lasts 388 hours" in done.errors
    assert not Path("long.take").exists()


@pytest.mark.usefixtures("scene")
@pytest.mark.timeout(60)
def test_a_song_of_over_a_day_is_played_with_a_warning(invoke: Invoke) -> None:
    """Live a player ends it; what is odd about it is said as the show begins, and in the check of a set."""
    endless(Path("long.mid"))
    Path("set.yaml").write_text("songs: [{name: Long, midi: long.mid}]\n", "utf-8")
    done = invoke("check", "--mapping", "mapping.yaml", "--set", "set.yaml")
    assert done.code == 0
    assert "long.mid: warning: lasts 388 hours, and a song has 24 at most" in done.out


@pytest.mark.parametrize("seconds", ["0", "0.0"])
@pytest.mark.usefixtures("scene")
def test_no_seconds_are_nothing_to_render(invoke: Invoke, seconds: str) -> None:
    """A length of nothing writes no file and says so."""
    done = invoke("render", "--midi-file", "song.mid", "--csv", "out.csv", "--seconds", seconds)
    assert done.code == 2
    assert "there is nothing to write; give more than 0" in done.errors
    assert not Path("out.csv").exists()


@pytest.mark.usefixtures("scene")
def test_no_seconds_are_nothing_to_record(invoke: Invoke) -> None:
    """A recording of nothing is refused before the show."""
    words = ("play", "--no-page", "--midi-file", "song.mid", "--record", "new.take", "--seconds", 0)
    done = invoke(*words)
    assert done.code == 2
    assert "there is nothing to record" in done.errors
    assert not Path("new.take").exists()


@pytest.mark.parametrize("kind", ["csv", "png", "gif", "mid"])
@pytest.mark.parametrize(
    ("span", "said"),
    [
        (["--from", "10"], "there is nothing from 10 s; the take is"),
        (["--from", "10", "--to", "12"], "there is nothing from 10 s to 12 s; the take is"),
        (["--from", "0.5", "--to", "0.5"], "there is nothing from 0.5 s to 0.5 s; the take is"),
        (["--to", "0"], "there is nothing from 0 s to 0 s; the take is"),
    ],
)
def test_a_part_that_is_not_there_is_not_exported(
    invoke: Invoke, take: str, kind: str, span: list[str], said: str
) -> None:
    """An export of what lies beyond the take's end, or of nothing, is a mistake and writes nothing."""
    done = invoke("take", "export", take, f"part.{kind}", *span)
    assert done.code == 2
    assert f"{take}: {said}" in done.errors
    assert not Path(f"part.{kind}").exists()


def test_an_export_that_ends_before_it_was_told_says_so(invoke: Invoke, take: str) -> None:
    """Up to a moment beyond the end means up to the end, and is not left unsaid."""
    done = invoke("take", "export", take, "part.csv", "--from", "0.5", "--to", "100")
    assert done.code == 0
    assert "s long and not 100: taken to its end" in done.out
    assert rows_of(Path("part.csv"))


def test_a_part_that_is_not_there_is_not_aligned(invoke: Invoke, take: str) -> None:
    """A grid for what lies beyond the end moves nothing, which is said in place of a new take."""
    done = invoke("take", "align", take, "new.take", "--tempo", 120, "--from", 10)
    assert done.code == 2
    assert "there is nothing from 10 s" in done.errors
    assert not Path("new.take").exists()


def test_notes_that_transposing_loses_are_counted(invoke: Invoke, take: str) -> None:
    """Notes that leave 0..127 are not played, and the show says how many."""
    anew = ("--rig", "rig.yaml", "--mapping", "mapping.yaml", "--no-page", "--seconds", 0.1)
    done = invoke("replay", take, *anew, "--transpose", 12)
    assert done.code == 0
    assert "--transpose 12: 1 note lies outside 0 to 127 then and cannot be played" in done.out
    assert "--transpose" not in invoke("replay", take, *anew, "--transpose", 7).out


@pytest.mark.parametrize("semitones", [200, -128])
def test_no_transposition_reaches_further_than_the_notes(invoke: Invoke, take: str, semitones: int) -> None:
    """More than 127 semitones leave no note at all, which is a slip."""
    anew = ("--rig", "rig.yaml", "--mapping", "mapping.yaml", "--no-page", "--seconds", 0.1)
    done = invoke("replay", take, *anew, "--transpose", semitones)
    assert done.code == 2
    assert f"--transpose {semitones} leaves no note; give -127 to 127 semitones" in done.errors
