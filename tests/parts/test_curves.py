"""Velocity curves: the laws every entry of CURVES keeps, and published values."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from bridge.parts.curves import CURVES, through_points, velocity_table
from tests.reference_rows import rows

NAMES = {"linear": "linear", "square": "square", "cie_lightness_to_luminance": "cie"}
PUBLISHED = [
    r for r in rows("curves.csv") if r["curve"] in NAMES and r["input_unit"].startswith(("velocity", "level"))
]


@pytest.mark.parametrize("name", CURVES)
def test_every_curve_starts_at_0_ends_at_1_and_never_falls(name: str) -> None:
    """The law over CURVES (DESIGN, the mapping): 0 at 0, 1 at 127, never falling."""
    table = velocity_table(name)
    assert (len(table), table[0], table[127]) == (128, 0.0, 1.0)
    assert all(a <= b for a, b in pairwise(table))
    assert table[1] > 0.0


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row['curve']} {row['input']}")
def test_curves_equal_the_published_values(row: dict[str, str]) -> None:
    """curves.csv: the General MIDI square law and CIE 1976 lightness (sources in the rows)."""
    got = velocity_table(NAMES[row["curve"]])[int(row["input"])]
    assert got == pytest.approx(float(row["output"]), rel=1e-8, abs=1e-12)


def test_square_is_the_decibel_law_of_general_midi() -> None:
    """curves.csv, gm_dls_gain: amplitude (v/127)^2 is 40*log10(v/127) dB."""
    checked = 0
    for row in rows("curves.csv"):
        if row["curve"] == "gm_dls_gain" and row["output_unit"] == "dB" and row["output"] != "-inf":
            level = velocity_table("square")[int(row["input"])]
            assert 20 * np.log10(level) == pytest.approx(float(row["output"]), rel=1e-8, abs=1e-9)
            checked += 1
    assert checked >= 3


@st.composite
def points(draw: st.DrawFn) -> list[tuple[float, float]]:
    """Rising velocities with levels that never fall."""
    xs = sorted(draw(st.sets(st.integers(1, 126), min_size=1, max_size=6)))
    ys = sorted(draw(st.lists(st.floats(0, 1), min_size=len(xs), max_size=len(xs))))
    return [(float(x), y) for x, y in zip(xs, ys, strict=True)]


@given(points())
def test_a_curve_through_points_equals_scipy_and_never_overshoots(drawn: list[tuple[float, float]]) -> None:
    """Monotone cubic (Fritsch and Butland 1984) as scipy's PchipInterpolator, within its points' levels."""
    xs = [0.0, *[x for x, _ in drawn], 127.0]
    ys = [0.0, *[y for _, y in drawn], 1.0]
    assume(all(b - a == 0.0 or b - a > 1e-9 for a, b in pairwise(ys)))
    curve = through_points(drawn)
    ours = np.array([curve(v / 127.0) for v in range(128)])
    np.testing.assert_allclose(ours, PchipInterpolator(xs, ys)(np.arange(128)), atol=1e-9)
    table = velocity_table(drawn)
    assert all(b >= a - 1e-12 for a, b in pairwise(table))


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        ([(10.0, 0.2), (10.0, 0.3)], "velocities of a curve must rise"),
        ([(10.0, 0.5), (20.0, 0.4)], "never fall"),
    ],
)
def test_points_that_are_no_curve_are_refused(bad: list[tuple[float, float]], words: str) -> None:
    """Falling or doubled points are told, not bent into shape."""
    with pytest.raises(ValueError, match=words):
        through_points(bad)


@pytest.mark.parametrize("name", CURVES)
def test_between_leaves_0_dark_and_maps_the_rest(name: str) -> None:
    """Velocity 0 stays 0; everything over it lies between low and high, with high at 127."""
    table = velocity_table(name, (0.25, 0.75))
    assert table[0] == 0.0
    assert min(table[1:]) >= 0.25
    assert table[127] == 0.75
