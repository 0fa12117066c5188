"""A MIDI clock with jitter, losses, jumps and stops, against the truth it was made from."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bridge.parts.pulse import Pulse

JITTER, LOST = 0.002, 0.05
"""Seconds either way, and share of ticks that never arrive."""

ALLOWED = 0.010
"""Seconds of beat error that 99 of 100 moments must keep."""


def grid(tempo: Callable[[float], float], seconds: float) -> np.ndarray:
    """True moments of the ticks from second 1 on, 24 a quarter."""
    out, t = [], 1.0
    while t < seconds:
        out.append(t)
        t += 60.0 / (24 * tempo(t))
    return np.array(out)


def heard(true: np.ndarray, seed: int) -> list[float]:
    """What arrives of them: each a little off, in order, some never."""
    chance = np.random.default_rng(seed)
    late = np.maximum.accumulate(true + chance.uniform(-JITTER, JITTER, len(true)))
    kept = chance.random(len(true)) >= LOST
    kept[0] = True
    return [float(t) for t in late[kept]]


def errors(pulse: Pulse, true: np.ndarray, seed: int, after: float) -> np.ndarray:
    """Seconds of beat error, three milliseconds after each tick that came later than `after`."""
    out = []
    for t in heard(true, seed):
        pulse.tick(t)
        at = t + 0.003
        if after < at < true[-1]:
            n = int(np.searchsorted(true, at))
            beat = float(np.interp(at, true, np.arange(len(true)))) / 24
            out.append(abs(pulse.beat(at) - beat) * 24 * (true[n] - true[n - 1]))
    return np.array(out)


@pytest.mark.parametrize("bpm", [20, 33, 60, 97, 120, 174, 240, 300])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_steady_clock_is_followed(bpm: float, seed: int) -> None:
    """At 20 to 300 bpm, 2 ms of jitter and 5 % of the ticks lost, the beat is within 10 ms (p99)."""
    pulse = Pulse()
    pulse.start()
    wrong = errors(pulse, grid(lambda _: bpm, 25.0), seed, 3.0)
    assert np.percentile(wrong, 99) < ALLOWED
    assert pulse.bpm == pytest.approx(bpm, rel=0.02)


@pytest.mark.parametrize(("before", "after"), [(120, 180), (100, 110), (60, 63), (150, 120), (128, 90)])
def test_a_tempo_that_jumps_is_followed(before: float, after: float) -> None:
    """The tempo leaps in the middle: the beat is kept, and no tick is counted twice or never."""
    pulse = Pulse()
    pulse.start()
    wrong = errors(pulse, grid(lambda t: before if t < 12 else after, 25.0), 5, 3.0)
    assert np.percentile(wrong, 99) < ALLOWED


def test_a_tempo_that_breathes_is_followed() -> None:
    """A tempo that swells by 8 % every few seconds keeps within the bound."""
    pulse = Pulse()
    pulse.start()
    wrong = errors(pulse, grid(lambda t: 110 * (1 + 0.08 * np.sin(t)), 30.0), 6, 3.0)
    assert np.percentile(wrong, 99) < ALLOWED


def test_stop_stands_and_continue_goes_on() -> None:
    """A stopped song stands where it stopped though the clock ticks on; continue takes it up there."""
    pulse = Pulse()
    pulse.start()
    true = grid(lambda _: 120, 20.0)
    for t in true[:121]:
        pulse.tick(float(t))
    stopped = float(true[120]) + 0.001
    assert pulse.beat(stopped) == pytest.approx(5.0, abs=0.02)
    pulse.stop(stopped)
    for t in true[121:200]:
        pulse.tick(float(t))
    assert pulse.beat(float(true[199])) == pytest.approx(5.0, abs=0.02)
    assert pulse.bpm == pytest.approx(120, rel=0.01)
    pulse.go_on()
    for t in true[200:249]:
        pulse.tick(float(t))
    assert pulse.beat(float(true[248])) == pytest.approx(7.0, abs=0.02)


def test_song_position_counts_sixteenths() -> None:
    """Song position 8 is two quarters in (MIDI 1.0: six clocks each); start goes back to the beginning."""
    pulse = Pulse()
    true = grid(lambda _: 100, 20.0)
    for t in true[:50]:
        pulse.tick(float(t))
    pulse.stop(float(true[49]))
    pulse.place(8)
    assert pulse.beat(float(true[49])) == 2.0
    pulse.go_on()
    for t in true[50:75]:
        pulse.tick(float(t))
    assert pulse.beat(float(true[74])) == pytest.approx(3.0, abs=0.01)
    pulse.place(64)
    for t in true[75:100]:
        pulse.tick(float(t))
    assert pulse.beat(float(true[99])) == pytest.approx(17.0, abs=0.01)
    pulse.start()
    for t in true[100:125]:
        pulse.tick(float(t))
    assert pulse.beat(float(true[124])) == pytest.approx(1.0, abs=0.01)


def test_a_gap_is_ridden_out() -> None:
    """Half a second without ticks: the beat goes on, and is right when they come back."""
    pulse = Pulse()
    pulse.start()
    true = grid(lambda _: 140, 20.0)
    for n, t in enumerate(true):
        if not 300 <= n < 328:
            pulse.tick(float(t))
        elif n == 320:
            assert pulse.beat(float(t)) == pytest.approx(n / 24, abs=0.02)
    assert pulse.beat(float(true[-1])) == pytest.approx((len(true) - 1) / 24, abs=0.02)


def test_a_clock_that_ends_is_known_to_be_gone() -> None:
    """Seconds after its last tick a clock does not count as here any more; it may come back."""
    pulse = Pulse()
    for t in grid(lambda _: 120, 4.0):
        pulse.tick(float(t))
    assert pulse.here(5.0)
    assert not pulse.here(9.0)
    for t in grid(lambda _: 90, 6.0):
        pulse.tick(float(t) + 20.0)
    assert pulse.here(26.0)
    assert pulse.bpm == pytest.approx(90, rel=0.01)


def test_any_ticks_do_no_harm() -> None:
    """Ticks at any moments, even all at one, give finite numbers."""
    chance = np.random.default_rng(9)
    pulse = Pulse()
    for t in np.sort(np.concatenate([chance.uniform(0, 3, 200), np.full(50, 1.5), [100, 100.001, 1e6]])):
        pulse.tick(float(t))
        assert np.isfinite(pulse.beat(float(t)))
        assert np.isfinite(pulse.bpm)


def test_continue_while_the_song_runs_changes_nothing() -> None:
    """A sender that says continue in the middle of a song does not throw it back to its beginning."""
    pulse = Pulse()
    pulse.start()
    for n in range(97):
        pulse.tick(1.0 + n * 0.02)
    pulse.go_on()
    pulse.tick(1.0 + 97 * 0.02)
    assert pulse.beat(1.0 + 97 * 0.02) == pytest.approx(97 / 24)


@pytest.mark.parametrize(("before", "after"), [(30, 400), (400, 10), (10, 400)])
def test_the_slowest_and_the_fastest_clock_are_heard(before: float, after: float) -> None:
    """A tempo that leaps to either end of what a clock can mean is heard within a dozen ticks."""
    pulse, t = Pulse(), 1.0
    for bpm, ticks in ((before, 49), (after, 12)):
        for _ in range(ticks):
            pulse.tick(t)
            t += 60.0 / (24 * bpm)
    assert pulse.bpm == pytest.approx(after, rel=0.02)
