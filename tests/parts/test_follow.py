"""How loudness becomes a level."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.follow import USUAL, Followed, Following, follow, start

PLAIN = replace(USUAL, gain=False)


def run(how: Following, loud: float, seconds: float, hop: float, state: Followed | None = None) -> Followed:
    """The state after a steady loudness in one band."""
    state = start(1, how) if state is None else state
    for _ in range(round(seconds / hop)):
        state = follow(state, np.array([loud]), hop, how)
    return state


def test_attack_and_release_take_their_time() -> None:
    """After its time constant a level has gone 63 % of its way (1 - 1/e), up and down."""
    how = Following(attack=0.1, release=0.4, gain=False)
    up = run(how, 0.7072, 0.1, 0.005)
    assert up.levels[0] == pytest.approx(1 - np.exp(-1), abs=0.001)
    full = run(how, 0.7072, 3.0, 0.005)
    down = run(how, 0.0, 0.4, 0.005, full)
    assert down.levels[0] == pytest.approx(np.exp(-1), abs=0.001)


@given(loud=st.floats(0.01, 0.7), hop=st.sampled_from([0.0025, 0.005, 0.01, 0.02]))
def test_hops_of_any_length_agree(loud: float, hop: float) -> None:
    """Levels do not depend on how long a hop is."""
    for how in (PLAIN, USUAL):
        assert run(how, loud, 0.4, hop).levels == pytest.approx(run(how, loud, 0.4, 0.001).levels, abs=1e-6)


def test_gain_brings_quiet_music_up() -> None:
    """Quiet and loud music give the same levels once the gain has found them."""
    quiet, loud = run(USUAL, 0.02, 2.0, 0.005), run(USUAL, 0.5, 2.0, 0.005)
    assert quiet.levels[0] == pytest.approx(loud.levels[0], abs=0.01)
    assert quiet.levels[0] > 0.95


def test_the_ceiling_leaves_hiss_dark() -> None:
    """Gain adds no more than its ceiling: what is far below it stays dim."""
    assert run(USUAL, 0.0012, 60.0, 0.01).levels[0] < 0.13


def test_the_gate_is_dark_and_keeps_the_gain() -> None:
    """Under the gate a band is dark, and the gain waits for the music to come back."""
    music = run(USUAL, 0.3, 2.0, 0.01)
    pause = run(USUAL, 0.0005, 30.0, 0.01, music)
    assert pause.levels[0] < 1e-6
    assert pause.loudest[0] == music.loudest[0]


@given(loud=st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=1, max_size=8))
def test_levels_are_levels_whatever_comes(loud: list[float]) -> None:
    """Levels lie within 0..1 for any loudness, also one that is not a number."""
    state = start(1)
    for one in loud:
        state = follow(state, np.array([one]), 0.01)
        assert 0.0 <= state.levels[0] <= 1.0
