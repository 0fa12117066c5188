"""A set list whose songs name their own mappings needs none beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.commands.check import check
from bridge.commands.paging import PageWanted
from bridge.commands.play import Wanted, play

RIG = "lamps: [{name: a, slot: 1}]\n"
SET = "set: Evening\nsongs:\n  - {name: One}\n  - {name: Two, mapping: two.yaml, look: low}\n"
TWO = "mapping: Two\nlooks: {low: {a: 0.5}}\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a rig, a set list and the mapping of its second song."""
    for name, text in (("rig.yaml", RIG), ("evening.yaml", SET), ("two.yaml", TWO)):
        (tmp_path / name).write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.usefixtures("folder")
def test_it_is_checked_with_the_first_mapping_that_a_song_names() -> None:
    """No mapping.yaml: what the songs name is read and checked, and the evening is all there."""
    said: list[str] = []
    assert check(said.append, Path("rig.yaml"), None, set_list=Path("evening.yaml")) == 0
    assert any(line.endswith("Evening: 2 songs, all there") for line in said)


@pytest.mark.usefixtures("folder")
def test_it_is_played_with_the_first_mapping_that_a_song_names() -> None:
    """The show begins, though the folder has no mapping.yaml."""
    said: list[str] = []
    wanted = Wanted(
        Path("rig.yaml"),
        [Path("mapping.yaml")],
        midi_file=None,
        out=["memory"],
        seconds=0.1,
        set_list=Path("evening.yaml"),
        page=PageWanted(off=True),
        midi_in=["nobody"],
    )
    assert play(said.append, wanted) == 0
    assert any(line.startswith("Evening: 1 lamp") for line in said), said
