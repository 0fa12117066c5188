"""Law 6 at length: thousands of files made from the schema are each a mapping that plays or one clear error.

2,000 of them in every run; 10,000 (issue 3) where LAMPWRIGHT_LONG is set.
"""

from __future__ import annotations

import os
from collections import Counter

import pytest
from jsonschema import Draft202012Validator

from bridge.core.engine import Engine
from bridge.shell.files import mapping_from_text
from bridge.shell.files.nodes import plain
from bridge.shell.files.report import Report
from bridge.shell.files.tree import parse
from bridge.values.errors import FileError
from bridge.values.events import ChannelPressure, Control, Event, NoteOff, NoteOn
from bridge.values.mapping import Mapping
from tests.shell.files.cases import boathouse
from tests.shell.files.random_mappings import SCHEMA, Maker, mapping_text

RIG = boathouse()
COUNT = 10_000 if os.environ.get("LAMPWRIGHT_LONG") else 2_000
PIECES = 8
CHORD = (48, 52, 55, 58)


def play(mapping: Mapping) -> None:
    """A chord, a pad, two controllers and pressure, let go again: whatever is read can be played."""
    engine = Engine(RIG, mapping)
    begin: list[Event] = [NoteOn(0.0, "a piano", 1, note, 100) for note in (*CHORD, 36, 60)]
    begin += [Control(0.01, "a kit", 1, number, 90) for number in (0, 7)]
    end: list[Event] = [ChannelPressure(0.1, "a piano", 1, 100)]
    end += [NoteOff(0.2, "a piano", 1, note) for note in (*CHORD, 36, 60)]
    engine.advance(begin, 0.05)
    engine.advance(end, 0.25)
    engine.advance([], 2.0)


@pytest.mark.parametrize("piece", range(PIECES))
def test_loaded_or_one_clear_error(piece: int) -> None:
    """Each file is a mapping that plays, or one FileError whose problems have places and remedies."""
    count: Counter[str] = Counter()
    for seed in range(piece, COUNT, PIECES):
        text = mapping_text(seed)
        try:
            mapping, _ = mapping_from_text(text, RIG, "a.yaml")
        except FileError as error:
            lines = text.count("\n") + 1
            for problem in error.problems:
                assert problem.what, seed
                assert problem.right, (seed, problem)
                assert problem.file == "a.yaml"
                assert 1 <= problem.line <= lines, (seed, problem)
                assert problem.column >= 1, (seed, problem)
            count["refused"] += 1
            continue
        play(mapping)
        count["loaded"] += 1
    # Neither all right nor all wrong, or this would test only half of what it says.
    assert min(count["loaded"], count["refused"]) > COUNT / PIECES * 0.15, count


def test_the_maker_keeps_to_the_schema() -> None:
    """With no slips put in, most of what is made fits the schema: it is the schema that is being walked."""
    validator = Draft202012Validator(SCHEMA)
    fitting = sum(validator.is_valid(Maker(seed, 0.0).file()) for seed in range(200))
    assert fitting > 150


def test_what_loads_fits_the_schema() -> None:
    """No editor cries wolf: a file that reading accepts is accepted by the schema, too."""
    validator, checked = Draft202012Validator(SCHEMA), 0
    for seed in range(400):
        text = mapping_text(seed, 0.01)
        try:
            mapping_from_text(text, RIG)
        except FileError:
            continue
        tree = parse(text, Report("a"))
        assert tree is not None
        assert [error.message for error in validator.iter_errors(plain(tree))] == [], seed
        checked += 1
    assert checked > 20
