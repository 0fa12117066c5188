"""Lamps that hear the song they play to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.commands.listen import listen, means_file
from bridge.core.engine import Engine
from bridge.shell.clock import Clock
from bridge.shell.feeds import ListFeed
from bridge.shell.sound.along import Along, Both
from bridge.shell.sound.stage import DEAF, StageMusic, hears_music
from bridge.values.errors import DeviceError, FileError
from bridge.values.events import NewMapping, NoteOn
from bridge.values.mapping import Mapping, SetRule, Trigger
from bridge.values.sound import USUAL_HEARING, Hearing, Onset, Sound, SoundRule
from tests.core.builders import rig
from tests.shell.jack import until
from tests.shell.sound.tones import beat_sound, write


@pytest.fixture
def cache(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A cache folder of our own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def along(cache: Path) -> Iterator[Along]:
    """Ears for songs."""
    made = Along(Clock().now)
    yield made
    made.close()
    assert cache.name == "cache"


def test_two_feeds_are_one_in_order() -> None:
    """Events of both come by stamp, and none before its moment."""
    a = ListFeed([NoteOn(t, "a", 1, 60, 1) for t in (0.1, 0.5)])
    b = ListFeed([NoteOn(t, "b", 1, 60, 1) for t in (0.1, 0.3, 0.9)])
    both = Both(a, b)
    assert [(one.stamp, one.port) for one in both.take(0.5)] == [  # type: ignore[union-attr]
        (0.1, "a"),
        (0.1, "b"),
        (0.3, "b"),
        (0.5, "a"),
    ]
    assert [one.stamp for one in both.take(2.0)] == [0.9]


def test_a_song_is_heard_in_its_own_seconds_again_and_again(along: Along, tmp_path: Path) -> None:
    """A song prepared beforehand is heard from its first second on, and so it is when it begins anew."""
    song = write(tmp_path / "song.wav", beat_sound(2.0))
    along.prepare(song, USUAL_HEARING)
    until(lambda: along.ears.take(-1.0) or along.ears.ready, "the song is read")
    make = along.feed(song, USUAL_HEARING, lambda: ListFeed([NoteOn(0.2, "a", 1, 60, 1)]))
    for _ in range(2):
        feed, got = make(), []

        def heard() -> bool:
            got.extend(feed.take(1.9))  # noqa: B023
            return any(isinstance(one, Sound) and one.stamp > 1.85 for one in got)  # noqa: B023

        until(heard, "the song is heard")
        assert sum(isinstance(one, NoteOn) for one in got) == 1
        thumps = [one.stamp for one in got if isinstance(one, Onset) and one.band == 0]
        assert thumps == pytest.approx([0.5, 1.0, 1.5], abs=0.03)


def test_who_needs_ears() -> None:
    """A mapping with a rule of sound, or a control that music turns, is worth listening for."""
    assert not hears_music(Mapping())
    assert hears_music(Mapping(sound=(SoundRule(0, lamps=(0,)),)))
    assert hears_music(Mapping(sets=(SetRule(Trigger("beat"), "master"),)))
    assert not hears_music(Mapping(sets=(SetRule(Trigger("control", (1,)), "master"),)))


def test_a_show_says_what_is_wrong_with_its_ears(along: Along, tmp_path: Path) -> None:
    """Trouble of the ears is a line of the show, and our clock goes out with its beat."""
    sent: list[bytes] = []
    clock = Clock()
    music = StageMusic(along.ears, lambda: sent.append, clock)
    engine = Engine(rig(), Mapping())
    along.prepare(tmp_path / "gone.wav", USUAL_HEARING)
    until(lambda: any("no such file" in line for line in music.lines(engine)), "the trouble is a line")
    assert music.live is None
    music.turn(clock.now(), 0.0, engine)
    until(lambda: b"\xf8" in sent, "a tick went out")
    music.close()
    assert sent[-1] == b"\xfc"
    clock.close()


def test_listen_reports_and_draws(cache: Path, tmp_path: Path) -> None:
    """`listen` shows a file as it passes, says what was heard and writes the chart."""
    song, chart, said = write(tmp_path / "song.wav", beat_sound(2.0)), tmp_path / "chart.png", []
    assert listen(said.append, str(song), tmp_path / "no rig", None, chart, 1.6, loud=False) == 0
    assert any(line.startswith("bass: level") and "3 strokes" in line for line in said)
    assert chart.stat().st_size > 1000
    assert sorted(one.name for one in tmp_path.iterdir() if one != cache) == ["chart.png", "song.wav"]


def test_listen_to_nothing_is_the_one_named_error(cache: Path, tmp_path: Path) -> None:
    """A file that is not there, or an input that is not, ends with an error that says what would help."""
    with pytest.raises(FileError, match="no such file"):
        listen(print, str(tmp_path / "gone.wav"), tmp_path, None, None, 1.0)
    with pytest.raises(DeviceError, match="sound"):
        listen(print, "no such input", tmp_path, None, None, 2.0)
    assert not cache.exists()


@pytest.mark.parametrize(
    ("what", "file"),
    [
        ("song.wav", True),
        ("gone.mp3", True),
        ("songs/gone", True),
        ("USB 2.0 Audio", False),
        ("USB2.0", False),
        ("hw:1,0", False),
        ("", False),
    ],
)
def test_what_is_spelled_like_a_file_is_one(what: str, file: bool) -> None:
    """A name with a file's ending or in a folder is a file; a version number in a device's name is none."""
    assert means_file(what) is file


def test_a_song_that_is_ready_is_not_begun_anew(along: Along, tmp_path: Path) -> None:
    """Told twice before it plays, the analysis goes on with what it has; played, it begins anew."""
    song = write(tmp_path / "song.wav", beat_sound(2.0))
    along.prepare(song, USUAL_HEARING)
    until(lambda: along.ears.ready, "the song is read")
    along.prepare(song, USUAL_HEARING)
    assert along.ears.ready
    feed = along.feed(song, USUAL_HEARING)()
    assert feed.take(0.5)
    along.prepare(song, USUAL_HEARING)
    assert not along.ears.ready


def test_a_saved_mapping_is_heard_as_it_says(along: Along, tmp_path: Path) -> None:
    """A mapping with other crossovers comes into force: a few frames later the song is heard so."""
    clock = Clock()
    music = StageMusic(along.ears, None, clock)
    engine = Engine(rig(), Mapping(sound=(SoundRule(0, lamps=(0,)),)))
    along.prepare(write(tmp_path / "song.wav", beat_sound(4.0)), USUAL_HEARING)
    other = Hearing(crossovers=(500.0,), bands=("low", "high"))
    engine.advance([NewMapping(0.0, replace(engine.mapping, hearing=other))], 0.0)
    music.turn(clock.now(), 0.0, engine)
    assert along.ears.listening is not None
    assert along.ears.listening.hearing == USUAL_HEARING
    for n in range(1, 4):
        music.turn(clock.now(), n / 40, engine)
    assert along.ears.listening.hearing == other
    sounds = until(lambda: [one for one in along.ears.take(1.0) if isinstance(one, Sound)], "it is heard")
    assert {len(one.bands) for one in sounds} == {2}
    clock.close()


def test_a_mapping_that_wants_ears_too_late_is_told(cache: Path) -> None:
    """A show that listens to nothing says so when a mapping is saved that follows music."""
    clock = Clock()
    music = StageMusic(None, None, clock)
    engine = Engine(rig(), Mapping())
    music.turn(clock.now(), 0.0, engine)
    assert music.lines(engine) == []
    engine.advance([NewMapping(0.0, Mapping(sound=(SoundRule(0, lamps=(0,)),)))], 0.0)
    music.turn(clock.now(), 0.025, engine)
    assert music.lines(engine) == [DEAF]
    clock.close()
    assert not cache.exists()
