"""Audio files: what is in them is what is read, and what cannot be read says so in one line."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.song.sound_file import SoundFile, length_of, to_stereo
from bridge.values.errors import DeviceError, FileError
from tests.shell.song.sounds import ramp, tone, write


def whole(path: Path) -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    """All of a file, read in blocks."""
    file = SoundFile(path)
    blocks = []
    while len(block := file.read(700)):
        blocks.append(block)
    assert file.trouble == ""
    file.close()
    return np.concatenate(blocks)


@pytest.mark.parametrize(
    ("kind", "subtype"),
    [("wav", "FLOAT"), ("wav", "PCM_24"), ("wav", "PCM_16"), ("flac", "PCM_24"), ("aiff", None)],
)
def test_lossless_files_are_read_sample_by_sample(tmp_path: Path, kind: str, subtype: str | None) -> None:
    """What was written comes back, as exactly as the file's own bits hold it."""
    sound = ramp(44100, 0.2)
    path = write(tmp_path / f"a.{kind}", sound, 44100, subtype)
    exact = subtype in ("FLOAT", "PCM_24")
    assert np.abs(whole(path) - sound).max() <= (0.0 if exact else 2.0**-15)
    assert length_of(path) == len(sound) / 44100


@pytest.mark.parametrize("kind", ["ogg", "mp3"])
def test_lossy_files_are_read(tmp_path: Path, kind: str) -> None:
    """A tone in an OGG or MP3 file is that tone still, at its pitch and about its loudness and length."""
    if kind.upper() not in soundfile.available_formats():
        pytest.skip(f"this libsndfile reads no {kind}")
    path = write(tmp_path / f"a.{kind}", tone(1000.0, 44100, 1.0), 44100)
    got = whole(path)[:, 0]
    assert length_of(path) == pytest.approx(1.0, abs=0.06)
    middle = got[10000:30000]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle))))
    assert np.argmax(spectrum) * 44100 / len(middle) == pytest.approx(1000.0, abs=3.0)
    assert np.abs(middle).max() == pytest.approx(0.5, abs=0.05)


def test_reading_begins_where_it_is_sought(tmp_path: Path) -> None:
    """`seek` goes to the nearest frame, at most the end, and says where that is."""
    file = SoundFile(write(tmp_path / "a.wav", ramp(48000, 0.5), 48000, "FLOAT"))
    assert file.seek(0.25) == 0.25
    assert file.read(1)[0, 0] == np.float32(12000 / 2**20)
    assert file.seek(9.0) == 0.5
    assert len(file.read(10)) == 0
    assert file.seek(-1.0) == 0.0
    assert file.trouble == ""


@pytest.mark.parametrize("kind", ["wav", "flac", "ogg", "mp3"])
def test_in_blocks_and_from_anywhere_it_is_the_same_sound(tmp_path: Path, kind: str) -> None:
    """Read in blocks, or begun in the middle, a file gives the very samples it gives when read at once."""
    if kind.upper() not in soundfile.available_formats():
        pytest.skip(f"this libsndfile reads no {kind}")
    t = np.arange(4 * 44100) / 44100
    rising = 0.5 * np.sin(2.0 * np.pi * (200.0 + 200.0 * t) * t)
    path = write(tmp_path / f"a.{kind}", np.stack([rising, rising], axis=1).astype(np.float32), 44100)
    wanted, _ = soundfile.read(path, dtype="float32", always_2d=True)
    assert np.array_equal(whole(path), np.clip(wanted, -1.0, 1.0))
    for second in (0.1, 1.0, 2.27, 3.4):
        file = SoundFile(path)
        at = round(file.seek(second) * 44100)
        assert np.array_equal(file.read(5000), wanted[at : at + 5000])
        file.close()


@given(st.integers(1, 8), st.lists(st.floats(-2.0, 2.0), min_size=8, max_size=8))
def test_any_number_of_channels_becomes_two(channels: int, values: list[float]) -> None:
    """One is heard on both sides, two stay, more are mixed in without ever being too loud."""
    block = np.array([values[:channels]], dtype=np.float32)
    left, right = to_stereo(block)[0]
    assert max(abs(left), abs(right)) <= 1.0
    if channels == 1:
        assert left == right == np.clip(block[0, 0], -1.0, 1.0)
    elif channels == 2:
        assert (left, right) == tuple(np.clip(block[0], -1.0, 1.0))
    else:
        loudest = np.ones((1, channels), dtype=np.float32)
        assert to_stereo(loudest)[0] == pytest.approx([1.0, 1.0])


def test_what_is_no_number_is_silence() -> None:
    """NaN and infinity, which files of floats may hold, never reach a loudspeaker."""
    block = np.array([[np.nan, np.inf], [-np.inf, 0.5]], dtype=np.float32)
    assert to_stereo(block).tolist() == [[0.0, 1.0], [-1.0, 0.5]]


def test_sums_that_are_no_number_are_silence_too() -> None:
    """Infinities and the largest floats in channels that are mixed: a value, and no warning on the way."""
    most = np.finfo(np.float32).max
    block = np.array([[0.0, 0.0, np.inf, -np.inf], [0.0, 0.0, most, most], [0.0, 0.0, np.nan, 1.0]])
    assert to_stereo(block.astype(np.float32)).tolist() == [[0.0, 0.0], [1.0, 1.0], [0.0, 0.0]]


def test_mistakes_in_a_name_say_what_is_there(tmp_path: Path) -> None:
    """No file, a folder, a text, an empty file, no sound in it: one line each, with what would be right."""
    text = tmp_path / "a.txt"
    text.write_text("not a sound")
    empty = tmp_path / "empty.wav"
    empty.write_bytes(b"")
    raw = tmp_path / "a.raw"
    raw.write_bytes(bytes(1000))
    silent = write(tmp_path / "silent.wav", ramp(48000, 0.0), 48000)
    for path, words in [
        (tmp_path / "nowhere.wav", "nowhere.wav: there is no such file; check its name"),
        (tmp_path, "this is a folder; give a WAV, FLAC, OGG or MP3 file"),
        (text, "a.txt: this cannot be read as sound .*; give a WAV"),
        (empty, "empty.wav: this cannot be read as sound .*; give a WAV"),
        (raw, "a.raw: this cannot be read as sound .*; give a WAV"),
        (silent, "silent.wav: there is no sound in this file; give a WAV"),
        (Path("a\0b.wav"), "there is no such file"),
    ]:
        with pytest.raises(FileError, match=words):
            SoundFile(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    """A pipe nobody writes to does not hold the show."""
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(FileError, match="this is not a plain file"):
        SoundFile(tmp_path / "pipe.wav")


@pytest.mark.parametrize("rate", [10, 2_000_000_000])
def test_a_broken_header_is_a_mistake(tmp_path: Path, rate: int) -> None:
    """A sample rate no sound has is refused rather than played."""
    path = write(tmp_path / "a.wav", ramp(48000, 0.1), 48000)
    data = bytearray(path.read_bytes())
    data[24:28] = rate.to_bytes(4, "little")
    path.write_bytes(data)
    with pytest.raises(FileError, match=r"sample rate|cannot be read"):
        SoundFile(path)


def test_a_file_cut_in_the_middle_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    """Half a FLAC file gives what it holds, then says that it is cut off."""
    chance = np.random.default_rng(1)
    noise = (0.1 * chance.standard_normal((48000, 2))).astype(np.float32)
    path = write(tmp_path / "a.flac", noise, 48000)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    file = SoundFile(path)
    frames = 0
    while len(block := file.read(2048)):
        frames += len(block)
    assert 0 < frames < 48000
    assert "a.flac" in file.trouble
    assert len(file.read(10)) == 0


@given(data=st.binary(max_size=400), head=st.sampled_from([b"", b"RIFF", b"fLaC", b"OggS", b"ID3\x03"]))
@settings(max_examples=60)
def test_any_bytes_are_sound_or_the_one_error(
    tmp_path_factory: pytest.TempPathFactory, data: bytes, head: bytes
) -> None:
    """Whatever is in a file: it is read to an end, or a FileError says that it cannot be."""
    path = tmp_path_factory.getbasetemp() / "any.wav"
    path.write_bytes(head + data)
    with contextlib.suppress(FileError):
        file = SoundFile(path)
        for _ in range(20):
            assert file.read(1000).shape[1] == 2
        file.close()


def test_a_missing_library_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Without soundfile, or with one whose library does not load, the remedy is in the message."""
    path = write(tmp_path / "a.wav", ramp(48000, 0.1), 48000)
    monkeypatch.setitem(sys.modules, "soundfile", None)
    with pytest.raises(DeviceError, match="soundfile is not installed; run 'pip install soundfile'"):
        SoundFile(path)
    monkeypatch.delitem(sys.modules, "soundfile")
    (tmp_path / "soundfile.py").write_text("raise OSError('sndfile library not found')")
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(
        DeviceError, match=r"libsndfile does not load \(sndfile library not found\); run 'sudo"
    ):
        SoundFile(path)
