"""The analysis process, from a file: readings reach the show in time, trouble is shown, death is survived."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from bridge.shell.clock import Clock
from bridge.shell.sound import Listening, SoundFeed
from bridge.shell.sound.whole import find_beats
from bridge.values.events import Event
from bridge.values.sound import BeatHeard, Hearing, Onset, Sound
from tests.shell.jack import until
from tests.shell.sound.tones import beat_sound, write


@pytest.fixture
def feed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[SoundFeed]:
    """A feed that listens to nothing yet."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    made = SoundFeed(None, Clock().now)
    yield made
    made.close()


def gather(feed: SoundFeed, seconds: float, what: str) -> list[Event]:
    """Everything up to a show time."""
    got: list[Event] = []

    def enough() -> bool:
        got.extend(feed.take(seconds))
        return any(isinstance(one, Sound) and one.stamp >= seconds - 0.02 for one in got)

    until(enough, what)
    return got


def test_a_file_is_heard_in_time(feed: SoundFeed, tmp_path: Path) -> None:
    """Levels come a hundred a second, thumps and ticks in their bands, where the song is put in the show."""
    song = write(tmp_path / "song.wav", beat_sound(4.0))
    feed.listen(Listening(str(song), at=10.0, ahead=False))
    got = gather(feed, 14.0, "all of the song was heard")
    levels = [one for one in got if isinstance(one, Sound)]
    assert len(levels) == pytest.approx(400, abs=3)
    assert all(one.source == "song.wav" for one in levels)
    thumps = [one.stamp for one in got if isinstance(one, Onset) and one.band == 0]
    assert thumps == pytest.approx(list(10.5 + np.arange(7) * 0.5), abs=0.03)
    ticks = [one.stamp for one in got if isinstance(one, Onset) and one.band == 2 and one.strength > 0.3]
    assert set(np.round(10.75 + np.arange(6) * 0.5, 2)) <= {round(t, 1) + 0.05 for t in ticks} | set(
        np.round(ticks, 2)
    )


def test_beats_of_the_whole_file_are_kept(feed: SoundFeed, tmp_path: Path) -> None:
    """The second time a file is listened to, its beats are known from the start, from the cache folder."""
    song = write(tmp_path / "song.wav", beat_sound(8.0))
    feed.listen(Listening(str(song)))
    until(lambda: list((tmp_path / "cache").rglob("*.json")), "the beats are kept", 90.0)
    feed.listen(Listening(str(song)))
    got = gather(feed, 7.5, "the song was heard")
    until(lambda: "whole file" in feed.note, "the note says where the beats are from")
    beats = [one.stamp for one in got if isinstance(one, BeatHeard) and 0.9 < one.stamp < 6.8]
    assert beats == pytest.approx(list(1.0 + np.arange(len(beats)) * 0.5), abs=0.04)
    assert len(beats) == 12
    assert not list(tmp_path.glob("*.json"))


def test_nothing_is_handed_out_early(feed: SoundFeed, tmp_path: Path) -> None:
    """A file is analysed ahead, yet no reading is handed out before its moment."""
    song = write(tmp_path / "song.wav", beat_sound(4.0))
    feed.listen(Listening(str(song), ahead=False))
    until(lambda: feed.take(0.5), "something was heard")
    assert all(one.stamp <= 1.0 for one in feed.take(1.0))


def test_ctrl_c_is_for_the_show_alone(feed: SoundFeed, tmp_path: Path) -> None:
    """The analysis does not end by Ctrl-C, which a terminal sends to every process, at any moment."""
    song = write(tmp_path / "song.wav", beat_sound(3.0))
    assert feed.pid is not None
    os.kill(feed.pid, signal.SIGINT)
    first = feed.pid
    feed.listen(Listening(str(song), ahead=False))
    until(lambda: feed.take(0.5), "the song is heard")
    os.kill(feed.pid, signal.SIGINT)
    until(lambda: feed.take(2.5), "it is still heard")
    assert feed.pid == first


@pytest.mark.parametrize(("name", "says"), [("gone.wav", "no such file"), ("text.wav", "cannot be read")])
def test_what_cannot_be_heard_is_said(feed: SoundFeed, tmp_path: Path, name: str, says: str) -> None:
    """A file that is not there, or no sound, is trouble shown, and nothing worse."""
    (tmp_path / "text.wav").write_text("not sound")
    feed.listen(Listening(str(tmp_path / name)))
    until(lambda: says in feed.trouble, "the trouble is shown")


def test_a_process_that_dies_is_started_again(feed: SoundFeed, tmp_path: Path) -> None:
    """Killed in the middle, the analysis says so, comes back by itself and takes up the song."""
    song = write(tmp_path / "song.wav", beat_sound(30.0))
    feed.listen(Listening(str(song), ahead=False))
    until(lambda: feed.take(0.5), "something was heard")
    first = feed.pid
    assert first is not None
    os.kill(first, signal.SIGKILL)
    until(lambda: feed.take(5.0) is not None and feed.pid != first, "another process runs")
    got: list[Event] = []

    def heard() -> bool:
        got.extend(feed.take(6.0))
        return any(isinstance(one, Sound) and one.stamp > 5.98 for one in got)

    until(heard, "the song is heard again")
    # What the dead one had sent was taken at 5.0; nothing of the song's beginning comes a second time.
    assert min(one.stamp for one in got) > 4.9
    thumps = [one.stamp for one in got if isinstance(one, Onset) and one.band == 0 and one.stamp > 5.1]
    assert thumps == pytest.approx([5.5], abs=0.03)


def test_a_file_is_heard_differently_from_now_on(feed: SoundFeed, tmp_path: Path) -> None:
    """Other crossovers in the middle of a song: from then on there are so many bands, and no reading comes
    twice."""
    song = write(tmp_path / "song.wav", beat_sound(9.0))
    feed.listen(Listening(str(song), ahead=False))
    before = gather(feed, 6.0, "the song is heard")
    feed.hear(Hearing(crossovers=(500.0,), bands=("low", "high")))
    after = gather(feed, 7.5, "it is heard differently")
    assert {len(one.bands) for one in before if isinstance(one, Sound)} == {3}
    assert {len(one.bands) for one in after if isinstance(one, Sound)} == {2}
    assert min(one.stamp for one in after) > 6.0
    assert sum(isinstance(one, Sound) for one in after) == pytest.approx(150, abs=3)
    thumps = [one.stamp for one in after if isinstance(one, Onset) and one.band == 0]
    assert thumps == pytest.approx([6.5, 7.0, 7.5], abs=0.03) or thumps == pytest.approx([6.5, 7.0], abs=0.03)


def test_what_is_known_of_a_whole_file_is_not_told_again(feed: SoundFeed, tmp_path: Path) -> None:
    """A song that is heard differently gets the beats that lie ahead, and none that are over."""
    song = write(tmp_path / "song.wav", beat_sound(9.0))
    find_beats(song)
    feed.listen(Listening(str(song)))
    gather(feed, 6.2, "the song is heard")
    feed.hear(Hearing(crossovers=(500.0,), bands=("low", "high")))
    beats = [one.stamp for one in gather(feed, 8.2, "it is heard on") if isinstance(one, BeatHeard)]
    assert beats == pytest.approx([6.5, 7.0, 7.5, 8.0], abs=0.04)
