"""Knows: that a lamp never stands past its limit, and that the guard's numbers mean what they say.

Must never know: rigs or files of a player.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.guard_heat import AHEAD_S, EASE, MOST, HeatGuard
from bridge.values.numbers import Floats, half_up_array

Pair = tuple[float, float]
Show = tuple[list[Pair | None], list[tuple[float, Floats]]]

pairs = st.tuples(st.floats(0.02, 90.0), st.floats(0.1, 300.0))


@st.composite
def shows(draw: st.DrawFn) -> Show:
    heat = draw(st.lists(st.none() | pairs, min_size=1, max_size=6))
    n = len(heat)
    t, frames = 0.0, []
    for _ in range(draw(st.integers(1, 12))):
        level = st.sampled_from([0.0, 1.0, 1.0, 0.5]) | st.floats(0.0, 1.0)
        drive = np.array(draw(st.lists(level, min_size=n, max_size=n)))
        gap = draw(st.sampled_from([0.001, 0.02, 0.025, 0.04, AHEAD_S]))
        for _ in range(draw(st.sampled_from([1, 5, 60]))):
            t += gap
            frames.append((t, drive))
    return heat, frames


def steps_of(heat: list[Pair | None]) -> Floats:
    return np.array([65535.0 if i % 3 == 2 else 255.0 for i in range(len(heat))])


@settings(max_examples=100)
@given(shows())
def test_never_above_the_limit(show: Show) -> None:
    """At 20 Hz or faster no lamp's heat ever passes 1, whatever is asked and however few its seconds."""
    heat, frames = show
    guard = HeatGuard(heat, steps_of(heat), "limit")
    for t, drive in frames:
        guard.apply(drive, t)
        assert guard.heat.max() <= 1.0 + 1e-9


@settings(max_examples=100)
@given(shows())
def test_only_lowers_and_only_lamps_with_a_limit(show: Show) -> None:
    """No lamp rises, dark is dark at once, and lamps without a limit keep their drive."""
    heat, frames = show
    guard = HeatGuard(heat, steps_of(heat), "limit")
    for t, drive in frames:
        out = guard.apply(drive, t)
        assert np.all(out <= drive)
        assert np.all(out[drive == 0.0] == 0.0)
        free = [i for i, pair in enumerate(heat) if pair is None]
        assert np.array_equal(out[free], drive[free])


@settings(max_examples=100)
@given(shows())
def test_a_guarded_take_passes_a_fresh_guard(show: Show) -> None:
    """What the guard let out, as slots, another lets out to the byte; so it does when less went out."""
    heat, frames = show
    steps = steps_of(heat)
    guard, again, dimmed = (HeatGuard(heat, steps, "limit") for _ in range(3))
    for k, (t, drive) in enumerate(frames):
        sent = half_up_array(guard.apply(drive, t) * steps) / steps
        assert again.apply(sent, t) is sent
        later_guard_took = sent if k % 3 else np.zeros_like(sent)
        assert dimmed.apply(later_guard_took, t) is later_guard_took
    assert again.held == (0.0, 0)


@given(pairs, st.integers(1, 40), st.integers(1, 40))
def test_the_two_numbers_mean_what_they_say(pair: Pair, up: int, down: int) -> None:
    """Full drive warms a cold lamp to its limit in its seconds at full, its rest cools it to 0 again."""
    full, rest = pair
    guard = HeatGuard([pair], np.array([255.0]), "warn")
    guard.apply(np.ones(1), 0.0)
    for k in range(1, up):
        guard.apply(np.ones(1), full * k / up)
    guard.apply(np.zeros(1), full)
    assert guard.heat[0] == pytest.approx(1.0)
    for k in range(1, down):
        guard.apply(np.zeros(1), full + rest * k / down)
        assert guard.heat[0] == pytest.approx(1.0 - k / down, abs=1e-9)
    guard.apply(np.zeros(1), full + rest)
    assert guard.heat[0] == pytest.approx(0.0, abs=1e-9)
    guard.apply(np.ones(1), full + 3.0 * rest)
    assert guard.heat[0] == 0.0


@given(pairs, st.floats(0.0, 1.0))
def test_the_lasting_drive_lasts(pair: Pair, share: float) -> None:
    """A drive up to full / (full + rest) is never held back, however long it stands."""
    full, rest = pair
    drive = np.array([np.floor(share * full / (full + rest) * 65535.0) / 65535.0])
    guard = HeatGuard([(max(full, 0.5), rest)], np.array([65535.0]), "limit")
    for t in (0.0, 1.0, 10.0, 1e3, 1e5):
        assert guard.apply(drive, t) is drive
        assert guard.settled


def course(hz: float, pair: Pair, seconds: int) -> dict[float, float]:
    """The drive that goes out with full asked for but the last fifth, at whole seconds."""
    guard = HeatGuard([pair], np.array([65535.0]), "limit")
    got = {}
    for k in range(int(seconds * hz)):
        out = guard.apply(np.array([1.0 if k < 0.8 * seconds * hz else 0.5]), k / hz)
        if k % hz == 0:
            got[k / hz] = float(out[0])
    return got


@settings(max_examples=20)
@given(st.floats(2.0, 12.0), st.floats(2.0, 30.0))
def test_25_and_40_hz_agree(full: float, rest: float) -> None:
    """Two rates of frames give the same drive where their times meet, to within one frame's change."""
    slow, fast = course(25.0, (full, rest), 20), course(40.0, (full, rest), 20)
    lasting = full / (full + rest)
    change = (1.0 - lasting) / ((1.0 - EASE) * full) / 25.0
    assert slow.keys() == fast.keys()
    for t, drive in slow.items():
        assert abs(drive - fast[t]) <= change + 2 / 65535


def test_the_light_is_eased_not_cut() -> None:
    """At full a lamp keeps its light for 0.8 of its seconds, then falls smoothly to the drive that lasts."""
    guard = HeatGuard([(10.0, 20.0)], np.array([255.0]), "limit")
    out = [float(guard.apply(np.ones(1), k / 40)[0]) for k in range(40 * 60)]
    assert all(v == 1.0 for v in out[: 40 * 8])
    assert out[40 * 8 + 4] < 1.0
    assert all(a >= b for a, b in pairwise(out))
    assert max(a - b for a, b in pairwise(out)) <= 3 / 255
    assert out[-1] == pytest.approx(1 / 3, abs=1.01 / 255)
    assert guard.held[1] == 1


def test_a_stall_is_remembered() -> None:
    """A lamp left standing by frames that did not come cools below its lasting drive until it is well."""
    guard = HeatGuard([(1.0, 2.0)], np.array([255.0]), "limit")
    guard.apply(np.ones(1), 0.0)
    out = guard.apply(np.ones(1), 60.0)
    assert guard.heat[0] == MOST
    assert out[0] == 0.0
    for k in range(400):
        guard.apply(np.ones(1), 60.0 + k / 40)
    assert guard.heat[0] <= 1.0 + 1e-9


def test_warn_passes_all_and_tells() -> None:
    """In warn mode the drive passes as it is and the share that should have been held is told."""
    guard = HeatGuard([(1.0, 3.0), None], np.full(2, 255.0))
    drive = np.ones(2)
    for k in range(81):
        assert guard.apply(drive, k / 40) is drive
        assert not guard.settled
    assert guard.held == (1.0, 1)
    assert guard.heat[0] == MOST


def test_no_limit_costs_nothing() -> None:
    """Lamps without a limit, or with no rest to take, are let through untouched."""
    guard = HeatGuard([None, (5.0, 0.0)], np.full(2, 255.0), "limit")
    drive = np.ones(2)
    assert guard.apply(drive, 0.0) is drive
    assert guard.apply(drive, 1e6) is drive
    assert guard.settled


@pytest.mark.parametrize("pair", [(0.0, 1.0), (-1.0, 1.0), (1.0, -1.0)])
def test_nonsense_is_named(pair: Pair) -> None:
    """Seconds that cannot be are refused."""
    with pytest.raises(ValueError, match="seconds at full above 0"):
        HeatGuard([pair], np.array([255.0]))


@given(shows(), st.floats(0.0, 500.0))
def test_settled_means_the_same_again(show: Show, later: float) -> None:
    """While the guard is settled, the same drive passes at any later time as it did."""
    heat, frames = show
    guard = HeatGuard(heat, steps_of(heat), "limit")
    for t, drive in frames:
        out = guard.apply(drive, t)
    if guard.settled:
        assert np.array_equal(guard.apply(frames[-1][1], frames[-1][0] + later), out)
