"""Knows: that no frame of the load guard passes a budget, and that it lowers no more than it must.

Must never know: rigs or files of a player.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.guard_load import RECOVERY_S, LoadGuard
from bridge.values.numbers import Floats, half_up_array
from tests.reference_rows import rows

EXACT = 1.0 + 1e-10
"""For the last digits of a sum of floats."""


@dataclass
class Wiring:
    """Lamps on two supplies and two decoders."""

    amps: Floats
    steps: Floats
    supply: list[int]
    supply_amps: list[float]
    decoder: list[int]
    decoder_amps: list[float]
    slot_amps: Floats

    def guard(self, mode: str = "limit") -> LoadGuard:
        return LoadGuard(
            self.amps,
            self.steps,
            self.supply,
            self.supply_amps,
            self.decoder,
            self.decoder_amps,
            self.slot_amps,
            mode,
        )

    def slots(self, drive: Floats) -> Floats:
        return half_up_array(drive * self.steps)

    def sums(self, drive: Floats, source: list[int], count: int) -> list[float]:
        """Amps of each source with the values that go out, added up exactly."""
        amps = self.amps * self.slots(drive) / self.steps
        return [math.fsum(a for a, s in zip(amps, source, strict=True) if s == k) for k in range(count)]


@st.composite
def wirings(draw: st.DrawFn) -> Wiring:
    n = draw(st.integers(1, 12))

    def each(element: st.SearchStrategy) -> list:
        return draw(st.lists(element, min_size=n, max_size=n))

    budgets = st.floats(0.1, 8.0) | st.sampled_from([0.0, 1.0, 2.0, 2.5])
    return Wiring(
        amps=np.array(each(st.sampled_from([0.0, 0.25, 0.35, 0.5, 1.0]) | st.floats(0.01, 3.0))),
        steps=np.array(each(st.sampled_from([255.0, 65535.0]))),
        supply=each(st.integers(-1, 1)),
        supply_amps=[draw(budgets), draw(budgets)],
        decoder=each(st.integers(-1, 1)),
        decoder_amps=[draw(budgets), draw(budgets)],
        slot_amps=np.array(each(st.just(math.inf) | st.floats(0.05, 3.0))),
    )


@st.composite
def shows(draw: st.DrawFn) -> tuple[Wiring, list[tuple[float, Floats]]]:
    wiring = draw(wirings())
    n = len(wiring.amps)
    t, frames = 0.0, []
    for _ in range(draw(st.integers(1, 20))):
        t += draw(st.sampled_from([0.0, 0.005, 0.025, 0.04, 0.3, 2.0]))
        level = st.sampled_from([0.0, 1.0, 0.5]) | st.floats(0.0, 1.0)
        frames.append((t, np.array(draw(st.lists(level, min_size=n, max_size=n)))))
    return wiring, frames


@settings(max_examples=120)
@given(shows())
def test_no_frame_ever_exceeds(show: tuple[Wiring, list[tuple[float, Floats]]]) -> None:
    """In no frame, the first included, does a supply, decoder or slot carry more than its budget."""
    wiring, frames = show
    guard = wiring.guard()
    for t, drive in frames:
        out = guard.apply(drive, t)
        supplies = wiring.sums(out, wiring.supply, 2)
        assert all(s <= b * EXACT for s, b in zip(supplies, wiring.supply_amps, strict=True))
        assert guard.supply_load == pytest.approx(supplies)
        decoders = wiring.sums(out, wiring.decoder, 2)
        assert all(s <= b * EXACT for s, b in zip(decoders, wiring.decoder_amps, strict=True))
        assert np.all(wiring.amps * wiring.slots(out) / wiring.steps <= wiring.slot_amps * EXACT)


@settings(max_examples=120)
@given(shows())
def test_a_guarded_take_passes_a_fresh_guard(show: tuple[Wiring, list[tuple[float, Floats]]]) -> None:
    """What the guard let out, as slots, another lets out to the byte."""
    wiring, frames = show
    guard, again = wiring.guard(), wiring.guard()
    for t, drive in frames:
        sent = wiring.slots(guard.apply(drive, t)) / wiring.steps
        assert again.apply(sent, t) is sent
    assert again.held == (0.0, 0)


@settings(max_examples=120)
@given(shows())
def test_only_lowers_and_touches_nothing_that_fits(show: tuple[Wiring, list[tuple[float, Floats]]]) -> None:
    """No lamp rises; frames that have always fitted come back as the very same drive."""
    wiring, frames = show
    guard = wiring.guard()
    fitted = True
    for t, drive in frames:
        out = guard.apply(drive, t)
        assert np.all(out <= drive)
        amps = wiring.amps * wiring.slots(drive) / wiring.steps
        fitted &= bool(np.all(amps <= wiring.slot_amps * (1 - 1e-8)))
        for source, budgets in (
            (wiring.supply, wiring.supply_amps),
            (wiring.decoder, wiring.decoder_amps),
        ):
            sums = wiring.sums(drive, source, 2)
            fitted &= all(s <= b * (1 - 1e-8) for s, b in zip(sums, budgets, strict=True))
        if fitted:
            assert out is drive


@given(
    st.lists(st.floats(0.0, 1.0), min_size=2, max_size=20), st.floats(0.1, 0.9), st.sampled_from([255, 65535])
)
def test_ratios_stay(levels: list[float], part: float, steps: int) -> None:
    """Every lamp of an overloaded supply is scaled by the same share, to a slot step."""
    drive = np.array(levels)
    n = len(levels)
    asked = half_up_array(drive * steps)
    if not asked.any():
        return
    budget = part * asked.sum() / steps * 0.35
    guard = LoadGuard(np.full(n, 0.35), np.full(n, float(steps)), [0] * n, [budget])
    got = half_up_array(guard.apply(drive, 0.0) * steps)
    assert np.all(np.abs(got - asked * part) <= 1.0 + 1e-3)
    assert got.sum() / steps * 0.35 > budget - n * 0.35 / steps - 1e-6


def test_the_published_supply() -> None:
    """24 lamps of 0.35 A on a 10 A supply kept to 8 A are scaled by 8 / 8.4 (electrical.csv)."""
    row = next(r for r in rows("electrical.csv") if r["name"] == "example 24 lamps at 12 V")
    assert "8/8.4 = 0.952381" in row["note"]
    guard = LoadGuard(np.full(24, 0.35), np.full(24, 65535.0), [0] * 24, [8.0])
    out = guard.apply(np.ones(24), 0.0)
    assert out == pytest.approx(np.full(24, 0.952381), abs=1 / 65535)
    assert guard.held[0] == pytest.approx(1 - 0.952381, abs=1 / 65535)


@given(st.integers(1, 24), st.sampled_from([0.1, 0.35, 0.66, 0.7, 1 / 3]), st.integers(1, 255))
def test_a_load_that_is_just_the_budget_passes(n: int, amps: float, value: int) -> None:
    """Lamps that take the budget to the last digit, and no more, are not touched; one step more is."""
    budget = amps * n * (value / 255)
    drive = np.append(np.full(n, value / 255), 0.0)
    guard = LoadGuard(np.full(n + 1, amps), np.full(n + 1, 255.0), [0] * (n + 1), [budget])
    assert guard.apply(drive, 0.0) is drive
    more = np.append(drive[:-1], 1 / 255)
    assert guard.apply(more, 0.0) is not more


def test_other_supplies_are_not_touched() -> None:
    """An overload scales its own supply; the lamps of another, or of none, keep the drive they had."""
    guard = LoadGuard(np.ones(4), np.full(4, 255.0), [0, 0, 1, -1], [1.0, 1.0])
    out = guard.apply(np.array([1.0, 1.0, 0.777, 0.333]), 0.0)
    assert list(out) == [127 / 255, 127 / 255, 0.777, 0.333]


@pytest.mark.parametrize("hz", [25.0, 40.0, 60.0])
def test_the_share_returns_smoothly_and_by_time(hz: float) -> None:
    """After an overload the light comes back by an exponential of a third of a second, at any rate."""
    guard = LoadGuard(np.full(2, 1.0), np.full(2, 65535.0), [0, 0], [1.0])
    guard.apply(np.ones(2), 0.0)
    before = 0.5
    for k in range(1, int(3 * hz)):
        t = k / hz
        out = float(guard.apply(np.array([0.9, 0.0]), t)[0])
        assert out >= before * 0.9 - 1e-4
        share = 0.5 * math.exp(-t / RECOVERY_S)
        if share > 2e-3:
            assert out == pytest.approx(0.9 * (1.0 - share), abs=2 / 65535)
            assert not guard.settled
        before = out
    assert out == 0.9
    assert guard.settled


def test_blackout_is_not_delayed() -> None:
    """Whatever the guard is holding, dark is dark at once."""
    guard = LoadGuard(np.ones(3), np.full(3, 255.0), [0] * 3, [1.0])
    guard.apply(np.ones(3), 0.0)
    assert not guard.apply(np.zeros(3), 0.0).any()


def test_warn_passes_all_and_tells() -> None:
    """In warn mode the drive passes as it is and the share that should have been held is told."""
    guard = LoadGuard(np.ones(4), np.full(4, 255.0), [0] * 4, [2.0], mode="warn")
    for k, level in enumerate([1.0, 1.0, 0.2, 1.0]):
        drive = np.full(4, level)
        assert guard.apply(drive, k / 40) is drive
        assert guard.held[0] == pytest.approx(0.5 if level == 1.0 else 0.0, abs=1 / 255)
    assert guard.held[1] == 2


def test_what_cannot_exceed_is_never_looked_at() -> None:
    """Where every lamp at full is within the budgets, the drive comes straight back."""
    guard = LoadGuard(np.ones(4), np.full(4, 255.0), [0] * 4, [4.0], [0] * 4, [5.0], np.full(4, 1.0))
    drive = np.ones(4)
    assert guard.apply(drive, 0.0) is drive
    assert guard.settled
    assert list(guard.supply_load) == [4.0]


@given(shows(), st.floats(0.0, 5.0))
def test_settled_means_the_same_again(show: tuple[Wiring, list[tuple[float, Floats]]], later: float) -> None:
    """While the guard is settled, the same drive passes at any later time as it did."""
    wiring, frames = show
    guard = wiring.guard()
    for t, drive in frames:
        out = guard.apply(drive, t)
    if guard.settled:
        assert np.array_equal(guard.apply(frames[-1][1], frames[-1][0] + later), out)
