"""Bands, against IEC 61260-1 (centres), scipy.signal (filters) and the arithmetic of pink noise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from bridge.parts.bands import CROSSOVERS, STILL, loudness, make_bands
from tests.reference_rows import rows

RATE = 48000
ROWS = rows("colour_organ.csv")
CENTRES = [float(row["centre_hz"]) for row in ROWS if row["kind"] == "octave band"]
TONES = [(float(row["centre_hz"]), row["note"]) for row in ROWS if row["kind"] == "test tone"]
THREE = [row for row in ROWS if row["kind"] == "three band"]
NAMES = [row["name"] for row in THREE]


def decibels(hz: float, crossovers: tuple[float, ...] = CROSSOVERS) -> np.ndarray:
    """Loudness of each band for a full sine, against the sine's own, once the filters have settled."""
    bands = make_bands(RATE, crossovers)
    t = np.arange(RATE) / RATE
    tone = np.sin(2 * np.pi * hz * t)
    _, out = bands.split(bands.start(1), tone[:, None])
    return 20 * np.log10(loudness(out[:, RATE // 2 :]) / loudness(tone[None, RATE // 2 :, None]) + 1e-9)


def test_the_usual_crossovers_are_those_of_the_table() -> None:
    """Bass, middle and treble part where common practice parts them."""
    assert tuple(float(row["high_edge_hz"]) for row in THREE[:-1]) == CROSSOVERS


@pytest.mark.parametrize("hz", CENTRES)
def test_a_tone_of_an_octave_band_lands_in_its_band(hz: float) -> None:
    """IEC 61260-1 midbands: the right band is loudest; bands two octaves away are 20 dB down at least."""
    level = decibels(hz)
    edges = (0.0, *CROSSOVERS, 24000.0)
    home = next(i for i in range(3) if edges[i] <= hz < edges[i + 1])
    # 251 Hz lies on the crossover itself, where both neighbours hear it alike.
    if not any(abs(np.log2(hz / edge)) < 0.05 for edge in CROSSOVERS):
        assert int(np.argmax(level)) == home
    for band in range(3):
        away = np.log2(edges[band] / hz) if hz < edges[band] else np.log2(hz / edges[band + 1])
        if away >= 2.0:
            assert level[band] <= -20.0


@pytest.mark.parametrize(("hz", "says"), TONES)
def test_test_tones_light_the_band_they_must(hz: float, says: str) -> None:
    """The table's tones light the band it names most."""
    assert f'"{NAMES[int(np.argmax(decibels(hz)))]}"' in says


@pytest.mark.parametrize(
    "crossovers", [CROSSOVERS, (120.0, 5000.0), (80.0, 250.0, 800.0, 2500.0, 8000.0), ()]
)
def test_bands_sum_flat(crossovers: tuple[float, ...]) -> None:
    """All bands added up have the loudness that went in, within 0.01 dB from 20 Hz to 20 kHz."""
    bands = make_bands(RATE, crossovers)
    impulse = np.zeros((RATE, 1))
    impulse[0] = 1.0
    _, out = bands.split(bands.start(1), impulse)
    spectrum = np.abs(np.fft.rfft(out.sum(axis=0)[:, 0]))
    heard = 20 * np.log10(spectrum[20:20001])
    assert np.max(np.abs(heard)) < 0.01


def test_the_filters_are_those_of_scipy() -> None:
    """Every band is two Butterworth filters in a row, as scipy.signal makes them."""
    rng = np.random.default_rng(1)
    noise = rng.standard_normal((5000, 2))
    bands = make_bands(RATE, (300.0,))
    _, out = bands.split(bands.start(), noise)
    for band, kind in enumerate(("lowpass", "highpass")):
        sos = signal.butter(2, 300.0, kind, fs=RATE, output="sos")
        peer = signal.sosfilt(sos, signal.sosfilt(sos, noise, axis=0), axis=0)
        assert np.allclose(out[band], peer, atol=1e-9)


@given(cuts=st.lists(st.integers(0, 700), max_size=12))
def test_any_cut_gives_the_same_sound(cuts: list[int]) -> None:
    """However a stream is cut into hops, the bands are the same to the last digits."""
    noise = np.random.default_rng(2).standard_normal((1500, 2))
    bands = make_bands(44100)
    _, whole = bands.split(bands.start(), noise)
    memory, at, pieces = bands.start(), 0, []
    for cut in [*cuts, 1500]:
        memory, piece = bands.split(memory, noise[at : at + cut])
        pieces.append(piece)
        at = min(1500, at + cut)
    assert np.allclose(np.concatenate(pieces, axis=1), whole, atol=1e-12)


def test_pink_noise_is_as_loud_as_its_octaves_say() -> None:
    """Pink noise has the same power in each octave, so bands are loud as the root of their octaves."""
    rng = np.random.default_rng(3)
    n = 20 * RATE
    hz = np.fft.rfftfreq(n, 1 / RATE)
    shape = np.where((hz >= 20) & (hz <= 20000), 1 / np.sqrt(np.maximum(hz, 1)), 0.0)
    pink = np.fft.irfft(shape * np.exp(2j * np.pi * rng.random(len(hz))), n)[:, None]
    bands = make_bands(RATE)
    _, out = bands.split(bands.start(1), pink)
    octaves = np.log2(np.array([250 / 20, 2500 / 250, 20000 / 2500]))
    told = 20 * np.log10(loudness(out) / loudness(out)[1])
    assert np.allclose(told, 10 * np.log10(octaves / octaves[1]), atol=0.7)


def test_silence_after_sound_is_silent() -> None:
    """The filters ring out to nothing, so that silence stays quick to compute."""
    bands = make_bands(RATE)
    memory, _ = bands.split(bands.start(), np.ones((480, 2)))
    for _ in range(40):
        memory, out = bands.split(memory, np.zeros((RATE // 4, 2)))
    assert not memory.any()
    assert not out.any()


def test_crossovers_must_rise() -> None:
    """Crossovers that fall or are not over 0 are refused; those beyond the sound are left out."""
    with pytest.raises(ValueError, match="must rise"):
        make_bands(RATE, (500.0, 400.0))
    with pytest.raises(ValueError, match="must rise"):
        make_bands(RATE, (0.0, 400.0))
    assert make_bands(8000, (250.0, 2500.0, 5000.0)).count == 3


def test_an_offset_is_no_bass() -> None:
    """What stands still is gone from the lowest band after half a second; 20 Hz is 0.2 dB down at most."""
    bands = make_bands(RATE, CROSSOVERS, still=STILL)
    still = np.full((RATE, 1), 0.5)
    _, out = bands.split(bands.start(1), still)
    assert np.max(np.abs(out[:, RATE // 2 :])) < 1e-4
    impulse = np.zeros((RATE, 1))
    impulse[0] = 1.0
    _, out = bands.split(bands.start(1), impulse)
    heard = 20 * np.log10(np.abs(np.fft.rfft(out.sum(axis=0)[:, 0])))
    assert np.max(np.abs(heard[20:20001])) < 0.2


def test_the_filter_for_an_offset_is_that_of_scipy() -> None:
    """It is a Butterworth high pass of first order, as scipy.signal makes it."""
    noise = np.random.default_rng(1).standard_normal((5000, 2))
    bands = make_bands(RATE, (), still=STILL)
    _, out = bands.split(bands.start(), noise)
    peer = signal.sosfilt(signal.butter(1, STILL, "highpass", fs=RATE, output="sos"), noise, axis=0)
    assert np.allclose(out[0], peer, atol=1e-9)
