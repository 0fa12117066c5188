"""Knows: that the three guards in a row break none of one another's promises.

Must never know: the engine; rigs or files of a player.
"""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.guard_flash import FlashGuard
from bridge.parts.guard_heat import HeatGuard
from bridge.parts.guard_load import LoadGuard
from bridge.values.numbers import Floats, half_up_array

N = 6
STEPS = np.array([255.0, 255.0, 255.0, 65535.0, 255.0, 65535.0])
AMPS = np.array([1.0, 1.0, 0.5, 0.5, 2.0, 2.0])
SUPPLY = [0, 0, 0, 1, 1, -1]
BUDGETS = [1.2, 1.7]
HEAT = [(0.5, 1.0), None, (2.0, 3.0), None, (0.2, 4.0), None]
Frames = list[tuple[float, Floats]]


def chain() -> tuple[HeatGuard, LoadGuard, FlashGuard]:
    """Heat, then load, then flash, as a show runs them."""
    at = np.array([(0.4 * i, 0.0) for i in range(N)])
    return (
        HeatGuard(HEAT, STEPS, "limit"),
        LoadGuard(AMPS, STEPS, SUPPLY, BUDGETS),
        FlashGuard(at, np.ones(N), [False] * 5 + [True], STEPS),
    )


def play(frames: Frames) -> Frames:
    """What goes out, as whole slots over their steps."""
    guards, out = chain(), []
    for t, drive in frames:
        got = drive
        for guard in guards:
            got = guard.apply(got, t)
        out.append((t, half_up_array(got * STEPS) / STEPS))
    return out


@st.composite
def shows(draw: st.DrawFn) -> Frames:
    t, frames = 0.0, []
    level = st.sampled_from([0.0, 1.0, 1.0, 0.4]) | st.floats(0.0, 1.0)
    for _ in range(draw(st.integers(1, 40))):
        values = draw(st.lists(level, min_size=N, max_size=N) | level.map(lambda one: [one] * N))
        for _ in range(draw(st.sampled_from([1, 1, 2, 8]))):
            t += draw(st.sampled_from([0.01, 0.025, 0.04, 0.05]))
            frames.append((t, np.array(values)))
    return frames


@settings(max_examples=150)
@given(shows())
def test_a_replay_of_what_went_out_passes(frames: Frames) -> None:
    """Frames that passed all three guards pass three fresh ones to the byte."""
    out = play(frames)
    for (_, sent), (_, again) in zip(out, play(out), strict=True):
        assert np.array_equal(sent, again)


@settings(max_examples=100)
@given(shows())
def test_the_last_guards_break_no_budget(frames: Frames) -> None:
    """What goes out keeps every supply within its budget and is nowhere above what was asked."""
    for (_, asked), (_, sent) in zip(frames, play(frames), strict=True):
        assert np.all(sent * STEPS <= half_up_array(asked * STEPS) + 1e-6)
        amps = AMPS * sent
        assert amps[:3].sum() <= BUDGETS[0] * (1.0 + 1e-10)
        assert amps[3:5].sum() <= BUDGETS[1] * (1.0 + 1e-10)


@given(shows())
def test_dark_is_dark_at_once(frames: Frames) -> None:
    """Whatever came before, a blackout is whole in its own frame."""
    end = frames[-1][0]
    assert not play([*frames, (end, np.zeros(N))])[-1][1].any()
