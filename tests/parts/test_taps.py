"""Tap tempo."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.taps import Taps


@given(bpm=st.floats(30, 300), count=st.integers(2, 20))
def test_even_taps_give_their_tempo(bpm: float, count: int) -> None:
    """Taps at an even pace give that pace, from the second on."""
    taps = Taps()
    told = [taps.tap(100 + n * 60 / bpm) for n in range(count)]
    assert told[0] is None
    assert told[1:] == pytest.approx([bpm] * (count - 1))


def test_a_pause_begins_anew() -> None:
    """After a pause the next tap is the first of another row."""
    taps = Taps()
    for t in (0.0, 0.5, 1.0):
        taps.tap(t)
    assert taps.tap(10.0) is None
    assert taps.tap(10.4) == pytest.approx(150)


def test_another_pace_is_heard_at_once() -> None:
    """A hand that changes its mind is followed from its second tap on."""
    taps = Taps()
    for t in (0.0, 0.5, 1.0, 1.5, 2.0):
        taps.tap(t)
    assert taps.tap(2.25) == pytest.approx(240)
    assert taps.tap(2.5) == pytest.approx(240)


def test_a_pad_that_bounces_taps_once() -> None:
    """Two taps within a few milliseconds are one."""
    taps = Taps()
    told = [taps.tap(t) for t in (0.0, 0.02, 0.5, 0.51, 1.0)]
    assert [one for one in told if one is not None] == pytest.approx([120, 120])


def test_a_bounce_in_the_middle_of_a_row_changes_nothing() -> None:
    """A pad that bounces after some taps leaves the tempo alone."""
    taps = Taps()
    told = [taps.tap(t) for t in (0.0, 0.5, 1.0, 1.5, 1.51, 2.0, 2.5)]
    assert told == [None, 120.0, 120.0, 120.0, None, 120.0, 120.0]


def test_a_tap_that_was_left_out_is_forgotten_with_the_next() -> None:
    """One gap twice as long counts until the next tap, and then no more."""
    taps = Taps()
    for t in (0.0, 0.5, 1.0, 1.5):
        taps.tap(t)
    assert taps.tap(2.5) == pytest.approx(60)
    assert taps.tap(3.0) == pytest.approx(120)
    assert taps.tap(3.5) == pytest.approx(120)


@given(gaps=st.lists(st.one_of(st.just(0.0), st.floats(-5, 5), st.floats(0, 1e-12)), max_size=30))
def test_any_taps_give_a_tempo_in_range(gaps: list[float]) -> None:
    """Taps at any times, the same moment twice and backwards too, give no tempo or one a hand can mean."""
    taps, t = Taps(), 100.0
    for gap in gaps:
        t += gap
        told = taps.tap(t)
        assert told is None or 20.0 <= told <= 400.0
