"""Frames become pictures at another rate: as long as they were, and nothing bright is lost."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.draw_paced import Paced
from bridge.values.frame import Frame
from bridge.values.rig import Lamp, Rig

RIG = Rig("one", (Lamp("a", 0, 1, 1),))


def frame(t: float, value: int) -> Frame:
    """A frame with the lamp at a slot value."""
    slots = np.zeros((1, 512), dtype=np.uint8)
    slots[0, 0] = value
    return Frame(t, (1,), slots)


def shown(frames: list[Frame], rate: Fraction) -> list[float]:
    """The level of the lamp in each picture."""
    out: list[float] = []
    paced = Paced(RIG, rate, lambda levels, ticks: out.extend([float(levels[0])] * ticks))
    for one in frames:
        paced.add(one)
    paced.end()
    return out


@pytest.mark.parametrize("hz", [25.0, 30000 / 1001, 40.0, 44.0])
def test_a_flash_of_one_frame_is_in_one_picture(hz: float) -> None:
    """Whatever the two rates, a single bright frame shows, at most a picture away from its time."""
    for bright in range(20):
        frames = [frame(k / hz, 255 * (k == bright)) for k in range(40)]
        pictures = shown(frames, Fraction(20))
        (at,) = np.flatnonzero(np.array(pictures) == 1.0)[:1]
        assert at == int(bright / hz * 20 + 1e-3)
        assert sum(pictures) <= 2.0


def test_a_faster_rate_repeats_frames() -> None:
    """A frame stands until the next, for as many pictures as that is."""
    assert shown([frame(k / 10, 51 * k) for k in range(3)], Fraction(30)) == pytest.approx(
        [0, 0, 0, 0.2, 0.2, 0.2, 0.4], abs=1e-6
    )


def test_no_frames_are_one_dark_picture() -> None:
    """A film of nothing is still a film."""
    assert shown([], Fraction(20)) == [0.0]


FRAMES = st.lists(st.tuples(st.integers(0, 400), st.integers(0, 255)), min_size=1, max_size=60)


@given(FRAMES, st.integers(1, 60))
def test_it_is_as_long_as_its_frames(raw: list[tuple[int, int]], rate: int) -> None:
    """From the first frame's picture to the last one's, and the brightest frame's level is among them."""
    frames = [frame(k / 40, value) for k, value in sorted(dict(raw).items())]
    pictures = shown(frames, Fraction(rate))
    first, last = (int(Fraction(one.t) * rate + Fraction(1, 1000)) for one in (frames[0], frames[-1]))
    assert len(pictures) == last - first + 1
    assert max(pictures) == pytest.approx(max(one.slots[0, 0] for one in frames) / 255, abs=1e-6)
