"""Knows: that the flash guard lets no fourth flash through, and touches nothing else.

Must never know: the guard's own way of counting; judges by tests/reference/flash_count.py and plain loops.
"""

from __future__ import annotations

import importlib.util
import math
from collections.abc import Callable
from fractions import Fraction
from types import ModuleType

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bridge.parts import guard_flash as gf
from bridge.parts.guard_flash import FlashGuard, fields_of_view, is_saturated_red
from bridge.values.numbers import Floats, half_up_array
from tests.reference_rows import FOLDER, rows


def counter(step: float, dark: float) -> ModuleType:
    """The reference counter, with its own thresholds or those of red."""
    spec = importlib.util.spec_from_file_location("flash_count", FOLDER / "flash_count.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.STEP, module.DARK = step, dark  # type: ignore[attr-defined]
    return module


GENERAL = counter(0.10, 0.80)
RED = counter(20 / 320, math.inf)
RADIUS = 5.0 * math.tan(math.radians(5.0))

Frames = list[tuple[float, list[int]]]
Series = list[tuple[float, Fraction]]


class Rig:
    """Some lamps with whole weights, so that their light is an exact fraction."""

    def __init__(self, at: list[tuple[float, float]], weights: list[int], red: list[bool], steps: int = 255):
        self.at, self.weights, self.red, self.steps = at, weights, red, steps
        sets = {frozenset(range(len(at)))}
        for x, y in at:
            sets.add(frozenset(i for i, (u, v) in enumerate(at) if math.hypot(u - x, v - y) <= RADIUS + 1e-6))
        self.parts: list[tuple[ModuleType, list[int], int]] = []
        for lamps in sets:
            total = sum(weights[i] for i in lamps)
            self.parts.append((GENERAL, sorted(lamps), total))
            self.parts.append((RED, sorted(i for i in lamps if red[i]), total))

    def guard(self, mode: str = "limit") -> FlashGuard:
        n = len(self.at)
        return FlashGuard(
            np.array(self.at), np.array(self.weights, float), self.red, np.full(n, self.steps), mode
        )

    def play(self, frames: Frames, guard: FlashGuard | None = None) -> Frames:
        guard = guard or self.guard()
        out = []
        for t, values in frames:
            got = guard.apply(np.array(values, dtype=np.float64) / self.steps, t)
            out.append((t, [int(v) for v in half_up_array(got * self.steps)]))
        return out

    def light(self, frames: Frames) -> list[tuple[ModuleType, Series]]:
        """For each part its counter and its light, dark before the first frame."""
        out = []
        for count, lamps, total in self.parts:
            series: Series = [(frames[0][0], Fraction(0))]
            series += [
                (t, Fraction(sum(self.weights[i] * v[i] for i in lamps), total * self.steps))
                for t, v in frames
            ]
            out.append((count, series))
        return out

    def worst(self, frames: Frames) -> int:
        return max(count.worst_second(series)[1] for count, series in self.light(frames))

    def keeps_three(self, frames: Frames) -> bool:
        """True if in no part a rise reaches a step less than a second after the peak of the third before."""
        for count, series in self.light(frames):
            peaks: list[float] = []
            crossings: list[float] = []
            marks = count.transitions(series)
            for peak, low, high in marks:
                if high > low:
                    first = min(
                        t
                        for t, light in series
                        if t <= peak and light - low >= count.STEP - 1e-8 and t >= start_of(series, low, peak)
                    )
                    peaks.append(peak)
                    crossings.append(first)
            pairs = zip(peaks, crossings[3:], strict=False)
            if any(crossing < peak + 1.0 - 1e-9 for peak, crossing in pairs):
                return False
        return True


def start_of(series: Series, low: Fraction, peak: float) -> float:
    """The last time before `peak` at which the light was at the valley `low`."""
    return max((t for t, light in series if t < peak and light == low), default=-math.inf)


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


@settings(max_examples=300)
@given(shows())
def test_no_fourth_flash(show: tuple[Rig, Frames]) -> None:
    """No output counts a fourth flash, general or red, in any second of the rig or of any field of view."""
    rig, frames = show
    assert rig.worst(rig.play(frames)) <= 3


@settings(max_examples=200)
@given(shows())
def test_a_guarded_take_passes_a_fresh_guard(show: tuple[Rig, Frames]) -> None:
    """What a guard let out, another lets out to the byte."""
    rig, frames = show
    out = rig.play(frames)
    again = rig.guard()
    assert rig.play(out, again) == out
    assert again.held == (0.0, 0)


@settings(max_examples=200)
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


@settings(max_examples=200)
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


@settings(max_examples=200)
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


def staccato(n: int, rate: float, seconds: float = 6.0, length: float = 0.1, hz: float = 40.0) -> Frames:
    """Single lamps of a line, one after the other, `rate` strikes a second, at full."""
    frames: Frames = []
    for k in range(int(seconds * hz)):
        t = k / hz
        note, phase = int(t * rate + 1e-9), (t * rate + 1e-9) % 1.0 / rate
        frames.append((t, [255 if i == note % n and phase < length else 0 for i in range(n)]))
    return frames


def line(n: int, spacing: float = 1.2) -> Rig:
    return Rig([(spacing * i, 0.0) for i in range(n)], [1] * n, [False] * n)


def strikes(frames: Frames) -> list[int]:
    """The highest value of each strike, in order."""
    tops, before = [], 0
    for _, values in frames:
        top = max(values)
        if top and not before:
            tops.append(top)
        before = top
    return tops


def test_staccato_on_eight_lamps_loses_a_fifth_of_every_fourth_note() -> None:
    """Four single notes a second on eight lamps: three untouched, the fourth at 79 % of its drive."""
    rig = line(8)
    out = rig.play(staccato(8, 4.0))
    tops = strikes(out)
    assert len(tops) == 24
    assert tops.count(255) == 18
    assert {top for top in tops if top < 255} == {math.floor(0.1 * 8 * 255 - 0.001)}
    assert rig.worst(out) == 3


@pytest.mark.parametrize("n", [11, 24, 30])
def test_staccato_on_more_than_ten_lamps_is_untouched(n: int) -> None:
    """Single notes on eleven lamps or more are no flash of the rig, at any speed."""
    frames = staccato(n, 8.0, length=0.075)
    assert line(n).play(frames) == frames


def test_overlapping_notes_count_nowhere() -> None:
    """Notes tied so that the light holds its level pass at eight a second on eight lamps."""
    frames = staccato(8, 8.0, length=1.0)
    assert line(8).play(frames) == frames


def test_three_a_second_is_untouched() -> None:
    """Three strokes of the whole rig a second pass for ever."""
    frames = [(k / 40.0, [255 if k % 14 < 5 else 0] * 8) for k in range(400)]
    assert line(8).play(frames) == frames


def test_a_lamp_alone_in_its_field_is_held_from_its_fourth_strike() -> None:
    """One lamp of thirty, six strikes a second: three at full, the others under a tenth."""
    rig = line(30)
    frames = [(k / 40.0, [255 if i == 4 and k % 6 < 3 else 0 for i in range(30)]) for k in range(38)]
    tops = strikes(rig.play(frames))
    assert tops[:3] == [255, 255, 255]
    assert set(tops[3:]) == {25}


def test_only_the_rising_lamps_give_way() -> None:
    """Lamps that hold their drive are not touched by another's fourth strike."""
    rig = Rig([(0.0, 0.0)] * 4, [1] * 4, [False] * 4)
    frames: Frames = [(0.0, [100, 100, 0, 0])]
    for k in range(1, 9):
        frames.append((k * 0.05, [100, 100, 255 if k % 2 else 0, 0]))
    out = rig.play(frames)
    assert all(values[:2] == [100, 100] for _, values in out)
    assert [values[2] for _, values in out if values[2]] == [255, 255, 255, 101]


def test_the_first_strike_from_dark_is_whole() -> None:
    """After a second of calm, the first strike passes at once, whatever came before."""
    rig = line(3)
    frames: Frames = [(k * 0.05, [255 * (k % 2)] * 3) for k in range(20)]
    frames += [(1.0, [0] * 3), (2.5, [255] * 3)]
    assert rig.play(frames)[-1] == frames[-1]


def test_a_red_lamp_counts_by_a_sixteenth() -> None:
    """A red lamp that is one twelfth of the light flashes, a white one of that size does not."""
    at = [(0.0, 0.0)] * 12
    frames: Frames = [(k * 0.05, [255 * (k % 2)] + [0] * 11) for k in range(20)]
    assert Rig(at, [1] * 12, [False] * 12).play(frames) == frames
    red = Rig(at, [1] * 12, [True] + [False] * 11)
    out = red.play(frames)
    assert out != frames
    assert red.worst(out) == 3


def test_white_light_hides_no_red() -> None:
    """Red that strikes while white falls by as much is counted all the same."""
    rig = Rig([(0.0, 0.0)] * 2, [1, 1], [True, False])
    frames: Frames = [(k * 0.05, [255 * (k % 2), 255 * (1 - k % 2)]) for k in range(20)]
    white = Rig([(0.0, 0.0)] * 2, [1, 1], [False, False])
    assert white.play(frames) == frames
    assert rig.play(frames) != frames


@pytest.mark.parametrize("hz", [25.0, 40.0, 100.0])
def test_a_held_lamp_climbs_by_time(hz: float) -> None:
    """A held strike comes up to full within a third of a second of its freedom, at any rate of frames."""
    rig = line(1)

    def asked(t: float) -> int:
        return 255 if t >= 0.6 - 1e-9 or (t % 0.2 + 1e-9) % 0.2 < 0.12 else 0

    frames = [(k / hz, [asked(k / hz)]) for k in range(int(2 * hz))]
    got = {round(t, 6): values[0] for t, values in rig.play(frames)}
    change = 255 / hz / gf.CLIMB_S + 1
    for t in (0.6, 0.8):
        assert got[t] == 25
    for t in (1.0, 1.2, 1.4):
        assert abs(got[t] - min(255.0, 25 + 255 * (t - 1.0) / gf.CLIMB_S)) <= change


def test_lamps_on_one_slot_move_together() -> None:
    """Of lamps that share a slot, each gets what the lowest gets."""
    at = np.array([(0.0, 0.0), (9.0, 0.0)])
    guard = FlashGuard(at, np.array([1.0, 1.0]), [False, False], np.full(2, 255.0), shared=[(0, 1)])
    for k in range(40):
        out = guard.apply(np.array([float(k % 2), float(k % 2)]), k * 0.05)
        assert out[0] == out[1]
    lone = guard.apply(np.array([1.0, 0.2]), 20.0)
    assert guard.held[0] == 0.0
    assert list(lone) == [1.0, 0.2]


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
