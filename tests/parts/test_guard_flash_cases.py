"""Knows: what the flash guard does to music that one can name: staccato, red, ripples, lamps on one slot.

Must never know: the guard's own way of counting; judges by tests/reference/flash_count.py and plain loops.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bridge.parts import guard_flash as gf
from bridge.parts.guard_flash import FlashGuard
from tests.parts.flash_rigs import Frames, Rig, line


def staccato(n: int, rate: float, seconds: float = 6.0, length: float = 0.1, hz: float = 40.0) -> Frames:
    """Single lamps of a line, one after the other, `rate` strikes a second, at full."""
    frames: Frames = []
    for k in range(int(seconds * hz)):
        t = k / hz
        note, phase = int(t * rate + 1e-9), (t * rate + 1e-9) % 1.0 / rate
        frames.append((t, [255 if i == note % n and phase < length else 0 for i in range(n)]))
    return frames


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


def test_holding_is_told_and_never_settled() -> None:
    """While a strike is held back the guard tells how much, counts it once, and asks to be called again."""
    guard = line(1).guard()
    for k in range(8):
        guard.apply(np.array([float(k % 2)]), k * 0.05)
    share, times = guard.held
    assert share == pytest.approx(1 - 25 / 255)
    assert times == 1
    assert not guard.settled
    guard.apply(np.ones(1), 0.4)
    assert guard.held == (share, 1)
    guard.apply(np.zeros(1), 0.45)
    assert guard.held == (0.0, 1)
    assert guard.settled


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


def test_a_ripple_in_the_bright_moves_no_stamp() -> None:
    """A dip from full to 0.85 and back is no transition, so the rise before it keeps its time."""
    lit = [
        (0.0, 1.0),
        (0.1, 0.85),
        (0.2, 0.96),
        (0.25, 1.0),
        (0.3, 0.0),
        (0.4, 1.0),
        (0.5, 0.0),
        (0.6, 1.0),
        (0.7, 0.0),
    ]
    rig = line(1)
    frames = [(t, [round(level * 255)]) for t, level in [*lit, (1.05, 1.0)]]
    assert rig.play(frames) == frames
    early = [*frames[:-1], (0.95, [255])]
    assert rig.play(early) != early


@given(st.lists(st.integers(1, 9), min_size=2, max_size=6), st.integers(1, 255))
@example([1, 9, 9, 9, 9], 153)
@example([2, 8, 9, 9, 9], 153)
def test_the_same_light_by_other_lamps_is_no_new_peak(weights: list[int], value: int) -> None:
    """When lamps hand the light over to another that gives just as much, the rise keeps its time."""
    n, total = len(weights), sum(weights)
    rig = Rig([(0.0, 0.0)] * (n + 2), [*weights, total, 1], [False] * (n + 2))
    one, many, none = [0] * n + [value, 0], [value] * n + [0, 0], [0] * (n + 2)
    other = [0] * n + [255, 0]
    frames = [(0.0, one), (0.2, many), (0.3, none), (0.4, other), (0.5, none), (0.6, other), (0.7, none)]
    frames.append((1.05, other))
    assert rig.play(frames) == frames


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
