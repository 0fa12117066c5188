"""Sound to readings, hop by hop."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.sound.ear import Ear
from bridge.values.sound import USUAL_HEARING, BeatHeard, Hearing, Onset, Sound
from tests.shell.sound.tones import RATE, beat_sound


def test_levels_strokes_and_beats_come_from_one_stream() -> None:
    """A thump on each beat: a hundred levels a second, a stroke in the bass each time, and the beats."""
    heard = Ear(RATE, USUAL_HEARING, "here").hear(beat_sound(12.0))
    assert len([one for one in heard if isinstance(one, Sound)]) == 1200
    bass = [one.stamp for one in heard if isinstance(one, Onset) and one.band == 0]
    assert bass == pytest.approx(list(0.5 + np.arange(23) * 0.5), abs=0.02)
    beats = [one for one in heard if isinstance(one, BeatHeard) and one.stamp > 6]
    assert [one.bpm for one in beats] == pytest.approx([120.0] * len(beats), rel=0.02)
    for one in beats:
        assert abs((one.stamp + 0.25) % 0.5 - 0.25) < 0.03


def test_a_line_at_rest_is_silent() -> None:
    """What lies under the gate gives no stroke and no beat: an offset of one bit, the hiss of a cable."""
    rest = np.full((4 * RATE, 2), 1 / 32768)
    rest += 3e-5 * np.random.default_rng(2).standard_normal(rest.shape)
    heard = Ear(RATE, USUAL_HEARING, "here").hear(rest)
    assert [one for one in heard if not isinstance(one, Sound)] == []
    assert all(max(one.bands) == 0.0 for one in heard if isinstance(one, Sound))


def test_the_end_of_the_beat_is_told() -> None:
    """Music that stops has no tempo any more: that is told once."""
    ear = Ear(RATE, USUAL_HEARING, "here")
    ear.hear(beat_sound(8.0))
    quiet = ear.hear(np.zeros((8 * RATE, 2)))
    assert [one.bpm for one in quiet if isinstance(one, BeatHeard)][-1] == 0.0
    assert ear.bpm == 0.0


@settings(max_examples=10)
@given(cuts=st.lists(st.integers(1, 9000), max_size=8))
def test_any_cut_gives_the_same_readings(cuts: list[int]) -> None:
    """However the stream is cut, the same readings come."""
    sound = beat_sound(1.0)
    whole = Ear(RATE, USUAL_HEARING, "here").hear(sound)
    ear, heard, at = Ear(RATE, USUAL_HEARING, "here"), [], 0
    for cut in [*cuts, len(sound)]:
        heard += ear.hear(sound[at : at + cut])
        at = min(len(sound), at + cut)
    assert heard == whole


def test_a_low_rate_still_gives_every_band() -> None:
    """Bands above what the sound can hold are there, and dark."""
    hearing = Hearing(crossovers=(250.0, 2500.0, 6000.0), bands=("a", "b", "c", "d"))
    heard = Ear(8000, hearing, "here").hear(0.1 * np.random.default_rng(1).standard_normal((8000, 2)))
    levels = [one.bands for one in heard if isinstance(one, Sound)]
    assert all(len(one) == 4 and one[3] == 0.0 for one in levels)


def test_what_is_no_number_is_silence() -> None:
    """Infinite samples and those that are no numbers do no harm."""
    ear = Ear(RATE, USUAL_HEARING, "here")
    ear.hear(np.full((RATE // 10, 2), np.nan))
    ear.hear(np.full((RATE // 10, 2), np.inf))
    heard = ear.hear(beat_sound(1.0))
    assert all(0.0 <= level <= 1.0 for one in heard if isinstance(one, Sound) for level in one.bands)


def test_an_input_that_stands_off_zero_is_silent() -> None:
    """An offset, as cheap inputs have it, is no bass and gives no strokes, once it has stood a while."""
    rest = np.full((4 * RATE, 2), 0.02) + 3e-5 * np.random.default_rng(2).standard_normal((4 * RATE, 2))
    heard = [one for one in Ear(RATE, USUAL_HEARING, "here").hear(rest) if one.stamp > 2.0]
    assert [one for one in heard if isinstance(one, Onset)] == []
    assert all(max(one.bands) < 0.001 for one in heard if isinstance(one, Sound))


@pytest.mark.parametrize("huge", [3e38, 1e308, np.inf])
def test_numbers_beyond_measure_are_soon_forgotten(huge: float) -> None:
    """Samples far over full scale count as full: music is heard after them as ever."""
    ear = Ear(RATE, USUAL_HEARING, "here")
    ear.hear(np.full((RATE // 10, 2), huge))
    heard = [one for one in ear.hear(beat_sound(4.0)) if isinstance(one, Sound)]
    assert max(one.bands[0] for one in heard) > 0.5
