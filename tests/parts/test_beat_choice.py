"""Which of two findings of beats fits the music better."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bridge.parts.beat_choice import MARGIN, choose, in_place, merit

FRAME = 0.01
BAR = (1.0, 0.0, 0.4, 0.0, 0.8, 0.0, 0.4, 0.3, 0.9, 0.0, 0.4, 0.0, 0.8, 0.2, 0.4, 0.0)
"""Sixteenths of a bar of four."""


def music(beat: float = 0.5, bars: int = 16, bar: tuple[float, ...] = BAR) -> npt.NDArray[np.float64]:
    """What is struck in each hundredth of a second, from second 1 on."""
    steps = bars * len(bar)
    struck = np.zeros(round((1.0 + steps * beat / 4.0 + 1.0) / FRAME))
    for step in range(steps):
        struck[round((1.0 + step * beat / 4.0) / FRAME)] = bar[step % len(bar)]
    return struck


def beats(every: float, until: float, begin: float = 1.0) -> npt.NDArray[np.float64]:
    """Seconds of even beats."""
    return np.arange(begin, until, every)


def test_beats_on_the_strokes_beat_those_beside_them() -> None:
    """The true beats are worth more than the same a quarter of a beat later."""
    struck = music()
    assert merit(struck, FRAME, beats(0.5, 33.0)) > MARGIN * merit(struck, FRAME, beats(0.5, 33.0, 1.125))


@pytest.mark.parametrize("ratio", [4 / 3, 3 / 2, 2 / 3, 3 / 4])
def test_a_tempo_in_whose_bars_nothing_comes_again_loses(ratio: float) -> None:
    """Beats two thirds, three quarters and so on as long as the true ones are worth less."""
    struck = music()
    assert merit(struck, FRAME, beats(0.5, 33.0)) > MARGIN * merit(struck, FRAME, beats(0.5 * ratio, 33.0))


def test_twice_as_many_beats_as_hard_struck_are_better() -> None:
    """Where every other stroke is called a beat and those between are as hard, all of them win."""
    even = (1.0, 0.0, 0.2, 0.0, 0.9, 0.0, 0.2, 0.0) * 2
    struck = music(0.34, 24, even)
    half = [(float(at), 88.2) for at in beats(0.68, 33.0)]
    found, other = choose(struck, FRAME, half, list(beats(0.34, 33.0)))
    assert other
    assert len(found) > 1.9 * len(half)
    assert np.median([bpm for _, bpm in found]) == pytest.approx(60 / 0.34, rel=0.01)


def test_beats_that_come_late_throughout_are_moved() -> None:
    """A finding that is 40 ms late from end to end is moved to where the strokes are."""
    moved = in_place(music(), FRAME, beats(0.5, 33.0, 1.04))
    assert moved == pytest.approx(beats(0.5, 33.0), abs=0.011)


def test_two_findings_that_agree_leave_ours() -> None:
    """A finding that is as good as ours changes nothing, not even by what it is late."""
    ours = [(float(at), 120.0) for at in beats(0.5, 33.0)]
    assert choose(music(), FRAME, ours, list(beats(0.5, 33.0, 1.03))) == (ours, False)


@pytest.mark.parametrize("other", [[], [1.0], [1.0, 1.5, 2.0]])
def test_nothing_or_next_to_nothing_leaves_ours(other: list[float]) -> None:
    """Without another finding, or with one too short to judge, the beats are ours, byte for byte."""
    ours = [(float(at), 120.0) for at in beats(0.5, 33.0)]
    assert choose(music(), FRAME, ours, other) == (ours, False)
    assert choose(music(), FRAME, [], other) == ([], False)


def test_no_beats_of_ours_give_way_to_any_that_fit() -> None:
    """Where we found none, another finding that fits is taken."""
    found, other = choose(music(), FRAME, [], list(beats(0.5, 33.0)))
    assert other
    assert len(found) == 64


@example(struck=[], ours=[], other=[1.0] * 12)
@example(struck=[0.0], ours=[1.0] * 12, other=[1.0] * 12)
@given(
    st.lists(st.floats(0.0, 20.0), max_size=400),
    st.lists(st.floats(0.1, 3.0), max_size=40),
    st.lists(st.floats(0.1, 3.0), max_size=40),
)
def test_any_music_and_any_beats_give_one_of_the_two(
    struck: list[float], ours: list[float], other: list[float]
) -> None:
    """Whatever is struck and whatever was found, the answer is our beats or rising ones of the other."""
    mine = [(float(at), 100.0) for at in np.cumsum(ours)]
    found, theirs = choose(np.array(struck), FRAME, mine, [float(at) for at in np.cumsum(other)])
    if not theirs:
        assert found == mine
    assert all(a < b for (a, _), (b, _) in itertools.pairwise(found))
    assert all(np.isfinite(bpm) and bpm > 0.0 for _, bpm in found)
