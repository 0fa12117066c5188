"""A song heard: through PortAudio into a real JACK server, recorded there by another program."""

from __future__ import annotations

import itertools
import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from bridge.shell.clock import Clock
from bridge.shell.song import SilentSong, SongPlayer, song_or_silence
from bridge.shell.song.sound_file import Sound
from bridge.values.errors import DeviceError, FileError
from tests.shell.jack import until
from tests.shell.song.sound_server import Recorder, SoundServer, sound_server
from tests.shell.song.sounds import ramp, write

CLOCK = Clock()
LENGTH = 1.0


@pytest.fixture(scope="module")
def server() -> Iterator[SoundServer]:
    """A sound system at 48000 frames a second."""
    with sound_server(48000) as running:
        yield running


@pytest.fixture
def song(server: SoundServer, tmp_path: Path) -> Iterator[SongPlayer]:
    """A ramp at the server's rate, ready to start."""
    player = SongPlayer(write(tmp_path / "song.wav", ramp(server.rate, LENGTH), server.rate, "FLOAT"))
    player.open()
    yield player
    player.close()


def follow(player: SongPlayer) -> list[tuple[float, float]]:
    """Every position until the song ends."""
    seen: list[tuple[float, float]] = []
    pause = threading.Event()
    end = CLOCK.now() + 20.0
    while player.playing and CLOCK.now() < end:
        position = player.position()
        if position is not None and position not in seen[-1:]:
            seen.append(position)
        pause.wait(0.004)
    assert player.ended
    return seen


def sounding(sound: Sound) -> Sound:
    """From the first sample that is not silence to the last."""
    loud = np.flatnonzero(sound[:, 0])
    return sound[loud[0] : loud[-1] + 1]


def test_what_is_heard_is_the_file_and_where_it_is_said_to_be(song: SongPlayer) -> None:
    """Sample by sample; begun at the moment asked for; positions tell the second that really sounds."""
    assert song.ready
    assert song.length == LENGTH
    assert song.device == "system"
    with Recorder() as recorder:
        when = CLOCK.now() + 0.2
        song.start(when=when)
        assert song.playing
        seen = follow(song)
        sound, walls = recorder.heard()
    got = sounding(sound)
    wanted = ramp(48000, LENGTH)
    assert np.isin(got[:, 0], wanted[:, 0]).all()
    assert np.array_equal(got[:, 1], -got[:, 0])
    # A loaded machine may lose a block between the two programs.
    assert (np.diff(got[:, 0]) == wanted[1, 0]).mean() > 0.95
    assert len(np.unique(got[:, 0])) > 0.95 * len(wanted)
    assert len(seen) > 20
    assert all(b[0] > a[0] and b[1] > a[1] for a, b in itertools.pairwise(seen))
    # What sounds reaches the recorder as it leaves us, one or two periods before it would be heard.
    truth = [wall - first * 2**20 / 48000 for wall, first in walls if first > 0.0]
    said = [wall - second for wall, second in seen]
    assert abs(np.median(truth) - np.median(said)) < 0.03
    assert abs(np.median(said) - when) < 0.03


def test_lamps_come_later_by_the_offset(server: SoundServer, tmp_path: Path) -> None:
    """The lamps' second 0 is at the moment asked for, and the song was heard an offset before it."""
    path = write(tmp_path / "song.wav", ramp(server.rate, LENGTH), server.rate, "FLOAT")
    player = SongPlayer(path, offset_s=0.2)
    player.open()
    try:
        when = CLOCK.now() + 0.4
        player.start(when=when)
        wall, second = until(player.position, "a position")
        assert second < 0.0
        assert wall - second == pytest.approx(when, abs=0.03)
    finally:
        player.close()


def test_it_starts_anywhere_stops_and_starts_again(song: SongPlayer) -> None:
    """From second 0.4 on, then silence, then from the beginning: each start is the one that is told of."""
    song.start(at=0.4)
    _, second = until(song.position, "a position")
    assert 0.4 <= second < 0.8
    song.stop()
    assert (song.position(), song.playing, song.ended) == (None, False, False)
    song.start()
    _, second = until(song.position, "a position")
    assert 0.0 <= second < 0.4
    assert song.trouble == ""


def test_the_next_song_is_made_ready_while_one_plays(song: SongPlayer, tmp_path: Path) -> None:
    """`load` takes nothing from what sounds; the next `start` plays the new file on the same device."""
    song.start()
    until(song.position, "a position")
    song.load(write(tmp_path / "next.flac", ramp(44100, 0.7), 44100), offset_s=0.0)
    until(lambda: song.position() and song.ready, "the next song is ready while the first plays")
    assert song.length == pytest.approx(0.7)
    song.start()
    seen = follow(song)
    assert seen[-1][1] < 0.7
    assert seen[-1][1] - seen[0][1] == pytest.approx(seen[-1][0] - seen[0][0], rel=0.1)


def test_a_next_song_that_cannot_be_played_is_told_before_it_is_started(
    song: SongPlayer, tmp_path: Path
) -> None:
    """What plays goes on; started all the same, there is silence, and another song can follow."""
    song.start()
    until(song.position, "a position")
    text = tmp_path / "next.wav"
    text.write_text("no sound")
    song.load(text)
    until(lambda: song.position() and "cannot be read as sound" in song.trouble, "the mistake is told")
    song.start()
    assert (song.position(), song.playing, song.ready) == (None, False, False)
    song.load(write(tmp_path / "third.wav", ramp(48000, LENGTH), 48000))
    until(lambda: song.position() or song.ready, "the third song is ready")
    assert song.trouble == ""
    song.start()
    assert until(song.position, "a position")[1] < LENGTH


def runs_true(path: Path) -> None:
    """A song's positions run as the server's clock does, and it takes as long as it is long."""
    player = SongPlayer(path)
    player.open()
    try:
        player.start()
        seen = np.array(follow(player))
    finally:
        player.close()
    # The median, because a server on a loaded machine may lose time now and then.
    walls, seconds = seen[10:].T - seen[:-10].T
    assert np.median(seconds / walls) == pytest.approx(1.0, abs=0.02)
    assert seen[-1, 1] == pytest.approx(LENGTH, abs=0.1)


def test_a_song_of_44100_on_a_server_of_48000(server: SoundServer, tmp_path: Path) -> None:
    """Resampled, it runs as fast as it should."""
    assert server.rate == 48000
    runs_true(write(tmp_path / "song.wav", ramp(44100, LENGTH), 44100))


def test_a_song_of_48000_on_a_server_of_44100(tmp_path: Path) -> None:
    """Resampled the other way, likewise."""
    with sound_server(44100):
        runs_true(write(tmp_path / "song.wav", ramp(48000, LENGTH), 48000))


def test_a_player_that_dies_comes_back_where_the_song_is(server: SoundServer, tmp_path: Path) -> None:
    """Killed, the process is started again, and the song sounds at the second it would have reached."""
    player = SongPlayer(write(tmp_path / "song.wav", ramp(server.rate, 15.0), server.rate))
    player.open()
    try:
        player.start()
        wall, second = until(player.position, "a position")
        assert player.pid is not None
        os.kill(player.pid, signal.SIGKILL)
        until(lambda: not player.position() and player.trouble, "the death is noticed")
        assert player.playing
        dead = CLOCK.now()
        again, later = until(lambda: (p := player.position()) and p[0] > dead and p, "it plays again")
        assert later - second == pytest.approx(again - wall, abs=0.05)
        assert player.trouble == ""
    finally:
        player.close()


def test_a_sound_system_that_dies_is_told_and_missed_by_nobody_else(tmp_path: Path) -> None:
    """The server is killed in the middle of a song: the player says so, and closes without hanging."""
    with sound_server(48000) as server:
        player = SongPlayer(write(tmp_path / "song.wav", ramp(48000, 15.0), 48000))
        player.open()
        try:
            player.start()
            until(player.position, "a position")
            server.stop(kill=True)
            until(lambda: player.position() is None and "gone" in player.trouble, "the loss is told")
        finally:
            player.close()


def test_what_is_no_song_is_a_mistake_of_the_file(server: SoundServer, tmp_path: Path) -> None:
    """A wrong name and a file without sound are told as such, with a device or without."""
    assert server.rate == 48000
    text = tmp_path / "song.wav"
    text.write_text("no sound")
    for path, words in [
        (text, "cannot be read as sound"),
        (tmp_path / "nowhere.wav", "there is no such file"),
    ]:
        with pytest.raises(FileError, match=words):
            SongPlayer(path).open()
        with pytest.raises(FileError, match=words):
            song_or_silence(path, CLOCK)


def test_no_such_device_says_which_there_are(server: SoundServer, tmp_path: Path) -> None:
    """A device that is not there, by name or number: which there are, and the song's timing without sound."""
    path = write(tmp_path / "song.wav", ramp(server.rate, 0.5), server.rate)
    for device in ("no such thing", 77):
        with pytest.raises(DeviceError, match=f"no sound output fits '{device}'; give one of 'system'"):
            SongPlayer(path, device=device).open()
    silent = song_or_silence(path, CLOCK, device="no such thing")
    assert isinstance(silent, SilentSong)
    assert silent.length == 0.5
    assert "no sound: no sound output fits 'no such thing'" in silent.trouble


def test_closed_twice_is_closed_once(song: SongPlayer) -> None:
    """Closing ends the process; orders after it do nothing."""
    pid = song.pid
    song.close()
    song.close()
    song.start()
    song.stop()
    assert song.position() is None
    assert pid is not None
    assert song.pid is None
