"""Dimmer responses against published values."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.parts.responses import CELLS, RESPONSES, response_table
from tests.reference_rows import rows

CIE = [row for row in rows("curves.csv") if row["curve"] == "cie_lightness_to_luminance"]
DALI = [row for row in rows("curves.csv") if row["curve"] == "dali_logarithmic" and int(row["input"]) > 0]


@pytest.mark.parametrize("name", RESPONSES)
def test_every_response_ends_at_1_and_never_falls(name: str) -> None:
    """Full level is full drive; more level is never less drive."""
    table = response_table(name)
    assert table[-1] == 1.0
    assert np.all(np.diff(table) >= 0)
    assert table[0] <= 0.001


@pytest.mark.parametrize("row", CIE, ids=lambda row: f"{row['input']} {row['input_unit']}")
def test_cie_equals_the_published_luminance(row: dict[str, str]) -> None:
    """curves.csv, CIE 1976 L*: L* 0..100, or a level 0..127 as lightness, gives relative luminance."""
    full = 100 if row["input_unit"] == "L*" else 127
    got = RESPONSES["cie"](np.array([int(row["input"]) / full]))[0]
    assert got == pytest.approx(float(row["output"]), rel=1e-8, abs=1e-12)


@pytest.mark.parametrize("row", DALI, ids=lambda row: f"{row['input']} {row['input_unit']}")
def test_dali_equals_the_published_percentages(row: dict[str, str]) -> None:
    """curves.csv, IEC 62386-102 dimming curve: arc power level 1..254 gives 0.1..100 %."""
    assert row["output_unit"] in ("percent", "fraction"), row
    scale = 100.0 if row["output_unit"] == "percent" else 1.0
    got = RESPONSES["dali"](np.array([(int(row["input"]) - 1) / 253]))[0]
    assert got * scale == pytest.approx(float(row["output"]), rel=1e-6)


@pytest.mark.parametrize("name", RESPONSES)
def test_straight_lines_between_table_cells_are_closer_than_half_a_16_bit_step(name: str) -> None:
    """Reading the table half way between two cells misses the law by less than half of 1/65535."""
    table = response_table(name)
    middle = (np.arange(CELLS) + 0.5) / CELLS
    assert np.max(np.abs((table[:-1] + table[1:]) / 2 - RESPONSES[name](middle))) < 0.5 / 65535


def test_points_are_joined_by_straight_lines() -> None:
    """A list of [level, drive] points is read straight between them."""
    table = response_table([(0.0, 0.0), (0.5, 0.25), (1.0, 1.0)])
    assert [table[0], table[CELLS // 4], table[CELLS // 2], table[-1]] == [0.0, 0.125, 0.25, 1.0]
