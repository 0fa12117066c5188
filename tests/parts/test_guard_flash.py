"""Knows: that the flash guard lets no fourth flash through, and touches nothing else, in any performance.

Must never know: the guard's own way of counting; judges by tests/reference/flash_count.py and plain loops.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bridge.parts import guard_flash as gf
from bridge.parts.guard_flash import FlashGuard, fields_of_view, is_saturated_red
from bridge.values.numbers import Floats
from tests.parts.flash_rigs import GENERAL, RADIUS, Frames, Rig
from tests.reference_rows import rows

GAPS = [0.0, 0.01, 0.025, 0.04, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.5, 1.0]


@st.composite
def rigs(draw: st.DrawFn) -> Rig:
    n = draw(st.integers(1, 9))
    spacing = draw(st.sampled_from([0.0, 0.2, 0.4, 1.2]))
    at = [(spacing * (i % 3), spacing * (i // 3)) for i in range(n)]
    weights = draw(st.lists(st.integers(1, 4), min_size=n, max_size=n) | st.just([1] * n))
    red = draw(st.just([False] * n) | st.lists(st.booleans(), min_size=n, max_size=n))
    return Rig(at, weights, red)


LEVELS = st.sampled_from([0, 255, 255, 26, 25, 128, 200, 204, 230]) | st.integers(0, 255)


@st.composite
def performances(draw: st.DrawFn, n: int, least_gap: float = 0.0) -> Frames:
    gaps = [gap for gap in GAPS if gap >= least_gap]
    t, values, frames = 0.0, [0] * n, []
    for _ in range(draw(st.integers(1, 60))):
        kind = draw(st.sampled_from(["all", "dark", "one", "one", "some"]))
        if kind == "dark":
            values = [0] * n
        elif kind == "all":
            values = [draw(LEVELS)] * n
        elif kind == "one":
            lamp = draw(st.integers(0, n - 1))
            values = [draw(LEVELS) if i == lamp else v for i, v in enumerate(values)]
        else:
            values = [draw(LEVELS) if draw(st.booleans()) else v for v in values]
        t += draw(st.sampled_from(gaps))
        frames.append((t, values))
    return frames


@st.composite
def shows(draw: st.DrawFn, least_gap: float = 0.0) -> tuple[Rig, Frames]:
    rig = draw(rigs())
    return rig, draw(performances(len(rig.at), least_gap))


@pytest.mark.parametrize("row", rows("flash_sequences.csv"), ids=lambda row: row["sequence_id"])
def test_published_sequences(row: dict[str, str]) -> None:
    """The guard acts on a published sequence exactly where the verdict is fail, and its output passes."""
    sequence = GENERAL.parse(row["points_time_s_colon_luminance"])
    rig = Rig([(0.0, 0.0)], [1], [False], steps=100)
    frames = [(t, [round(light * 100)]) for t, light in sequence]
    out = rig.play(frames)
    assert (out == frames) == (row["verdict_max_3"] == "pass")
    assert rig.worst(out) <= 3
    warning = rig.guard("warn")
    assert rig.play(frames, warning) == frames
    assert (warning.held[1] == 0) == (row["verdict_max_3"] == "pass")


@settings(max_examples=200)
@given(shows())
def test_no_fourth_flash(show: tuple[Rig, Frames]) -> None:
    """No output counts a fourth flash, general or red, in any second of the rig or of any field of view."""
    rig, frames = show
    assert rig.worst(rig.play(frames)) <= 3


@settings(max_examples=120)
@given(shows())
def test_a_guarded_take_passes_a_fresh_guard(show: tuple[Rig, Frames]) -> None:
    """What a guard let out, another lets out to the byte."""
    rig, frames = show
    out = rig.play(frames)
    again = rig.guard()
    assert rig.play(out, again) == out
    assert again.held == (0.0, 0)


@settings(max_examples=120)
@given(shows())
def test_three_rises_pass_to_the_byte(show: tuple[Rig, Frames]) -> None:
    """Where no part has a fourth rise within a second of a peak, the very same drive comes back."""
    rig, frames = show
    assume(rig.keeps_three(frames))
    guard = rig.guard()
    for t, values in frames:
        drive = np.array(values, dtype=np.float64) / rig.steps
        assert guard.apply(drive, t) is drive


@given(shows(least_gap=0.2))
def test_slow_playing_is_never_touched(show: tuple[Rig, Frames]) -> None:
    """Frames a fifth of a second apart cannot hold a fourth rise, whatever they show."""
    rig, frames = show
    assert rig.play(frames) == frames


@settings(max_examples=120)
@given(shows())
def test_only_lowers_and_never_delays_a_fall(show: tuple[Rig, Frames]) -> None:
    """No lamp comes out above what went in, and a lamp asked for no more than it has gets it at once."""
    rig, frames = show
    before = [0] * len(rig.at)
    for (_, asked), (_, got) in zip(frames, rig.play(frames), strict=True):
        for a, g, b in zip(asked, got, before, strict=True):
            assert g <= a
            assert a > b or g == a
        before = got


@settings(max_examples=120)
@given(shows())
def test_warn_passes_all_and_tells(show: tuple[Rig, Frames]) -> None:
    """In warn mode everything passes; it tells of something wherever limit would act, and else of nothing."""
    rig, frames = show
    warning, limiting = rig.guard("warn"), rig.guard()
    assert rig.play(frames, warning) == frames
    rig.play(frames, limiting)
    assert (warning.held[1] > 0) == (limiting.held[1] > 0)
    assert warning.held[1] > 0 or rig.worst(frames) <= 3


@given(shows(), st.floats(0.0, 5.0))
def test_settled_means_the_same_again(show: tuple[Rig, Frames], later: float) -> None:
    """While the guard is settled, the same drive passes at any later time as it did."""
    rig, frames = show
    guard = rig.guard()
    for t, values in frames:
        drive = np.array(values, dtype=np.float64) / rig.steps
        got = guard.apply(drive, t)
    if guard.settled:
        assert np.array_equal(guard.apply(drive, frames[-1][0] + later), got)


def brute_fields(at: Floats, radius: float) -> set[tuple[int, ...]]:
    return {tuple(i for i, b in enumerate(at) if math.hypot(*(a - b)) <= radius + 1e-9) for a in at}


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=40))
def test_fields_are_the_lamps_near_a_lamp(places: list[tuple[int, int]]) -> None:
    """The fields of a small rig are the sets of lamps within a radius of a lamp, each once."""
    at = np.array(places, dtype=np.float64) * 0.15
    fields = [tuple(int(i) for i in field) for field in fields_of_view(at, RADIUS)]
    assert len(fields) == len(set(fields))
    assert set(fields) == brute_fields(at, RADIUS)


def test_fields_of_a_great_rig_cover_it() -> None:
    """A rig of thousands has every lamp in a field, no field wider than a view, and few entries in all."""
    at = np.array([(0.11 * (i % 128), 0.07 * (i // 128)) for i in range(8192)])
    fields = fields_of_view(at, RADIUS)
    assert set(np.concatenate(fields)) == set(range(8192))
    assert sum(len(field) for field in fields) < 5 * 8192
    for field in fields:
        span = at[field].max(axis=0) - at[field].min(axis=0)
        assert span.max() <= 2 * RADIUS + 1e-6
    nearest = fields_of_view(at * 100.0, RADIUS)
    assert sorted(len(field) for field in nearest) == [1] * 8192


def test_empty_and_weightless_rigs_pass() -> None:
    """Without lamps, or with lamps that give no light, nothing is judged."""
    nothing = np.zeros(0)
    guard = FlashGuard(np.zeros((0, 2)), nothing, [], nothing)
    assert guard.apply(nothing, 0.0) is nothing
    dark = FlashGuard(np.zeros((1, 2)), np.zeros(1), [False], np.full(1, 255.0))
    for k in range(20):
        drive = np.array([float(k % 2)])
        assert dark.apply(drive, k * 0.05) is drive


SAFETY = {row["name"]: row for row in rows("flash_safety.csv")}


@pytest.mark.parametrize(
    ("name", "ours"),
    [
        ("general_flash_step", lambda: gf.STEP),
        ("general_flash_darker_below", lambda: gf.DARK),
        ("saturated_red_ratio", lambda: gf.SATURATED),
        ("saturated_red_older_test", lambda: gf.RED_STEP * 320),
    ],
)
def test_thresholds_are_the_published_ones(name: str, ours: Callable[[], float]) -> None:
    """The thresholds are those of WCAG."""
    assert ours() == float(SAFETY[name]["value"])


@pytest.mark.parametrize(
    ("name", "rgb"),
    [
        ("ratio of pure red", (1.0, 0.0, 0.0)),
        ("ratio of R=1 G=0.2 B=0.05", (1.0, 0.2, 0.05)),
        ("ratio of R=1 G=0.25 B=0.01", (1.0, 0.25, 0.01)),
        ("ratio of R=1 G=0.5 B=0", (1.0, 0.5, 0.0)),
    ],
)
def test_saturated_red(name: str, rgb: tuple[float, float, float]) -> None:
    """A colour is saturated red where the published example says so."""
    assert is_saturated_red(*rgb) == ("saturated: yes" in SAFETY[name]["note"])
    assert not is_saturated_red(0.0, 0.0, 0.0)
