"""A file that calls middle C C3 is answered in its own names, wherever a note is named to its player."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from bridge.core.engine import Engine
from bridge.shell.draw_keyboard import keyboard_picture
from bridge.shell.explain import explain
from bridge.shell.feeds import ListFeed
from bridge.shell.files import mapping_from_text
from bridge.shell.files.mapping import middle_c_of
from bridge.shell.news import event_line
from bridge.shell.notices import unheard_lines
from bridge.shell.page.describe import mapping_facts
from bridge.shell.takes.export_frames import export_png
from bridge.shell.takes.info import info
from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import Recorder
from bridge.values.beat import Beat
from bridge.values.events import NoteOn
from bridge.values.mapping import Mapping
from bridge.wire.take_header import TakeHeader
from tests.shell.files.cases import FULL, boathouse
from tests.shell.takes.players import RIG, record, song

BOATHOUSE = boathouse()

PLAYED = (
    "feels: {f: {decay_ms: 100}}\n"
    "keys:\n- {notes: [60, 62], lamps: [door, west.red]}\n- {notes: 64, lamps: left, mode: shot, feel: f}\n"
    "controls:\n- {notes: 65, does: blackout}\n- {notes: 60, does: release_all}\n"
    "chords:\n  shapes:\n  - {chord: major, lamps: left, notes: 67..70}\n"
)
"""Notes by number, so that both ways of naming play the same."""


def read(middle_c: str) -> Mapping:
    """The mapping in one of the ways of naming."""
    return mapping_from_text(f"middle_c: {middle_c}\n{PLAYED}", BOATHOUSE)[0]


def test_the_check_speaks_as_the_file_does() -> None:
    """Keys, pads, controls, chords and what clashes are named by the file's own octaves."""
    said = "\n".join(explain(BOATHOUSE, read("C3")))
    assert "Keys and pads (C3, middle C, is note 60)" in said
    shown = ("C3 (60)", "D3 (62)", "E3 (64", "F3 (65)", "G3..A#3 (67..70)", "- C3 (60): does release_all")
    for name in shown:
        assert name in said
    assert "C4" not in said
    assert "C4 (60)" in "\n".join(explain(BOATHOUSE, read("C4")))


def test_notices_speak_as_the_file_does() -> None:
    """A note that no rule hears, and the keys there are, have the file's names."""
    engine = Engine(BOATHOUSE, read("C3"))
    engine.advance([NoteOn(0.0, "p", 1, 72, 100)], 0.1)
    first, second = unheard_lines(engine)[:2]
    assert first == "no rule hears C4 (72)"
    assert second.startswith("the keys of this mapping are C3 (60) to E3 (64): set the keyboard an octave d")
    assert "or say middle_c: C4" in second


def test_the_page_speaks_as_the_file_does() -> None:
    """The keys and pads of the page and the list of what arrived have the file's names."""
    facts = mapping_facts(read("C3"), BOATHOUSE)
    assert facts["middle"] == 3
    assert [key["says"] for key in facts["keys"]] == ["C3", "D3", "E3"]
    assert {disc["says"] for disc in facts["discs"]} == {"F3", "C3"}
    assert mapping_facts(read("C4"), BOATHOUSE)["middle"] == 4
    assert event_line(NoteOn(0.0, "p", 1, 60, 9), True, "C3")["what"] == "C3 (60) at 9"


def test_the_chart_speaks_as_the_file_does() -> None:
    """The two charts of the same keys differ in their names alone, below the keys and in the head."""
    keys = "keys: [{notes: [60, 62], lamps: [door, west.red]}]"
    both = [mapping_from_text(f"middle_c: {name}\n{keys}", BOATHOUSE)[0] for name in ("C3", "C4")]
    one, other = (np.asarray(keyboard_picture(BOATHOUSE, mapping)) for mapping in both)
    rows = np.unique(np.nonzero((one != other).any(axis=2))[0])
    first, last = 92 + 34 + 8, 92 + 34 + 8 + 248
    assert len(rows[rows < 92]) > 3
    assert len(rows[rows >= last]) > 3
    assert not ((rows >= first) & (rows < last)).any()


def test_pads_speak_as_the_file_does() -> None:
    """On a pad the name of its note stands in the first lines, and nothing else differs."""
    pads = "feels: {f: {decay_ms: 100}}\nkeys: [{notes: 64, lamps: left, mode: shot, feel: f}]"
    both = [mapping_from_text(f"middle_c: {name}\n{pads}", BOATHOUSE)[0] for name in ("C3", "C4")]
    one, other = (np.asarray(keyboard_picture(BOATHOUSE, mapping)) for mapping in both)
    rows = np.unique(np.nonzero((one != other).any(axis=2))[0])
    assert len(rows[rows > 92]) > 3
    assert rows.max() < 92 + 34 + 8 + 27


def headed(folder: Path, middle_c: str) -> Path:
    """A take of a few notes, whose mapping names middle C so."""
    path = record(folder / f"{middle_c}.take", [ListFeed(song())], 64)
    with Take(path) as take:
        header: TakeHeader = replace(take.header, mapping=f"middle_c: {middle_c}\n")
        recorder = Recorder(folder / f"named {middle_c}.take", header)
        for number, _, _, frame in take.frames():
            events = [event for k, _, event in take.events() if k == number]
            recorder.tap(Beat(number, 0.0), frame, events)
        recorder.close()
    return recorder.path


def test_takes_speak_as_their_mapping_does(tmp_path: Path) -> None:
    """What is said of a take, and its chart, name notes as the mapping it was played with."""
    paths = [headed(tmp_path, name) for name in ("C3", "C4")]
    said, pictures = [], []
    for path in paths:
        with Take(path) as take:
            said.append(next(line for line in info(take) if line.startswith("notes:")))
            export_png(take, RIG, path.with_suffix(".png"), "one title")
        with Image.open(path.with_suffix(".png")) as picture:
            pictures.append(np.asarray(picture.convert("RGB")))
    assert "from C3 to E3 " in said[0]
    assert "from C4 to E4 " in said[1]
    columns = np.nonzero((pictures[0] != pictures[1]).any(axis=2))[1]
    assert len(columns) > 3
    assert columns.max() < pictures[0].shape[1] - 1400


@pytest.mark.parametrize(
    ("text", "called"),
    [("", "C4"), (FULL, "C3"), ("middle_c: C3\nkeys: [", "C4"), ("middle_c: C3\nkeys: 7\n", "C3")],
)
def test_a_text_says_what_it_calls_middle_c(text: str, called: str) -> None:
    """Whatever else is wrong with it; C4 where nothing can be told."""
    assert middle_c_of(text) == called


@given(st.text())
def test_any_text_names_middle_c(text: str) -> None:
    """The text of a take's mapping may be anything, and there is a name for middle C."""
    assert middle_c_of(text).startswith("C")
