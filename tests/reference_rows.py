"""Knows: how to read the published check values kept in tests/reference."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one file; each carries its `source`."""
    with open(FOLDER / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
