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
