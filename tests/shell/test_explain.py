# ruff: noqa: E501 - a mapping, and a row of a table, stay on their lines
"""What `check` says of a mapping: every key, control and chord with its lamps and slots, and what is odd."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.shell.explain import explain, table
from bridge.shell.explain_chords import never_drawn
from bridge.shell.explain_words import LampWords, note_words, ranges
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.errors import FileError
from bridge.values.events import NoteOff, NoteOn
from bridge.values.mapping import Mapping
from tests.shell.files.cases import FULL, boathouse
from tests.shell.files.random_mappings import mapping_text

RIG = boathouse()
WORDS = LampWords(RIG)


def read(text: str) -> Mapping:
    """A mapping for the boathouse."""
    return mapping_from_text(text, RIG)[0]


def said(text: str) -> list[str]:
    """What is said of a mapping, blanks joined."""
    lines = "\n".join(explain(RIG, read(text))).split("\n")
    return [re.sub(r" {2,}", " | ", line.strip()) for line in lines if line.strip()]


def rows_of(text: str) -> list[str]:
    """The rows of the first table."""
    lines = said(text)
    end = next(
        (n for n, line in enumerate(lines) if line in ("Reach", "Controls", "Played by several rules")), None
    )
    return lines[2:end]


def test_keys_by_hand() -> None:
    """One row a stretch: the organ's 24 keys are one, white keys are called so, a group has its name."""
    assert rows_of(
        "keys:\n- {notes: C3..B4, lamps: roof}\n- {notes: white C2..E2, lamps: west, feel: a}\n"
        "- {notes: C5, lamps: left, mode: latch, velocity: 1..60, channel: 3}\nfeels: {a: {}}\n"
    ) == [
        "C3..B4 (48..71) | any input | roof, one each (24 lamps) | 1..24 | hold, 0 to 1 | 2",
        "white C2..E2 (36..40) | any input | west, one each (3 lamps) | 25..27 | hold, a, 0 to 1 | 3",
        "C5 (72) | any input, channel 3 | left (12 lamps) | 1..3, 7..9, 13..15, 19..21 | latch, 0 to 1, velocity 1..60 | 4",
    ]


@pytest.mark.parametrize(
    ("rule", "wanted"),
    [
        ("notes: C4, lamps: door", ["C4 (60) | any input | door | 40 | hold, 0 to 1 | 1"]),
        # Column by column: four keys whose slots run by six, then the next column.
        ("notes: C4..G4, lamps: left", [
            "C4..D#4 (60..63) | any input | roof.1, one each (4 lamps) | 1, 7 … 19 | hold, 0 to 1 | 1",
            "E4..G4 (64..67) | any input | roof.2, one each (4 lamps) | 2, 8 … 20 | hold, 0 to 1 | 1"]),
        ("notes: C4..E4, lamps: west, spread: wrap", [
            "C4..D4 (60..62) | any input | west, one each (3 lamps) | 25..27 | hold, 0 to 1 | 1",
            "D#4..E4 (63..64) | any input | west.red, west.amber | 25..26 | hold, 0 to 1 | 1"]),
        ("notes: [C4, E4], lamps: [door, roof.1.1]", [
            "C4 (60) | any input | door | 40 | hold, 0 to 1 | 1", "E4 (64) | any input | roof.1.1 | 1 | hold, 0 to 1 | 1"]),
        ("notes: [C4, E4], lamps: west, spread: together", ["C4 (60), E4 (64) | any input | west (3 lamps) | 25..27 | hold, 0 to 1 | 1"]),
        ("notes: [42, 46], channel: 10, lamps: door", [
            "F#2 (42, Closed Hi-Hat), A#2 (46, | any input, channel 10 | door | 40 | hold, 0 to 1 | 1", "Open Hi-Hat)"]),
    ],
)  # fmt: skip
def test_stretches_of_keys(rule: str, wanted: list[str]) -> None:
    """Keys share a row where their slots run evenly, or where they light the same lamps; pads have drum names."""
    assert rows_of(f"keys: [{{{rule}}}]") == wanted


@given(st.lists(st.integers(0, 127), min_size=1, max_size=40))
def test_no_note_is_left_out(notes: list[int]) -> None:
    """Short or long, what is said of notes names its ends, and up to four stretches name them all."""
    words = note_words(notes, "C4")
    numbers = [
        int(number) for number in re.findall(r"\((\d+)|\.\.(\d+)\)", words) for number in number if number
    ]
    assert set(numbers) <= set(notes)
    if "more" not in words:
        assert {min(notes), max(notes)} <= set(numbers)


@given(st.sets(st.integers(0, 60), max_size=30))
def test_ranges_say_every_number_once(numbers: set[int]) -> None:
    """Read back, the ranges are the numbers they were made of."""
    text = ranges(numbers)
    if "more" in text:
        return
    back = [
        value
        for piece in filter(None, text.split(", "))
        for value in (range(int(piece.split("..")[0]), int(piece.split("..")[-1]) + 1))
    ]
    assert back == sorted(numbers)


def test_controls_and_chords_by_hand() -> None:
    """The full example: units are those of the file, programs count from one, shapes say what they draw."""
    lines = said(FULL)
    for wanted in (
        "control 0 | box | master of all, 0 to 1 | 24",
        "control 1 with 33 (14 bits) | box | level, 0.1 to 0.9, by takeover | left (12 lamps): 1..3, 7..9, | 25",
        "control 22 | box | attack of bell, 0 ms to 500 ms | 26",
        "control 24 | box | decay of every feel, 0 ms to 2000 | 28",
        "pitch wheel | any input, channel 3 | master, 0 to 1 | right (12 lamps): 4..6, 10..12, | 32",
        "nrpn 1300 | any input | release of every feel, 0 ms to | 35",
        "program 2 | any input | no look | 37",
        "G#2 (56), G3 (67) | kit | blackout, press and press again | 38",
        "Chords (judged when the keys have been still for 30 ms)",
        "sunrise | any input | left (12 lamps) | 1..3, 7..9, 13..15, 19..21 | 45",
        "5 | any input | chase through roof (24 lamps), 0.5 | 1..24 | 57",
    ):
        assert wanted in lines, wanted


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("keys: [{notes: C3..B4, lamps: roof}]",
         ["- nothing lights west, door (4 lamps): slots 25..27, 40"]),
        ("keys: [{notes: C3..B4, lamps: roof}]\nlooks: {a: {west: 0.2, door: 0}}\ncontrols: [{notes: 1, does: look, look: a}]",
         ["- only looks and levels light west (3 lamps): slots 25..27", "- nothing lights door: slots 40"]),
        ("keys: [{notes: C3..B4, lamps: roof}]\nchords: {shapes: [{chord: major, levels: {west: 0.5, door: 1}}]}",
         ["- every lamp has a key, a pad, a chord or a texture"]),
        # A shape that moves comes over its whole grid.
        ("chords: {shapes: [{chord: major, draw: ['*'], move: root}]}",
         ["- nothing lights west, door (4 lamps): slots 25..27, 40"]),
    ],
)  # fmt: skip
def test_what_no_key_reaches(text: str, wanted: list[str]) -> None:
    """Lamps without a key, pad or chord are named with their slots, and so is what else would light them."""
    lines = said(text)
    begin = lines.index("Reach") + 1
    assert lines[begin : begin + len(wanted)] == wanted
    assert len(lines) == begin + len(wanted)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("keys:\n- {notes: C4..E4, lamps: west, spread: together}\n- {notes: C4, lamps: door}\n",
         ["- C4 (60): the rules on lines 2, 3 all answer"]),
        # Windows that do not meet, other channels and other inputs are no conflict.
        ("keys:\n- {notes: C4, lamps: west.red, velocity: 1..60}\n- {notes: C4, lamps: door, velocity: 61..127}\n", []),
        ("keys:\n- {notes: C4, lamps: west.red, channel: 1}\n- {notes: C4, lamps: door, channel: 2}\n", []),
        ("inputs: {a: x, b: y}\nkeys:\n- {notes: C4, lamps: west.red, from: a}\n- {notes: C4, lamps: door, from: b}\n", []),
        ("inputs: {a: x}\nkeys:\n- {notes: C4, lamps: west.red, from: a}\n- {notes: C4, lamps: door}\n",
         ["- C4 (60): the rules on lines 3, 4 all answer"]),
        ("keys:\n- {notes: C4..E4, lamps: door}\ncontrols:\n- {notes: [D4, F4], does: blackout}\n",
         ["- D4 (62): does blackout (line 4) and plays lamps (line 2)"]),
        ("keys:\n- {notes: C4, lamps: door}\n- {notes: D4, lamps: [door, west.red]}\n",
         ["- door: the highest level of the rules on lines 2, 3 shows"]),
        ("merge: latest\nkeys:\n- {notes: C4, lamps: door}\n- {notes: D4, lamps: door}\n",
         ["- door: lines 3, 4; the rule struck last shows"]),
        ("keys:\n- {notes: C4, lamps: door}\n- {notes: D4, lamps: door, merge: latest}\n- {notes: E4, lamps: door, solo: true}\n",
         ["- door: lines 2, 3, 4; the highest level shows, but a strike of line 3 replaces what was struck", "before it (a solo rule puts the others out)"]),
    ],
)  # fmt: skip
def test_what_several_rules_play(text: str, wanted: list[str]) -> None:
    """Keys that several rules hear, keys that also do something, lamps of several rules and which of them shows."""
    lines = said(text)
    found = lines[lines.index("Played by several rules") + 1 :] if "Played by several rules" in lines else []
    assert found == wanted


SHAPES = [
    ("{chord: major, lamps: door}, {chord: minor, lamps: west}", []),
    ("{chord: major, lamps: door}, {chord: maj, lamps: west}", ["line 1: maj can never be drawn: major on line 1 has the same notes and comes first; take one of them out"]),
    ("{chord: major, lamps: door}, {chord: [0, 4, 7], lamps: west, exact: true}", ["line 1: [0, 4, 7] can never be drawn: major on line 1 has the same notes and comes first; take one of them out"]),
    ("{chord: major, lamps: door}, {chord: major, lamps: west, inversion: first}", ["line 1: major can never be drawn: major on line 1 has the same notes and comes first; put it before that one, or ask for an inversion"]),
    # Sharper first, and both are drawn.
    ("{chord: major, lamps: door, exact: true}, {chord: major, lamps: west}", []),
    ("{chord: major, lamps: door, inversion: first}, {chord: major, lamps: west}", []),
    # The bass decides between m7 and 6, sus2 and sus4: neither hides the other.
    ("{chord: m7, lamps: door}, {chord: '6', lamps: west}", []),
    ("{chord: sus4, lamps: door}, {chord: sus2, lamps: west}", []),
    # C6 with the third lowest has no root of either lowest: the first of the file answers.
    ("{chord: m7, lamps: door}, {chord: '6', lamps: west, inversion: first}", ["line 1: 6 can never be drawn: m7 on line 1 has the same notes and comes first; put it before that one, or ask for an inversion"]),
    ("{chord: major, lamps: door, channel: 1}, {chord: major, lamps: west, channel: 2}", []),
    ("{chord: 7, lamps: door}, {chord: major, lamps: west}", []),
    ("{chord: augmented, lamps: door}, {chord: [0, 4, 8], lamps: west, inversion: second}", ["line 1: [0, 4, 8] can never be drawn: augmented on line 1 has the same notes and comes first; put it before that one, or ask for an inversion"]),
]  # fmt: skip


@pytest.mark.parametrize(("shapes", "wanted"), SHAPES)
def test_shapes_that_are_never_drawn(shapes: str, wanted: list[str]) -> None:
    """A shape that another always takes the notes of is named, with the one that answers and what would help."""
    assert list(never_drawn(read(f"chords: {{shapes: [{shapes}]}}"))) == wanted


@pytest.mark.parametrize(("shapes", "wanted"), SHAPES)
def test_the_engine_agrees_on_what_is_never_drawn(shapes: str, wanted: list[str]) -> None:
    """Played in every inversion, with and without another note, the second shape lights just if it is not named."""
    mapping = read(f"chords: {{shapes: [{shapes}]}}")
    mine = {lamp for lamp, _ in mapping.chords[1].picture}
    engine, t, seen = Engine(RIG, mapping), 0.0, False
    for channel in (1, 2):
        stack = sorted({interval % 12 for interval in mapping.chords[1].intervals})
        for inversion in range(len(stack)):
            for extra in (None, *range(12)):
                notes = [60 + (tone if n >= inversion else tone + 12) for n, tone in enumerate(stack)]
                notes += [] if extra is None else [84 + extra]
                engine.advance([NoteOn(t, "p", channel, note, 127) for note in notes], t)
                slots = engine.advance([], t + 0.1).universe(1)
                lit = {lamp.index for lamp in RIG.lamps if slots[lamp.slot - 1] and not lamp.rest}
                seen = seen or bool(lit & mine)
                engine.advance([NoteOff(t + 0.2, "p", channel, note) for note in notes], t + 0.2)
                t += 1.0
    assert seen == (not wanted)


def test_slots_name_the_universe_where_there_are_several() -> None:
    """With two universes every slot says which it is on; 16-bit lamps name both their slots."""
    rig, _ = rig_from_text("lamps: [{name: a, slot: 1}, {name: b, slot: 7, universe: 2, bits: 16}]")
    mapping, _ = mapping_from_text(
        "keys: [{notes: [60, 61], lamps: [a, b]}, {notes: 62, lamps: all, spread: together}]", rig
    )
    text = "\n".join(explain(rig, mapping))
    assert "universe 1: 1 " in text
    assert "universe 2: 7+8 " in text
    assert "universe 1: 1; universe 2: 7..8" in text


def test_cells_wrap_and_line_up() -> None:
    """A long cell goes on below itself, and each column begins where its head does."""
    head, *rest = table(("key", "lamps"), [("C4", "a " * 30), ("D4", "b")])
    assert head.startswith("  key  lamps")
    assert rest[0].startswith("  C4   a a")
    assert rest[1].startswith("       a a")
    assert rest[-1] == "  D4   b"


def test_any_mapping_is_explained() -> None:
    """Whatever loads is explained without a stumble, and no line is wider than a wide terminal."""
    explained = 0
    for seed in range(200):
        try:
            mapping = read(mapping_text(seed, 0.0))
        except FileError:
            continue
        lines = list(explain(RIG, mapping))
        assert all(len(line) < 220 for line in lines)
        explained += bool(lines)
    assert explained > 20


def test_five_hundred_rules_are_explained_soon() -> None:
    """A mapping of 500 rules over the boathouse has a row for each, and names the lamps they share."""
    rules = "".join(
        f"  - {{notes: {n % 128}, lamps: [roof.{n % 6 + 1}.{n % 4 + 1}, door], channel: {n % 16 + 1}}}\n"
        for n in range(500)
    )
    lines = list(explain(RIG, read(f"keys:\n{rules}")))
    assert sum(line.rstrip().endswith(tuple(str(n) for n in range(2, 502))) for line in lines) >= 500
    assert any("Played by several" in line for line in lines)
