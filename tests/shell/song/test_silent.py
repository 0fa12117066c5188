"""A song without sound: exact timing, the offset, starts and stops; on a fake clock."""

from __future__ import annotations

import math

import pytest

from bridge.shell.clock import FakeClock
from bridge.shell.song import SilentSong, Song


def test_it_passes_as_a_song_would() -> None:
    """From start to end: playing, a position each moment, then ended."""
    clock = FakeClock(100.0)
    song: Song = SilentSong(3.0, clock.now)
    assert (song.position(), song.playing, song.ended) == (None, False, False)
    song.start()
    assert song.position() == (100.0, 0.0)
    clock.wait(102.5)
    assert song.playing
    assert song.position() == (102.5, 2.5)
    clock.wait(103.0)
    assert (song.position(), song.playing, song.ended) == (None, False, True)
    song.start(1.0)
    assert song.position() == (103.0, 1.0)
    song.stop()
    assert (song.position(), song.playing, song.ended) == (None, False, False)
    song.close()


@pytest.mark.parametrize("offset", [0.25, -0.25])
def test_lamps_come_later_by_the_offset(offset: float) -> None:
    """The song's second s is heard; the lamps are then at s less the offset."""
    clock = FakeClock(100.0)
    song = SilentSong(3.0, clock.now, offset)
    song.start()
    clock.wait(101.0)
    assert song.position() == (101.0, 1.0 - offset)
    clock.wait(103.0)
    assert song.ended


@pytest.mark.parametrize("offset", [0.0, 0.25, -0.25])
def test_the_lamps_second_comes_when_it_was_asked_for(offset: float) -> None:
    """`when` is the moment of the lamps' second, whatever the offset; no position before the sound."""
    clock = FakeClock(100.0)
    song = SilentSong(9.0, clock.now, offset)
    song.start(at=2.0, when=101.0)
    assert song.position() is None
    assert song.playing
    clock.wait(101.5)
    assert song.position() == (101.5, pytest.approx(2.5))


def test_a_song_of_unknown_length_does_not_end() -> None:
    """Infinite is a length too."""
    clock = FakeClock(0.0)
    song = SilentSong(math.inf, clock.now)
    song.start()
    clock.wait(1e6)
    assert song.playing
    assert song.position() == (1e6, 1e6)
