"""Beats in streams of strokes whose beats are known. Songs are in tests/shell/sound."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.parts.beats import FRAME, LEAD, BeatFollower, Found


def follow(moments: dict[float, float], seconds: float) -> tuple[list[Found], BeatFollower, list[float]]:
    """Beats told for strokes (moment -> how hard), the follower, and when each beat was told."""
    flux = np.zeros(round(seconds / FRAME) + 1)
    for at, hard in moments.items():
        if at < seconds:
            flux[round(at / FRAME)] = hard
    ear, out, when = BeatFollower(), [], []
    for n, struck in enumerate(flux):
        found = ear.feed((n + 1) * FRAME, float(struck))
        if found:
            out.append(found)
            when.append((n + 1) * FRAME)
    return out, ear, when


@pytest.mark.parametrize("bpm", [75, 90, 108, 120, 144, 170])
def test_even_strokes_are_beats(bpm: float) -> None:
    """Strokes at an even pace are the beat: found within 25 ms, the tempo within 4 %."""
    period = 60 / bpm
    strokes = {1 + n * period: 1.0 for n in range(round(20 / period))}
    found, ear, _ = follow(strokes, 20)
    late = [one for one in found if 10 < one.at < 19.5]
    assert len(late) == pytest.approx(9.5 / period, abs=1.1)
    for one in late:
        assert min(abs(one.at - at) for at in strokes) < 0.025
        assert one.bpm == pytest.approx(bpm, rel=0.04)
    assert ear.sure > 0.8


def test_beats_are_told_before_they_fall() -> None:
    """A beat is told ahead of its moment, by no more than the lead, so that light can be on time."""
    found, _, when = follow({1 + n * 0.5: 1.0 for n in range(40)}, 20)
    for one, told in list(zip(found, when, strict=True))[5:]:
        assert 0.0 <= one.at - told <= LEAD + 1e-9


def test_weak_strokes_between_are_no_beats() -> None:
    """Soft strokes half way do not double the tempo."""
    strokes = {1 + n * 0.5: 1.0 for n in range(40)} | {1.25 + n * 0.5: 0.45 for n in range(40)}
    found, _, _ = follow(strokes, 20)
    late = [one.bpm for one in found if one.at > 10]
    assert len(late) == pytest.approx(20, abs=1)
    assert late == pytest.approx([120.0] * len(late), rel=0.04)


def test_a_player_who_changes_the_tempo_is_followed() -> None:
    """From 100 to 112 in the middle: four beats later the beat is right again."""
    at, moments = 1.0, {}
    while at < 24:
        moments[at] = 1.0
        at += 0.6 if at < 12 else 60 / 112
    found, _, _ = follow(moments, 24)
    for one in found:
        if 15 < one.at < 23.5:
            assert min(abs(one.at - true) for true in moments) < 0.04
            assert one.bpm == pytest.approx(112, rel=0.04)


def test_the_beat_goes_on_through_a_rest() -> None:
    """Two seconds without a stroke: beats go on being told in their places."""
    moments = {1 + n * 0.5: 1.0 for n in range(40) if not 20 <= n < 24}
    found, _, _ = follow(moments, 20)
    rest = [one.at for one in found if 10.9 < one.at < 12.9]
    assert rest == pytest.approx([11.0, 11.5, 12.0, 12.5], abs=0.04)


def test_silence_is_harmless() -> None:
    """Nothing at all gives finite numbers and no certainty."""
    _, ear, _ = follow({}, 20)
    assert np.isfinite(ear.bpm)
    assert ear.sure == 0.0
