"""`render` of a mapping that runs by itself, and of one that does not."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from PIL import Image

from bridge.commands.render import render
from bridge.shell.files import read_rig
from bridge.values.errors import UsageError

RIG = Path(__file__).parents[2] / "examples" / "boathouse" / "rig.yaml"


def run(folder: Path, mapping: str, seconds: float | None, gif: bool = False) -> list[list[str]]:
    """The rows of the table that a mapping gives without a MIDI file."""
    (folder / "m.yaml").write_text(mapping)
    table, film = folder / "out.csv", folder / "out.gif" if gif else None
    assert render(lambda _line: None, RIG, folder / "m.yaml", None, table, None, film, seconds) == 0
    with table.open(newline="") as file:
        return list(csv.reader(file))


def test_a_mapping_that_runs_by_itself_needs_no_file(tmp_path: Path) -> None:
    """As long as told, or half a minute; the lamps move, and the film shows it."""
    rows = run(tmp_path, "textures: {a: {kind: chase, lamps: roof, run: true, hz: 1}}", 2.0, gif=True)
    assert len(rows) == 1 + 2 * 40 + 1
    assert len({tuple(row[1:]) for row in rows[1:]}) > 30
    with Image.open(tmp_path / "out.gif") as film:
        assert film.n_frames > 20
    hz = read_rig(RIG)[0].refresh_hz
    assert len(run(tmp_path, "textures: {a: {kind: swell, run: true}}", None)) == 2 + 30 * hz


def test_a_mapping_that_needs_hands_needs_a_file(tmp_path: Path) -> None:
    """Without anything that plays, what is missing is said."""
    with pytest.raises(
        UsageError, match="nothing plays this mapping; add --midi-file FILE, or give a texture run"
    ):
        run(tmp_path, "textures: {a: {kind: swell}}\nkeys: [{notes: 1, texture: a}]", 1.0)
