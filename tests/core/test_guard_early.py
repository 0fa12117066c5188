"""Law 9 where early frames go out: an output that asks for them shows them all, others the steady ones."""

from __future__ import annotations

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.parts.guard_flash import FlashGuard
from bridge.values.mapping import Mapping
from tests.core.test_guard_laws import RIG, Show, at_times, flashes, hammerings, mappings, overloads
from tests.reference.flash_count import transitions, worst_second

STEADY = [k / 40 for k in range(101)]

Points = list[tuple[float, float]]


@st.composite
def shows(draw: st.DrawFn) -> tuple[Mapping, Show]:
    """Any mapping, hammered on, at 40 Hz with early frames wherever they fall."""
    early = draw(st.lists(st.floats(0.0, 2.5), max_size=60))
    return draw(mappings()), at_times(draw(hammerings()), sorted({*STEADY, *early}))


@settings(max_examples=30)
@given(shows())
def test_what_an_early_output_shows_is_within_the_limits(show: tuple[Mapping, Show]) -> None:
    """All frames together count three flashes at most in any second; no frame, early or steady, overloads."""
    engine = Engine(RIG, show[0])
    out = [(t, engine.advance(events, t, t not in STEADY)) for t, events in show[1]]
    assert flashes(out) <= 3
    assert overloads(out) == []


LEVELS = st.sampled_from([0.0, 0.0, 0.5, 0.55, 0.58, 0.6, 0.65, 1.0])
LATE_PEAK = [(0.0, 0.0), (0.01, 0.6), (0.025, 0.55), (0.6, 0.58), (0.625, 0.0), (0.65, 0.6), (0.7, 0.0)]
LATE_PEAK += [(0.75, 0.6), (0.8, 0.0), (1.025, 0.6), (1.05, 0.0)]


@settings(max_examples=200)
@given(
    st.lists(st.tuples(st.integers(0, 80), st.sampled_from([0.0, 0.3, 0.7]), LEVELS), max_size=80).map(
        lambda drawn: sorted({(k + part) / 40: level for k, part, level in drawn}.items())
    )
)
@example(LATE_PEAK)
def test_an_output_that_misses_frames_counts_at_most_one_more_in_a_second(asked: Points) -> None:
    """The steady frames have no more rises in all. One may reach its peak later, and so fall into a second
    that has three already: the four of the example. The count stamps a rise with its peak, however little
    that is above what it reached at once.
    """
    guard = FlashGuard(np.zeros((1, 2)), np.ones(1), [False], np.full(1, 255.0))
    out = [(0.0, 0.0)]
    for t, level in asked:
        out.append((t, round(float(guard.apply(np.array([level]), t)[0]) * 255) / 255))
    steady = [point for point in out if abs(point[0] * 40 - round(point[0] * 40)) < 1e-6]
    assert worst_second(out)[1] <= 3
    assert worst_second(steady)[1] <= (4 if worst_second(out)[1] == 3 else 3)
    assert _rises(steady) <= _rises(out)


def _rises(points: Points) -> int:
    return sum(after > before for _, before, after in transitions(points))
