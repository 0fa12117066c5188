"""Strokes in sounds whose strokes are known. Songs are in tests/shell/sound."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.onsets import Onsets, Stroke

CROSSOVERS = (250.0, 2500.0)


def blip(hz: float, rate: int, seconds: float = 0.08) -> np.ndarray:
    """A struck tone."""
    t = np.arange(round(rate * seconds)) / rate
    return np.sin(2 * np.pi * hz * t) * np.exp(-t / 0.02)


def strokes(at: list[float], hz: float, rate: int = 48000, loud: float = 0.5) -> list[Stroke]:
    """What is found in tones struck at these moments."""
    sound = np.zeros(round(rate * (max(at) + 0.6)))
    for t in at:
        sound[round(t * rate) :][: len(blip(hz, rate))] += loud * blip(hz, rate)
    return Onsets(rate, CROSSOVERS).feed(np.stack([sound, sound], axis=1))[0]


@pytest.mark.parametrize(("hz", "band"), [(70.0, 0), (900.0, 1), (8000.0, 2)])
@pytest.mark.parametrize("rate", [22050, 44100, 48000])
def test_a_stroke_is_found_where_it_is(hz: float, band: int, rate: int) -> None:
    """Each stroke is found once in its own band, within 20 ms, at any sample rate."""
    at = [0.5, 0.9, 1.2, 1.9]
    found = [s.at for s in strokes(at, hz, rate) if s.band == band]
    assert found == pytest.approx(at, abs=0.02)


@pytest.mark.parametrize("loud", [0.9, 0.1, 0.01])
def test_quiet_music_is_music(loud: float) -> None:
    """Strokes are found from full scale down to -40 dB."""
    at = [0.5, 1.0, 1.5, 2.0]
    assert [s.at for s in strokes(at, 900.0, loud=loud) if s.band == 1] == pytest.approx(at, abs=0.02)


def test_harder_strokes_are_stronger() -> None:
    """Strength tells a hard stroke from a soft one."""
    rate = 48000
    sound = np.zeros(3 * rate)
    for t, loud in ((0.5, 0.8), (1.0, 0.8), (1.5, 0.05), (2.0, 0.8)):
        sound[round(t * rate) :][: len(blip(900, rate))] += loud * blip(900, rate)
    found = [s for s in Onsets(rate, CROSSOVERS).feed(np.stack([sound, sound], 1))[0] if s.band == 1]
    assert len(found) == 4
    assert found[2].strength < min(found[1].strength, found[3].strength)


def test_steady_sounds_are_no_strokes() -> None:
    """A held tone with a vibrato of half a semitone is struck once, noise never hard, silence never."""
    rate = 48000
    t = np.arange(4 * rate) / rate
    tone = 0.4 * np.sin(2 * np.pi * 880 * t + 4.0 * np.sin(2 * np.pi * 6 * t))
    found = Onsets(rate, CROSSOVERS).feed(np.stack([tone, tone], 1))[0]
    assert all(s.at < 0.1 for s in found)
    assert Onsets(rate, CROSSOVERS).feed(np.zeros((rate, 2)))[0] == []
    hiss = 0.1 * np.random.default_rng(4).standard_normal((4 * rate, 2))
    assert all(s.strength < 0.5 for s in Onsets(rate, CROSSOVERS).feed(hiss)[0] if s.at > 0.5)


def test_opposite_phases_do_not_cancel() -> None:
    """A stroke that is on the right what it is on the left turned round is heard as well."""
    rate = 48000
    sound = np.zeros(rate)
    sound[rate // 2 :][: len(blip(900, rate))] = blip(900, rate)
    found = Onsets(rate, CROSSOVERS).feed(np.stack([sound, -sound], 1))[0]
    assert [s.at for s in found if s.band == 1] == pytest.approx([0.5], abs=0.02)


@given(cuts=st.lists(st.integers(0, 3000), max_size=10))
def test_any_cut_gives_the_same_strokes(cuts: list[int]) -> None:
    """However the stream is cut into hops, the same strokes are found."""
    rate = 22050
    sound = np.zeros(rate)
    sound[rate // 3 :][: len(blip(900, rate))] = blip(900, rate)
    both = np.stack([sound, sound], 1)
    whole = Onsets(rate, CROSSOVERS).feed(both)[0]
    ear, found, at = Onsets(rate, CROSSOVERS), [], 0
    for cut in [*cuts, rate]:
        found += ear.feed(both[at : at + cut])[0]
        at = min(rate, at + cut)
    assert found == whole
