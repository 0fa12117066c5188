"""A thread that reads ahead: bounded, exact, and never the end of anything but itself."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bridge.shell.song.sound_file import Sound
from bridge.shell.song.source import AHEAD, ENOUGH, Source
from bridge.values.errors import FileError
from tests.shell.jack import until
from tests.shell.song.sounds import ramp, write


def drain(source: Source) -> Sound:
    """Everything that comes, taken as fast as it comes."""
    out = np.zeros((1000, 2), dtype=np.float32)
    blocks = []
    while not (source.done and not source.ring.waiting):
        if count := source.ring.take_into(out):
            blocks.append(out[:count].copy())
    return np.concatenate(blocks)


def test_a_song_comes_whole(tmp_path: Path) -> None:
    """Longer than the ring, at the file's own rate: every sample, in order."""
    sound = ramp(8000, AHEAD * 2.5)
    source = Source(write(tmp_path / "a.wav", sound, 8000, "FLOAT"), 8000)
    assert np.array_equal(drain(source), sound)
    assert source.seconds == source.length == AHEAD * 2.5
    assert source.trouble == ""
    source.close()


def test_it_is_there_at_the_devices_rate(tmp_path: Path) -> None:
    """A file of another rate arrives resampled, as long in seconds as it was."""
    source = Source(write(tmp_path / "a.wav", ramp(44100, 1.0), 44100, "FLOAT"), 48000)
    got = drain(source)
    assert len(got) == 48000
    inside = slice(100, -100)
    wanted = np.arange(48000) * (44100 / 48000) / 2**20
    assert np.abs(got[inside, 0] - wanted[inside]).max() < 1e-5
    source.close()


def test_no_more_than_two_seconds_are_kept_ready(tmp_path: Path) -> None:
    """A long file fills the ring and no more memory; what is taken is filled again."""
    source = Source(write(tmp_path / "a.wav", ramp(8000, 20.0), 8000), 8000)
    assert source.wait(5.0)
    until(lambda: source.ring.free == 0, "the ring is full")
    assert source.ring.waiting == AHEAD * 8000
    assert not source.done
    source.ring.take_into(np.zeros((8000, 2), dtype=np.float32))
    until(lambda: source.ring.free == 0, "the ring is full again")
    source.close()


def test_it_begins_where_it_is_told(tmp_path: Path) -> None:
    """From second 1.5 on, and `seconds` counts from there; beyond the end there is nothing, and no error."""
    path = write(tmp_path / "a.wav", ramp(8000, 2.0), 8000, "FLOAT")
    source = Source(path, 8000, at=1.5)
    assert source.first == source.seconds == 1.5
    assert source.wait(5.0)
    assert ENOUGH < 0.5
    assert np.array_equal(drain(source), ramp(8000, 2.0)[12000:])
    assert source.seconds == 2.0
    beyond = Source(path, 8000, at=7.0)
    assert beyond.wait(5.0)
    assert beyond.done
    assert beyond.ring.waiting == 0


def test_closing_does_not_wait_for_the_song(tmp_path: Path) -> None:
    """A reader that waits for room goes when told, and twice is once."""
    source = Source(write(tmp_path / "a.wav", ramp(8000, 20.0), 8000), 8000)
    until(lambda: source.ring.free == 0, "the ring is full")
    source.close()
    source.close()
    assert source.done


def test_a_file_that_breaks_off_says_so(tmp_path: Path) -> None:
    """The song ends early, with the reason in `trouble`."""
    path = write(tmp_path / "a.flac", ramp(8000, 10.0), 8000)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    source = Source(path, 8000)
    assert len(drain(source)) < 80000
    assert "a.flac" in source.trouble


def test_what_is_no_sound_is_refused_before_any_thread(tmp_path: Path) -> None:
    """A mistake in the name is told at once."""
    with pytest.raises(FileError, match="there is no such file"):
        Source(tmp_path / "nowhere.wav", 48000)
