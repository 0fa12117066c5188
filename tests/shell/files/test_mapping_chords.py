# ruff: noqa: E501 - a row of a table is one line
"""Chords and what they draw, as a mapping writes them; each mistake in its place."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.parts.chords import QUALITIES, known_qualities
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.mapping import ChordRule, Feel
from tests.reference_rows import rows
from tests.shell.files.cases import FULL, agree, boathouse, case, mapping_told, told

RIG = boathouse()
LEFT = (0, 6, 12, 18, 1, 7, 13, 19, 2, 8, 14, 20)
RIGHT = (3, 9, 15, 21, 4, 10, 16, 22, 5, 11, 17, 23)
CELLS = tuple(tuple(range(row, row + 6)) for row in (0, 6, 12, 18))
CURVE = ((10.0, 0.05), (64.0, 0.4), (110.0, 1.0))
USUAL = ChordRule((), cells=CELLS, curve=CURVE, feel=Feel(0.02, 0.0, 1.0, 0.15), feel_name="organ")


def of(written: str) -> ChordRule:
    """The one shape of a mapping, without its place."""
    mapping, warnings = mapping_from_text(f"chords: {{shapes: [{{{written}}}]}}", RIG)
    assert warnings == []
    return replace(mapping.chords[0], line=0)


def test_every_word_of_a_shape_by_hand() -> None:
    """The shapes of the full example: intervals, pictures, grids, times, keys and places in the file."""
    mapping, _ = mapping_from_text(FULL, RIG)
    assert mapping.window == 0.03
    assert mapping.chords == (
        replace(USUAL, intervals=(0, 4, 7), picture=tuple((lamp, 1.0) for lamp in LEFT), name="sunrise", line=45),
        replace(USUAL, intervals=(0, 3, 7, 10), picture=(*((lamp, 0.5) for lamp in sorted(RIGHT)), (27, 1.0)),
                inversion="first", exact=True, source="piano", name="m7", line=46),
        # Drawn from the top down: the row `.*..*.` is the fourth from below, 18 to 23; `*1..9*` the third.
        replace(USUAL, intervals=(0, 5, 7), move="bass", turn=True, then="next", name="[0, 5, 7]", line=47,
                picture=((19, 1.0), (22, 1.0), (12, 1.0), (13, 0.1), (16, 0.9), (17, 1.0))),
        replace(USUAL, intervals=(0, 4, 7, 10, 14), picture=((20, 1.0), (21, 1.0), (13, 0.1), (14, 0.2), (15, 0.3)),
                move="root", curve="soft", between=(0.2, 0.8), channel=1, name="dominant 9", line=55),
        replace(USUAL, intervals=(0, 3, 6, 10), chase=tuple(range(24)), step=0.09, then="stay",
                notes=frozenset(range(36, 60)), takes_keys=True, name="half-diminished 7th", line=56),
        replace(USUAL, intervals=(0, 7), chase=(*LEFT, *RIGHT), step=0.5, in_beats=True, name="5", line=57),
    )  # fmt: skip


def test_what_is_not_given() -> None:
    """A chord with lamps sounds on any key, releases with the chord, at once, and waits 20 ms for stragglers."""
    mapping, _ = mapping_from_text("chords: {shapes: [{chord: major, lamps: door}]}", RIG)
    assert mapping.window == 0.02
    assert mapping.chords == (ChordRule((0, 4, 7), ((27, 1.0),), cells=CELLS, name="major", line=1),)
    assert (mapping.chords[0].then, mapping.chords[0].inversion, mapping.chords[0].notes) == (
        "release",
        "any",
        frozenset(),
    )


@pytest.mark.parametrize("row", rows("chords.csv"), ids=lambda row: row["symbol"])
def test_published_symbols_and_intervals_agree(row: dict[str, str]) -> None:
    """Standard construction (chords.csv): symbol, our name and its pitch classes in a list are one chord."""
    classes = {int(tone) for tone in row["pitch_classes_root_0"].split()}
    by_symbol = of(f"chord: '{row['symbol']}', lamps: door").intervals
    assert {interval % 12 for interval in by_symbol} == classes
    name = next(name for name, intervals in QUALITIES.items() if intervals == by_symbol)
    assert of(f"chord: {name}, lamps: door").intervals == by_symbol
    listed = of(f"chord: {sorted(classes)}, lamps: door").intervals
    assert {interval % 12 for interval in listed} == classes


@pytest.mark.parametrize("word", known_qualities())
def test_every_word_for_a_chord_can_be_written_bare(word: str) -> None:
    """No chord needs quotes, not even those that look like numbers (5, 6, 7, 9) or hold a # or a +."""
    assert of(f"chord: {word}, lamps: door").intervals in QUALITIES.values()


SHAPES = [
    ("chord: [0, 16, 7, 4], lamps: door", {"intervals": (0, 4, 7, 16), "name": "[0, 4, 7, 16]"}),
    ("chord: major, draw: ['*']", {"picture": ((18, 1.0),)}),
    ("chord: major, draw: '.*'", {"picture": ((19, 1.0),)}),
    ("chord: major, draw: [*****1, 000000, ......, '     9']".replace("*****1", "'*****1'"),
     {"picture": (*((lamp, 1.0) for lamp in range(18, 23)), (23, 0.1), (5, 0.9))}),
    ("chord: major, draw: ['..', '*'], over: roof", {"picture": ((12, 1.0),)}),
    ("chord: major, levels: {left: 0.5, roof.1: 1}", {"picture": tuple(sorted((lamp, 1.0 if lamp in (0, 6, 12, 18) else 0.5) for lamp in LEFT))}),
    ("chord: major, levels: {'*.red': 0.25}", {"picture": ((24, 0.25),)}),
    ("chord: major, chase: [door, roof.1.1]", {"chase": (27, 0), "step": 0.125}),
    ("chord: major, chase: door, step_ms: 10", {"chase": (27,), "step": 0.01}),
    ("chord: major, chase: door, step_beats: 0.25", {"chase": (27,), "step": 0.25, "in_beats": True}),
    ("chord: major, lamps: door, inversion: second", {"picture": ((27, 1.0),), "inversion": "second"}),
    ("chord: 9, lamps: door, inversion: fourth", {"intervals": (0, 4, 7, 10, 14), "picture": ((27, 1.0),), "inversion": "fourth", "name": "9"}),
    ("chord: major, lamps: door, move: root, over: roof", {"picture": ((27, 1.0),), "move": "root"}),
    ("chord: major, lamps: door, name: 1", {"picture": ((27, 1.0),), "name": "1"}),
]  # fmt: skip


@pytest.mark.parametrize(("written", "changes"), SHAPES)
def test_a_shape(written: str, changes: dict[str, object]) -> None:
    """Drawings from the upper left, levels where a later mention wins, chases with their steps."""
    plain = ChordRule((0, 4, 7), cells=CELLS, name="major")
    if "door" in written and "picture" not in changes and "chase" not in changes:
        plain = replace(plain, picture=((27, 1.0),))
    assert of(written) == replace(plain, **changes)  # type: ignore[arg-type]


def test_a_drawing_may_be_a_block_of_text() -> None:
    """Rows in a block (|) draw what the same rows in a list draw."""
    block = mapping_from_text(
        "chords:\n  shapes:\n    - chord: major\n      draw: |\n        .*....\n        ..5...\n", RIG
    )
    rows_of = mapping_from_text(
        "chords: {shapes: [{chord: major, draw: [.*...., ..5...]}]}".replace(".*....", "'.*....'"), RIG
    )
    assert block[0].chords[0].picture == rows_of[0].chords[0].picture == ((19, 1.0), (14, 0.5))


GRIDS = rig_from_text(
    "lamp_types: {t: {parts: {red: {slot: 0}, green: {slot: 1}}}}\n"
    "grids: [{name: a, columns: 2, rows: 1, slot: 1}, {name: b, columns: 3, rows: 2, slot: 10, type: t, skip: [[1, 1]]}]"
)[0]


def test_a_drawing_lies_over_the_grid_it_names() -> None:
    """The first grid unless another is named; a grid of heads is drawn on by the part; gaps stay gaps."""
    text = "chords: {shapes: [{chord: major, draw: ['*'], over: %s}, {chord: minor, draw: [***, '**']}]}"
    mapping, _ = mapping_from_text(text.replace("[***, '**']", "['**']") % "b.*.*.green", GRIDS)
    names = [lamp.name for lamp in GRIDS.lamps]
    assert [names[lamp] for lamp, _ in mapping.chords[0].picture] == ["b.1.2.green"]
    assert [names[lamp] for lamp, _ in mapping.chords[1].picture] == ["a.1.1", "a.2.1"]
    gap, _ = mapping_from_text(
        "chords: {shapes: [{chord: major, draw: ['...', '**.'], over: 'b.*.*.red'}]}", GRIDS
    )
    assert [names[lamp] for lamp, _ in gap.chords[0].picture] == ["b.2.1.red"]


KNOWN = "known: all, roof, west, left, right, reds, door"
NAMED = ", ".join(QUALITIES)


def shape(text: str) -> str:
    """A mapping of one shape with these keys; ! marks the entry."""
    return f"chords: {{shapes: [{{{text}}}]}}".replace("[{!", "[¶{")


CHORDS = [
    case(shape("chord: ¶mino, lamps: door"), f"unknown chord 'mino'; did you mean 'minor'? known: {NAMED}; or intervals like [0, 3, 7]"),
    case(shape("chord: ¶majr 7, lamps: ¶dor"), f"unknown chord 'majr 7'; did you mean 'major 7'? known: {NAMED}; or intervals like [0, 3, 7]", f"no lamp or group is called 'dor'; did you mean 'door'? {KNOWN}"),
    case(shape("chord: ¶C major, lamps: door"), "unknown chord 'C major'; a chord sounds on any root: say major"),
    case(shape("chord: ¶F#m7, lamps: door"), "unknown chord 'F#m7'; a chord sounds on any root: say m7"),
    case(shape("chord: ¶Bb, lamps: door"), "unknown chord 'Bb'; a chord sounds on any root: say major"),
    case(shape("chord: ¶[3, 7], lamps: door"), "chord has no root; count semitones up from the root, which is 0, like [0, 3, 7]"),
    case(shape("chord: ¶[], lamps: door"), "chord has no root; count semitones up from the root, which is 0, like [0, 3, 7]"),
    case(shape("chord: ¶[0, 12], lamps: door"), "chord is one note only; give a second that is no octave of it, like [0, 7]"),
    case(shape("chord: [0, ¶49, ¶-1, ¶x], lamps: door"), "chord 49 is out of range; give a whole number from 0 to 48", "chord -1 is out of range; give a whole number from 0 to 48", "chord is the text 'x'; give a whole number from 0 to 48"),
    case(shape("chord: ¶{}, lamps: door"), "chord is a table of keys and values; give major, minor 7, or [0, 3, 7]"),
    case(shape("chord: ¶, lamps: door"), "chord is nothing; give major, minor 7, or [0, 3, 7]"),
    case(shape("!lamps: door"), "a shape has no key 'chord'; write chord: …"),
    case(shape("chord: major, lamps: door, inversion: ¶third"), "a chord of 3 notes has no third inversion; give any, root, first, second"),
    case(shape("chord: [0, 7, 19], lamps: door, inversion: ¶second"), "a chord of 2 notes has no second inversion; give any, root, first"),
    case(shape("chord: major, lamps: door, inversion: ¶1"), "unknown inversion '1'; known: any, root, first, second, third, fourth"),
    case(shape("chord: major, lamps: door, exact: ¶1"), "exact is 1; give true or false"),
    case(shape("chord: major, lamps: door, ¶root: C"), "unknown key 'root'; a chord sounds on any root; notes: says which keys count"),
    case(shape("chord: major, lamps: door, notes: ¶X"), "'X' is not a note; …"),
    case(shape("chord: major, lamps: door, from: ¶pino"), "unknown input 'pino'; none is defined in this file"),
    case(shape("chord: major, lamps: door, channel: ¶17"), "channel 17 is out of range; give a whole number from 1 to 16"),
    case(shape("chord: major, lamps: door, feel: ¶bel"), "unknown feel 'bel'; none is defined in this file"),
    case(shape("chord: major, lamps: door, curve: ¶sof"), "unknown curve 'sof'; did you mean 'soft'? known: linear, square, cie, soft, hard, full"),
    case(shape("chord: major, lamps: door, between: ¶[1, 0]"), "between 1 to 0 runs down; give [low, high], the smaller first"),
    case(shape("chord: major, lamps: door, takes_keys: ¶no"), "takes_keys is the text 'no'; give true or false"),
    case(shape("chord: major, lamps: door, ¶velocity: 1..5"), "unknown key 'velocity'; a chord plays at the highest of its velocities; leave it out"),
    case(shape("chord: major, lamps: door, ¶mode: latch"), "unknown key 'mode'; say then: stay for a shape that stays until the same chord again"),
    case(shape("chord: major, lamps: door, then: ¶relase"), "unknown word for then: 'relase'; did you mean 'release'? known: release, stay, next"),
    case(shape("chord: major, lamps: door, name: ¶''"), "a name is empty; give a name"),
]  # fmt: skip

DRAWN = [
    case(shape("!chord: major"), "a shape draws nothing; give one of lamps, levels, draw, chase, texture"),
    case(shape("!chord: major, lamps: door, draw: ['*']"), "a shape has both lamps and draw; give one of lamps, levels, draw, chase, texture"),
    case(shape("!chord: major, levels: {door: 1}, chase: left"), "a shape has both levels and chase; give one of lamps, levels, draw, chase, texture"),
    case(shape("chord: major, levels: {¶lft: 0.5, door: ¶2}"), f"no lamp or group is called 'lft'; did you mean 'left'? {KNOWN}", "door: 2 is out of range; give a number from 0 to 1"),
    case(shape("chord: major, levels: ¶{}"), "a shape holds an empty table; write {lamp or group: level}"),
    case(shape("chord: major, levels: ¶5"), "levels is 5; give keys and values, {key: value}"),
    case(shape("chord: major, draw: [¶x.*]"), "draw has 'x' in the row 'x.*'; draw with . (dark), * (full) and 1 to 9 (tenths)"),
    case("chords:\n  shapes:\n  - chord: major\n    draw: |\n      .*.*\n¶      .xo*\n", "draw has 'ox' in the row '.xo*'; draw with . (dark), * (full) and 1 to 9 (tenths)"),
    case(shape("chord: major, draw: ¶[]"), "draw is an empty list; give at least one row"),
    case(shape("chord: major, draw: [¶[1]]"), "draw is a list; give rows in quotes, like '.**.'"),
    case(shape("chord: major, draw: ['*', '*', '*', '*', ¶'**', ¶'.']"), "a row more than the grid has: '**'; grid roof has 4 rows of 6", "a row more than the grid has: '.'; grid roof has 4 rows of 6"),
    case(shape("chord: major, draw: ['*', ¶'*******']"), "7 places in the row '*******'; grid roof has 4 rows of 6"),
    case(shape("chord: major, draw: ['*'], over: ¶rof"), "unknown grid 'rof'; did you mean 'roof'? known: roof"),
    case(shape("chord: major, draw: ['*'], over: ¶left"), "unknown grid 'left'; known: roof"),
    case(shape("chord: major, chase: ¶rof"), f"no lamp or group is called 'rof'; did you mean 'roof'? {KNOWN}"),
    case(shape("chord: major, chase: roof, step_ms: ¶5"), "step_ms 5 is out of range; give a number from 10 to 600000"),
    case(shape("chord: major, chase: roof, step_beats: ¶0"), "step_beats 0 is out of range; give a number from 0.01 to 64"),
    case(shape("chord: major, chase: roof, step_ms: 100, ¶step_beats: 1"), "both step_ms and step_beats; give one"),
    case(shape("chord: major, lamps: door, step_ms: ¶100"), "step_ms without a chase; give chase: lamps"),
    case(shape("chord: major, lamps: door, move: ¶rot"), "unknown word for move: 'rot'; did you mean 'root'? known: root, bass"),
    case(shape("chord: major, lamps: door, turn: ¶inversion"), "turn is the text 'inversion'; give true or false"),
    case(shape("chord: major, lamps: door, ¶grid: roof"), "unknown key 'grid'; say over: and the name of a grid"),
    case(shape("chord: major, draw: ¶[......]"), "warning: a drawing without a light; draw with * or 1 to 9"),
    case(shape("chord: major, lamps: door, over: ¶roof"), "warning: over says where a shape is drawn, moves and turns, and this one does neither; take it out, or give draw, move or turn"),
]  # fmt: skip

SECTION = [
    case("chords: ¶[]", "'chords' holds a list; write 'shapes:' under it, and its entries below that"),
    case("chords: ¶major", "'chords' holds the text 'major'; write 'shapes:' under it, and its entries below that"),
    case("chords: {¶window: 20}", "unknown key 'window'; did you mean 'window_ms'? known here: window_ms, shapes"),
    case("chords: {window_ms: ¶-1, ¶shape: []}", "window_ms -1 is out of range; give a number from 0 to 1000", "unknown key 'shape'; did you mean 'shapes'? known here: window_ms, shapes"),
    case("chords: {shapes: ¶{chord: major}}", "'shapes' holds a table of keys and values; begin each entry with '- '"),
    case("chords: {shapes: [¶5]}", "a shape is written as keys and values, not as 5; write {chord: …}"),
    case("¶chords:\n", "warning: nothing in this mapping plays a lamp; add rules under 'keys:'"),
    case("¶chords: {shapes: }\n", "warning: nothing in this mapping plays a lamp; add rules under 'keys:'"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), [*CHORDS, *DRAWN, *SECTION])
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Each mistake is told once, at its line and column, with what would be right."""
    agree(mapping_told(marked), messages)


@pytest.mark.parametrize(
    ("marked", "messages"),
    [
        case(shape("chord: major, draw: ¶['*']"), "the rig has no grid to draw over; give lamps"),
        case(shape("chord: major, lamps: all, move: ¶root, turn: true"), "a shape moves and turns over a grid, and the rig has none; take it out"),
        case(shape("chord: major, lamps: all, turn: ¶true"), "a shape moves and turns over a grid, and the rig has none; take it out"),
        case(shape("chord: major, draw: ['*'], over: ¶roof"), "unknown grid 'roof'; none is defined in this file"),
    ],
)  # fmt: skip
def test_a_rig_without_a_grid(marked: str, messages: tuple[str, ...]) -> None:
    """What needs a grid says so, once, where the rig has none."""
    rig, _ = rig_from_text("lamps: [{name: door, slot: 1}]")
    agree(told(lambda text: mapping_from_text(text, rig, "a.yaml"), marked), messages)
