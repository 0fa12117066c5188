"""The highest value of each stretch, for any length of show."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.report.timeline import STRETCHES, Timeline

POINTS = st.lists(st.tuples(st.floats(0.0, 2e6), st.floats(0.01, 9.0)), min_size=1, max_size=50)


@given(POINTS)
def test_each_value_is_in_its_stretch(points: list[tuple[float, float]]) -> None:
    """However long the show: at most so many stretches, each with the highest of its values."""
    line = Timeline()
    for t, value in sorted(points):
        line.add(t, value)
    assert len(line.values) <= STRETCHES
    wanted: dict[int, float] = {}
    for t, value in points:
        wanted[int(t / line.width)] = max(value, wanted.get(int(t / line.width), 0.0))
    assert {at: value for at, value in enumerate(line.values) if value} == wanted


def test_eight_minutes_are_seconds_and_a_day_is_minutes() -> None:
    """Stretches double: one second up to 480, 256 s for a day."""
    line = Timeline()
    line.add(479.9, 1.0)
    assert line.width == 1.0
    line.add(86_399.0, 2.0)
    assert line.width == 256.0
    assert (line.values[1], line.values[-1]) == (1.0, 2.0)


@given(POINTS, st.integers(0, 12), st.integers(0, 500))
def test_it_stands_beside_another(points: list[tuple[float, float]], power: int, count: int) -> None:
    """In stretches of any other width, as many as asked for, none is higher than before."""
    line = Timeline()
    for t, value in sorted(points):
        line.add(t, value)
    beside = line.over(2.0**power, count)
    assert len(beside) == count
    assert max(beside, default=0.0) <= max(line.values)
    if count * 2.0**power >= len(line.values) * line.width:
        assert max(beside) == max(line.values)
