# ruff: noqa: E501 - an example of the language stays on its lines
"""A mapping file becomes the rules that DESIGN's example promises, checked by hand."""

from __future__ import annotations

import pytest

from bridge.shell.files import mapping_from_text
from bridge.values.mapping import DoRule, Feel, KeyRule, Mapping, SetRule, Trigger
from tests.shell.files.cases import MAPPING, agree, boathouse, case, mapping_told

RIG = boathouse()
LEFT = (0, 6, 12, 18, 1, 7, 13, 19, 2, 8, 14, 20)
ORGAN = Feel(0.0, 0.0, 1.0, 0.15)
BELL = Feel(0.0, 0.8, 0.0, 0.0)


def mapping(text: str) -> Mapping:
    """The mapping of a text that has neither mistakes nor warnings."""
    made, warnings = mapping_from_text(text, RIG)
    assert warnings == []
    return made


def test_the_organ_by_hand() -> None:
    """Every rule of the example, with its notes, lamps, times and places in the file."""
    made = mapping(MAPPING)
    assert made.name == "Boathouse organ"
    assert made.inputs == {"piano": "part of a port's name", "pads": "part of another"}
    assert made.feels == {"organ": ORGAN, "bell": BELL}
    assert made.keys == (
        KeyRule(
            tuple(range(48, 72)), tuple((lamp,) for lamp in range(24)), source="piano", between=(0.15, 1.0),
            feel=ORGAN, feel_name="organ", line=9,
        ),
        KeyRule((36,), (LEFT,), source="pads", feel=BELL, feel_name="bell", mode="shot", line=10),
    )  # fmt: skip
    assert made.looks == {"walkin": (*((lamp, 0.4) for lamp in sorted(LEFT)), (27, 0.2))}
    assert made.sets == (
        SetRule(Trigger("control", (21,)), "master", line=14),
        SetRule(Trigger("control", (22,)), "level", LEFT, line=15),
    )
    assert made.does == (
        DoRule(Trigger("note", (48,), source="pads"), "blackout", line=16),
        DoRule(Trigger("note", (49,), source="pads"), "release_all", line=17),
        DoRule(Trigger("note", (50,), source="pads"), "look", look="walkin", fade=2.0, line=18),
    )


def test_what_is_not_given() -> None:
    """A rule of notes and lamps is heard from anywhere, straight, held, highest, at once on and off."""
    made = mapping("keys: [{notes: 60, lamps: door}]")
    assert made.keys == (KeyRule((60,), ((27,),), line=1),)
    assert made.keys[0].feel == Feel(0.0, 0.0, 1.0, 0.0)
    assert (made.keys[0].pedal, made.keys[0].curve, made.keys[0].merge) == (True, "linear", "highest")


def test_what_holds_for_all_rules() -> None:
    """Curve, feel and merge at the top hold for every rule that names none of its own."""
    made = mapping(
        "curve: soft\nfeel: bell\nmerge: latest\nfeels: {bell: {attack_ms: 5, decay_ms: 10, sustain: 0.5}, dull: {}}\n"
        "keys: [{notes: 60, lamps: door, mode: shot}, {notes: 61, lamps: door, curve: full, feel: dull, merge: highest}]"
    )
    first, second = made.keys
    assert (first.curve, first.feel, first.feel_name, first.merge) == (
        "soft",
        Feel(0.005, 0.01, 0.5, 0.0),
        "bell",
        "latest",
    )
    assert (second.curve, second.feel, second.feel_name, second.merge) == ("full", Feel(), "dull", "highest")


def test_every_key_of_a_rule() -> None:
    """Channel, mode, pedal and a curve of points arrive as written; the points keep their velocities."""
    made = mapping(
        "inputs: {1: pads}\n"
        "keys: [{notes: 60, lamps: [door, '*.red'], from: 1, channel: 16, mode: latch, pedal: ignore, curve: [[1, 0.2], [64, 0.2], [127, 1]]}]"
    )
    (rule,) = made.keys
    assert rule == KeyRule(
        (60,),
        ((27, 24),),
        16,
        "1",
        curve=((1.0, 0.2), (64.0, 0.2), (127.0, 1.0)),
        mode="latch",
        pedal=False,
        line=2,
    )


def test_across_follows_the_lamps_from_left_to_right() -> None:
    """West, at x = -1.5, comes before the grid, from below upwards; the door, at 3, among its columns."""
    made = mapping("keys: [{notes: 0..3, lamps: [roof.1.1, door, west.amber, west.green], spread: across}]")
    assert made.keys[0].lamps == ((26,), (25,), (0,), (27,))


def test_every_kind_of_control() -> None:
    """Masters of groups, curves and ranges of knobs, toggles, fades, and the look called none."""
    made = mapping(
        "looks: {a: {all: 0.5, door: 0, '*.red': 1}}\n"
        "controls: [{control: 1, sets: master, lamps: left, curve: square, between: [0.2, 0.8], channel: 3},"
        " {control: 64, does: blackout, toggle: true}, {notes: [1, C4], does: look, look: none}, {notes: 2, does: look, look: a}]\n"
        "keys: [{notes: 1, lamps: door}]"
    )
    assert made.sets == (
        SetRule(Trigger("control", (1,), 3), "master", LEFT, curve="square", between=(0.2, 0.8), line=2),
    )
    assert made.does == (
        DoRule(Trigger("control", (64,)), "blackout", toggle=True, line=2),
        DoRule(Trigger("note", (1, 60)), "look", look="", line=2),
        DoRule(Trigger("note", (2,)), "look", look="a", line=2),
    )
    # A later mention of a lamp wins.
    assert dict(made.looks["a"]) == {**dict.fromkeys(range(28), 0.5), 27: 0.0, 24: 1.0}


WARNINGS = [
    case("inputs: {piano: x, ¶pads: y}\nkeys: [{notes: 1, lamps: door, from: piano}]", "warning: no rule listens to input 'pads'; name it in a rule, from: pads, or take it out"),
    case("inputs: {pads: y}\ncontrols: [{notes: 1, from: pads, does: blackout}]"),
    case("¶mapping: nothing\nkeys:\n", "warning: nothing in this mapping plays a lamp; add rules under 'keys:'"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), WARNINGS)
def test_what_is_odd_is_a_warning(marked: str, messages: tuple[str, ...]) -> None:
    """What can be played but is not used is told as a warning, at its place."""
    agree(mapping_told(marked), messages)


def test_five_hundred_rules() -> None:
    """A mapping of 500 rules is read whole."""
    rules = "".join(
        f"  - {{notes: {i % 128}, lamps: [roof.{i % 6 + 1}.{i % 4 + 1}, west.red], channel: {i % 16 + 1}}}\n"
        for i in range(500)
    )
    made = mapping(f"keys:\n{rules}")
    assert [rule.line for rule in made.keys] == list(range(2, 502))
    assert made.keys[499].lamps == ((19, 24),)
