"""Counting times in fixed bins: quantiles that are right to 5 %, charts that cut no bin in two."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.report.bins import EDGES, Bins
from bridge.shell.report.spread import EVEN_MS, key_axis

TIMES = st.lists(st.floats(1e-5, 999.0), min_size=1, max_size=60)


def filled(times: list[float]) -> Bins:
    """Bins with these times in them."""
    bins = Bins()
    for seconds in times:
        bins.add(seconds)
    return bins


@given(TIMES, st.sampled_from([0.5, 0.9, 0.99, 1.0]))
def test_a_quantile_is_right_to_a_twentieth(times: list[float], share: float) -> None:
    """Never shorter than the time of that rank in the sorted list, nor more than 5 % longer."""
    true = sorted(times)[math.ceil(share * len(times) - 1e-9) - 1]
    assert true <= filled(times).quantile(share) <= true * 1.0500001


def test_round_times_come_back_as_they_are() -> None:
    """A hundred times of 0.3 ms and one of 7 ms: half at most 0.3 ms, the worst 7 ms."""
    bins = filled([0.0003] * 100 + [0.007])
    assert (bins.quantile(0.5), bins.quantile(0.99), bins.quantile(1.0)) == (0.0003, 0.0003, 0.007)
    assert (bins.count, bins.worst) == (101, 0.007)


def test_nothing_counted_is_nothing_long() -> None:
    """Without any time every quantile is 0."""
    assert (Bins().quantile(0.99), Bins().worst, Bins().count) == (0.0, 0.0, 0)


@given(TIMES)
def test_charts_lose_no_time(times: list[float]) -> None:
    """Each bar of the chart of evenness holds just the times between its edges."""
    edges = [value / 1000.0 for value in EVEN_MS]
    wanted = [
        sum(low < one <= high for one in times) for low, high in zip([0.0, *edges], edges, strict=False)
    ]
    assert filled(times).between(edges) == [*wanted, sum(one > edges[-1] for one in times)]


@given(st.floats(0.0005, 2.5))
def test_each_bar_of_a_key_chart_is_made_of_whole_bins(reach: float) -> None:
    """For any limit the bars reach beyond it, are at most 40, and cut no bin in two."""
    step, bars = key_axis(reach)
    edges = [step * number / 1e6 for number in range(1, bars + 1)]
    assert reach < edges[-1] <= 3.0 * reach
    assert bars <= 40
    assert set(edges) <= set(EDGES)
    assert len(filled([reach]).between(edges)) == bars + 1


def test_an_edge_that_is_none_is_refused() -> None:
    """A chart that would cut a bin in two is our mistake, and told."""
    with pytest.raises(ValueError, match="no edge"):
        Bins().between([0.00123456])
