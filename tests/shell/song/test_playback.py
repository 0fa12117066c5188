"""The sound callback: which samples go out when, and what it says about them; with no device at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bridge.shell.song.playback import RAMP, Playback
from bridge.shell.song.sound_file import Sound
from bridge.shell.song.source import Source
from tests.shell.jack import until
from tests.shell.song.sounds import ramp, write

RATE = 8000
BLOCK = 100


@pytest.fixture
def source(tmp_path: Path) -> Source:
    """Half a second whose samples say which they are, all of it ready."""
    made = Source(write(tmp_path / "a.wav", ramp(RATE, 0.5), RATE, "FLOAT"), RATE)
    until(lambda: made.done, "the file is read")
    return made


def blocks(playback: Playback, count: int, first: int = 0) -> Sound:
    """What goes out in `count` callbacks; block n is heard at stream time n * BLOCK / RATE."""
    out = np.full((count * BLOCK, 2), 9.0, dtype=np.float32)
    for n in range(count):
        playback.fill(out[n * BLOCK : (n + 1) * BLOCK], (first + n) * BLOCK / RATE)
    return out


def test_nothing_to_play_is_silence() -> None:
    """Before a start the device gets zeros, and there is no position."""
    playback = Playback(RATE)
    assert (blocks(playback, 3) == 0.0).all()
    assert playback.mark is None
    assert not playback.playing


def test_a_song_goes_out_whole_and_ends(source: Source) -> None:
    """Every sample once, then silence; `playing` until the last went out."""
    playback = Playback(RATE)
    playback.start(source)
    assert playback.playing
    got = blocks(playback, 45)
    assert np.array_equal(got[:4000], ramp(RATE, 0.5))
    assert (got[4000:] == 0.0).all()
    assert not playback.playing
    assert playback.mark is None
    assert playback.underruns == playback.errors == 0


def test_the_mark_says_what_is_heard_when(source: Source) -> None:
    """Of the newest block: the stream time of its first sample, and the second of the song."""
    playback = Playback(RATE)
    playback.start(source)
    blocks(playback, 3, first=10)
    mark = playback.mark
    assert mark is not None
    assert mark.heard == 12 * BLOCK / RATE
    assert mark.seconds == 2 * BLOCK / RATE


def test_a_song_begins_at_the_sample_it_was_told(source: Source) -> None:
    """`when` lies inside a block: silence before, the first sample there, the mark to match."""
    playback = Playback(RATE)
    playback.start(source, when=230 / RATE)
    got = blocks(playback, 3)
    assert (got[:230] == 0.0).all()
    assert np.array_equal(got[230:], ramp(RATE, 0.5)[:70])
    mark = playback.mark
    assert mark is not None
    assert mark.heard == pytest.approx(230 / RATE)
    assert mark.seconds == 0.0


def test_a_moment_past_is_now(source: Source) -> None:
    """Told too late, the song begins with the next block."""
    playback = Playback(RATE)
    playback.start(source, when=0.1)
    assert np.array_equal(blocks(playback, 1, first=50), ramp(RATE, 0.5)[:100])


def test_stop_fades_out_in_5_ms(source: Source) -> None:
    """No click: the next block falls to zero within the ramp, then silence."""
    playback = Playback(RATE)
    playback.start(source)
    blocks(playback, 20)
    playback.stop()
    got = blocks(playback, 2)
    frames = round(RAMP * RATE)
    assert got[0, 0] == ramp(RATE, 0.5)[2000, 0]
    assert (np.diff(got[:frames, 0]) < 0.0).all()
    assert (got[frames:] == 0.0).all()
    assert not playback.playing


def test_stop_before_the_first_sample_is_silence(source: Source) -> None:
    """A start that is still to come is called off."""
    playback = Playback(RATE)
    playback.start(source, when=1.0)
    blocks(playback, 2)
    playback.stop()
    assert (blocks(playback, 120, first=2) == 0.0).all()
    assert not playback.playing


def test_a_start_in_the_middle_fades_in(tmp_path: Path) -> None:
    """Seconds count from where it starts; the first samples rise from zero."""
    source = Source(write(tmp_path / "a.wav", ramp(RATE, 0.5), RATE, "FLOAT"), RATE, at=0.25)
    until(lambda: source.done, "the file is read")
    playback = Playback(RATE)
    playback.start(source)
    got = blocks(playback, 2)
    frames = round(RAMP * RATE)
    assert got[0, 0] == 0.0
    assert np.array_equal(got[frames:100], ramp(RATE, 0.5)[2000 + frames : 2100])
    mark = playback.mark
    assert mark is not None
    assert mark.seconds == 0.25 + BLOCK / RATE


def test_what_is_not_ready_is_silence_and_counted(tmp_path: Path) -> None:
    """An underrun does not lose samples: the song goes on with the next when it comes, later."""
    sound = ramp(RATE, 20.0)
    source = Source(write(tmp_path / "a.wav", sound, RATE, "FLOAT"), RATE)
    until(lambda: source.ring.free == 0, "the ring is full")
    playback = Playback(RATE)
    playback.start(source)
    out = np.zeros((source.ring.waiting + 500, 2), dtype=np.float32)
    playback.fill(out, 0.0)
    assert playback.underruns == 1
    assert playback.playing
    until(lambda: source.ring.waiting >= BLOCK, "more is read")
    heard = len(out) - 500
    assert np.array_equal(out[:heard], sound[:heard])
    assert (out[heard:] == 0.0).all()
    assert np.array_equal(blocks(playback, 1), sound[heard : heard + BLOCK])
    source.close()


def test_another_song_takes_over_at_once(source: Source, tmp_path: Path) -> None:
    """A start while one plays: the next block is the new song's first."""
    playback = Playback(RATE)
    playback.start(source)
    blocks(playback, 5)
    other = Source(write(tmp_path / "b.wav", -ramp(RATE, 0.5), RATE, "FLOAT"), RATE)
    until(lambda: other.done, "the file is read")
    playback.start(other)
    assert np.array_equal(blocks(playback, 1), -ramp(RATE, 0.5)[:100])


def test_the_callback_never_raises(source: Source) -> None:
    """A failure inside is silence, counted, with its reason; PortAudio never sees it."""
    playback = Playback(RATE)
    playback.start(source)
    source.ring = None  # type: ignore[assignment]
    assert (blocks(playback, 2) == 0.0).all()
    assert playback.errors == 2
    assert playback.last_error.startswith("AttributeError")
