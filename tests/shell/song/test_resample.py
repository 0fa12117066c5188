"""From one sample rate to another: the same as scipy's polyphase filter, clean to 90 dB, block by block."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import freqz, resample_poly

from bridge.shell.song.resample import Resampler, low_pass
from bridge.shell.song.sound_file import Sound
from tests.shell.song.sounds import tone

PAIRS = [(44100, 48000), (48000, 44100), (96000, 44100), (22050, 48000), (8000, 48000), (192000, 48000)]


def noise(frames: int) -> Sound:
    """White noise on two channels, the same each time."""
    chance = np.random.default_rng(5)
    return (0.3 * chance.standard_normal((frames, 2))).astype(np.float32)


def convert(sound: Sound, source: int, target: int, cuts: list[int] | None = None) -> Sound:
    """The whole of a sound, fed in blocks that end at `cuts`."""
    resampler = Resampler(source, target)
    out = [resampler.feed(block) for block in np.split(sound, sorted(cuts or []))]
    return np.concatenate([*out, resampler.finish()])


@pytest.mark.parametrize(("source", "target"), PAIRS)
def test_as_scipy_resamples(source: int, target: int) -> None:
    """Sample by sample what scipy.signal.resample_poly makes of the same sound with the same filter."""
    sound = noise(5000)
    shared = np.gcd(source, target)
    up, down = target // shared, source // shared
    # scipy multiplies the filter by `up` itself.
    wanted = resample_poly(sound.astype(float), up, down, axis=0, window=low_pass(up, down) / up)
    got = convert(sound, source, target)
    assert got.shape == wanted.shape
    assert np.abs(got - wanted).max() < 1e-6


@given(st.lists(st.integers(0, 3000), max_size=12), st.sampled_from(PAIRS))
@settings(max_examples=30)
def test_how_it_is_cut_into_blocks_does_not_matter(cuts: list[int], pair: tuple[int, int]) -> None:
    """Any blocks, empty ones among them, give what the whole gives."""
    sound = noise(3000)
    assert np.array_equal(convert(sound, *pair, cuts), convert(sound, *pair))


@pytest.mark.parametrize(("source", "target"), PAIRS)
def test_a_tone_stays_that_tone(source: int, target: int) -> None:
    """Up to 0.43 of the lower rate a sine comes out as the same sine in the same phase, to 90 dB."""
    for share in (0.01, 0.2, 0.43):
        hz = share * min(source, target)
        got = convert(tone(hz, source, 0.3), source, target)[:, 0]
        wanted = tone(hz, target, 0.3)[: len(got), 0]
        inside = slice(len(got) // 4, -len(got) // 4)
        error = np.sqrt(np.mean((got[inside] - wanted[inside]) ** 2) / np.mean(wanted[inside] ** 2))
        assert 20.0 * np.log10(error) < -90.0


@pytest.mark.parametrize(("up", "down"), [(160, 147), (147, 160), (147, 320), (1, 4)])
def test_what_cannot_be_told_from_its_mirror_image_is_taken_out(up: int, down: int) -> None:
    """From half the lower rate on the filter is 88 dB down (designed for 90), and flat to 0.44 of it."""
    taps = low_pass(up, down)
    edge = 1.0 / max(up, down)
    _, response = freqz(taps, worN=np.pi * np.linspace(edge, 1.0, 20000))
    _, through = freqz(taps, worN=np.pi * np.linspace(0.0, 0.88 * edge, 2000))
    assert 20.0 * np.log10(np.abs(response).max() / up) < -88.0
    assert np.abs(np.abs(through) / up - 1.0).max() < 1e-4


def test_the_same_rate_passes_untouched() -> None:
    """Nothing to do, nothing done."""
    sound = noise(100)
    assert Resampler(48000, 48000).feed(sound) is sound
    assert np.array_equal(convert(sound, 48000, 48000), sound)


@given(st.integers(8000, 200_000), st.sampled_from([44100, 48000]))
@settings(max_examples=8)
def test_odd_rates_keep_time(source: int, target: int) -> None:
    """Whatever rate a file has, its length in seconds is kept to a sample and a millionth."""
    frames = 400
    got = convert(np.zeros((frames, 2), dtype=np.float32), source, target)
    assert abs(len(got) - frames * target / source) <= 1.0 + frames * target / source * 1e-6
