"""The envelope of one voice: closed form, no jumps, nothing lost between frames."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.voice import Voice
from bridge.values.mapping import Feel

SECONDS = st.floats(0.0, 3.0)
FEELS = st.builds(Feel, SECONDS, SECONDS, st.floats(0.0, 1.0), SECONDS)


def struck(feel: Feel, peak: float = 1.0, shot: bool = False) -> Voice:
    """A voice struck at 0."""
    voice = Voice(shot)
    voice.strike(peak, feel, 0.0)
    return voice


@pytest.mark.parametrize(
    ("t", "level"), [(0.0, 0.0), (0.05, 0.4), (0.1, 0.8), (0.2, 0.6), (0.3, 0.4), (9.0, 0.4)]
)
def test_attack_decay_sustain_are_straight_lines(t: float, level: float) -> None:
    """Attack rises to the peak, decay falls to sustain x peak, and there it stays."""
    assert struck(Feel(0.1, 0.2, 0.5, 0.0), 0.8).read(t) == pytest.approx(level)


def test_release_starts_from_wherever_the_level_is() -> None:
    """Let go half way up, the release falls from there to dark in its full time."""
    voice = struck(Feel(attack=1.0, release=0.4))
    voice.close(0.5)
    assert [voice.read(t) for t in (0.5, 0.7, 0.9)] == pytest.approx([0.5, 0.25, 0.0])
    assert voice.over


def test_restrike_never_drops_first() -> None:
    """A key struck again in its release starts its attack from the level it has."""
    voice = struck(Feel(attack=0.2, release=1.0))
    voice.read(0.3)
    voice.close(1.0)
    voice.strike(1.0, Feel(attack=0.2, release=1.0), 1.5)
    assert [voice.read(t) for t in (1.5, 1.6, 1.7)] == pytest.approx([0.5, 0.75, 1.0])


def test_shot_runs_out_by_itself() -> None:
    """A shot ends after attack and decay, whatever the key does."""
    voice = struck(Feel(decay=0.5, sustain=0.0), shot=True)
    assert voice.read(0.25) == pytest.approx(0.5)
    assert voice.read(0.5) == 0.0
    assert voice.over
    assert not voice.gate


@pytest.mark.parametrize("t_off", [0.001, 0.01])
def test_note_between_two_frames_shows_once_at_its_peak(t_off: float) -> None:
    """A note that begins and ends before the next reading still shows in one, at its peak."""
    voice = struck(Feel(), 0.7)
    voice.close(t_off)
    assert voice.read(0.025) == 0.7
    assert not voice.over
    assert voice.read(0.05) == 0.0
    assert voice.over


def test_a_soft_note_does_not_hide_the_loud_one_before_it() -> None:
    """Of two notes between two frames the louder one shows."""
    voice = struck(Feel(), 1.0)
    voice.close(0.004)
    voice.strike(0.2, Feel(), 0.008)
    voice.close(0.012)
    assert voice.read(0.025) == 1.0


@given(FEELS, st.floats(0.0, 1.0), st.floats(0.0, 5.0), st.lists(st.floats(0.0, 12.0), max_size=8))
def test_levels_do_not_depend_on_when_they_are_read(
    feel: Feel, peak: float, t_off: float, times: list[float]
) -> None:
    """Reading more often changes nothing later on: the level is a function of time alone."""
    plain, busy = struck(feel, peak), struck(feel, peak)
    plain.read(0.0)
    busy.read(0.0)
    for t in sorted(t for t in times if t <= t_off):
        busy.read(t)
    plain.close(t_off)
    busy.close(t_off)
    for t in sorted(t for t in times if t > t_off):
        busy.read(t)
    assert plain.read(12.0) == busy.read(12.0)


@given(FEELS, st.floats(0.0, 1.0), st.lists(st.floats(0.0, 5.0), min_size=1, max_size=6), st.booleans())
def test_levels_stay_within_0_and_the_peak(feel: Feel, peak: float, times: list[float], shot: bool) -> None:
    """No strike, release or restrike leads out of 0..peak."""
    voice = struck(feel, peak, shot)
    for i, t in enumerate(sorted(times)):
        assert 0.0 <= voice.read(t) <= peak + 1e-12
        voice.close(t) if i % 2 else voice.strike(peak, feel, t)
    voice.close(5.0)
    voice.read(5.0)
    assert voice.read(20.0) == 0.0
    assert voice.over


@pytest.mark.parametrize(("shot", "ends"), [(False, 0.04), (True, 0.3)])
@pytest.mark.parametrize("looked", [False, True])
def test_a_voice_that_has_closed_by_itself_is_not_closed_later(shot: bool, ends: float, looked: bool) -> None:
    """Ended from outside after its time is up, it falls from then on, a frame between or not."""
    voice = Voice(shot, min_on=0.04)
    voice.strike(1.0, Feel(decay=0.3, sustain=0.5, release=1.0), 0.0)
    if not shot:
        voice.close(0.01)
    if looked:
        voice.read(ends + 0.005)
    voice.end(ends + 0.01)
    voice.read(ends + 0.02)
    at = 1.0 - 0.5 * ends / 0.3
    assert voice.read(ends + 0.5) == pytest.approx(at * 0.5)
