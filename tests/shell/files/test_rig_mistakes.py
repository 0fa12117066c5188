# ruff: noqa: E501 - a row of a table is one line
"""Every mistake in a rig is told with its place, what is wrong, and what would be right; all at once."""

from __future__ import annotations

import pytest

from bridge.shell.files import rig_from_text
from bridge.values.errors import FileError
from tests.shell.files.cases import RIG, agree, case, rig_told

ONE = "lamps: [{name: a, slot: 1}]\n"
HEAD = "lamp_types: {post: {parts: {red: {}, blue: {}}}}\n"
SLOT = "give a whole number from 1 to 512; slot 1 is the first"
COLOURS = (
    "white, warm, cool, red, orange, amber, yellow, lime, green, cyan, blue, indigo, violet, purple, magenta, "
    "pink, uv, or '#rrggbb'"
)
ENDS = "a universe ends at 512, and a lamp's slots never cross into the next"


def lamp(text: str) -> str:
    """A rig of one lamp `a` on slot 1 and another with these keys."""
    return f"lamps: [{{name: a, slot: 1}}, {{{text}}}]"


def grid(text: str) -> str:
    """A rig of one grid of two columns and two rows with these keys."""
    return f"grids: [{{name: g, columns: 2, rows: 2, {text}}}]"


VALUES = [
    case(lamp("name: b, slot: 2, ¶rset: 1"), "unknown key 'rset'; did you mean 'rest'? known here: name, watts, amps, response, floor, ceiling, bits, colour, rest, heat, led, type, supply, universe, slot, at, shares, slots"),
    case("¶lmaps: []\n" + ONE, "unknown key 'lmaps'; did you mean 'lamps'? known here: rig, refresh_hz, on_exit, supplies, lamp_types, grids, lamps, groups, outputs, decoders, cables, dmx, audience, guards"),
    case("lamps: ¶{a: 1}", "'lamps' holds a table of keys and values; begin each entry with '- '"),
    case("supplies: ¶[a]\n" + ONE, "'supplies' holds a list; write 'name: …' on lines of their own"),
    case("lamps: [¶5]", "a lamp is written as keys and values, not as 5; write {name: …}"),
    case("supplies: {quay: ¶12}\n" + ONE, "a supply is written as keys and values, not as 12; write {volts: …, amps: …}"),
    case("supplies: {quay: ¶{amps: 3}}\n" + ONE, "a supply has no key 'volts'; write volts: … (volts it gives)"),
    case("supplies: {quay: {volts: ¶.nan, amps: ¶-.inf}}\n" + ONE, "volts .nan cannot be used; give a number over 0, at most 1000", "amps -.inf cannot be used; give a number over 0, at most 10000"),
    case("supplies: {quay: {volts: ¶0, amps: ¶'25', headroom: ¶1}}\n" + ONE, "volts 0 is out of range; give a number over 0, at most 1000", "amps is the text '25'; give a number over 0, at most 10000", "headroom 1 is out of range; give a number from 0 to 0.95"),
    case(lamp("¶slot: 2").replace("{¶", "¶{"), "a lamp has no key 'name'; write name: … (the lamp's name)"),
    case(lamp("¶name: b").replace("{¶", "¶{"), "'b' has no key 'slot'; give slot: its first slot, 1 to 512"),
    case(lamp("name: b, slot: ¶0"), f"slot 0 is out of range; {SLOT}"),
    case(lamp("name: b, slot: ¶513"), f"slot 513 is out of range; {SLOT}"),
    case(lamp("name: b, slot: ¶1.5"), f"slot 1.5 is not a whole number; {SLOT}"),
    case(lamp("name: b, slot: ¶two"), f"slot is the text 'two'; {SLOT}"),
    case(lamp("name: b, slot: ¶"), f"slot is nothing; {SLOT}"),
    case(lamp("name: b, slot: 2, universe: ¶0"), "universe 0 is out of range; give a whole number from 1 to 63999"),
    case(lamp("name: b, slot: 2, bits: ¶12"), "bits 12 is not possible; give 8 or 16"),
    case(lamp("name: b, slot: 2, rest: ¶1.5"), "rest 1.5 is out of range; give a number from 0 to 1"),
    case(lamp("name: b, slot: 2, watts: ¶-8"), "watts -8 is out of range; give a number from 0 to 10000"),
    case(lamp("name: b, slot: 2, shares: ¶yes"), "shares is the text 'yes'; give true or false"),
    case(lamp("name: b, slot: 2, at: ¶[1]"), "at is a list of 1; give two numbers, [x, y]"),
    case(lamp("name: b, slot: 2, at: [1, ¶x]"), "at is the text 'x'; give a number from -10000 to 10000"),
    case(lamp("name: b, slot: 2, colour: ¶blau"), f"unknown colour 'blau'; did you mean 'blue'? known: {COLOURS}"),
    case("lamps:\n  - {name: b, slot: 2}\n  - name: c\n    slot: 3\n    colour:¶ #ff8000\n", "colour is nothing; give a colour's name, or '#ffaa00' in quotes"),
    case(lamp("name: b, slot: 2, floor: ¶0.9, ceiling: 0.2"), "floor 0.9 is over ceiling 0.2; give a floor no higher than the ceiling"),
    case("lamp_types: {t: {floor: ¶0.9, ceiling: 0.2}}\nlamps: [{name: b, type: t, slot: 1}]", "floor 0.9 is over ceiling 0.2; give a floor no higher than the ceiling"),
    case(lamp("name: b, slot: 2, response: ¶sqare"), "unknown response 'sqare'; did you mean 'square'? known: linear, square, cie, dali"),
    case(lamp("name: b, slot: 2, response: ¶[]"), "response is an empty list; give points, [[level, drive], …]"),
    case(lamp("name: b, slot: 2, response: [[0, 0], ¶3, [0.5, ¶x]]"), "response has 3 for a point; give [level, drive]", "response is the text 'x'; give a number from 0 to 1"),
    case(lamp("name: b, slot: 2, response: [[0, 0], [0.5, 0.6], ¶[0.5, 0.7], ¶[0.8, 0.1]]"), "response has level 0.5 after 0.5; each level is over the last", "response has drive 0.1 after 0.7; the drive never falls"),
    case(lamp("name: b, slot: 2, heat: ¶5"), "heat is 5; give keys and values, {key: value}"),
    case(lamp("name: b, slot: 2, heat: ¶{full_s: ¶0, ¶rest: 3}"), "'heat' has no key 'rest_s'; write rest_s: … (seconds of rest after them)", "full_s 0 is out of range; give a number over 0, at most 86400", "unknown key 'rest'; did you mean 'rest_s'? known here: full_s, rest_s"),
    case(lamp("name: ¶'b*', slot: 2"), "the name 'b*' has a '*'; a '*' only stands where names are asked for"),
    case(lamp("name: ¶b..c, slot: 2"), "the name 'b..c' has an empty part; write it like roof.1.2"),
    case(lamp("name: ¶' b', slot: 2"), "the name ' b' has blanks at its ends or control characters; take them out"),
    case(lamp("name: ¶, slot: 2"), "name is nothing; give a name"),
    case(lamp("name: ¶[b], slot: 2"), "name is a list; give a name"),
    case("supplies: {¶'': {volts: 1, amps: 1}}\n" + ONE, "a name is empty; give a name"),
    case(HEAD.replace("blue", "¶'blue*'") + ONE, "the name 'blue*' has a '*'; a '*' only stands where names are asked for"),
    case(HEAD.replace("{}, b", "{¶slto: 2}, b") + ONE, "unknown key 'slto'; did you mean 'slot'? known here: watts, amps, response, floor, ceiling, bits, colour, rest, heat, led, slot, at"),
    case(ONE + "on_exit: ¶balckout", "unknown on_exit 'balckout'; did you mean 'blackout'? known: blackout, hold"),
    case(ONE + "guards: {load: ¶on, ¶falsh: off}", "unknown guard setting 'on'; known: limit, warn, off", "unknown key 'falsh'; did you mean 'flash'? known here: load, flash, heat"),
    case(ONE + "guards: ¶off", "guards is the text 'off'; give keys and values, {key: value}"),
    case("rig: ¶[a]\n" + ONE, "rig is a list; give the rig's name"),
    case("rig: ¶' '\n" + ONE, "rig is empty; give the rig's name"),
]  # fmt: skip

REFERENCES = [
    case("supplies: {quay: {volts: 12, amps: 25}}\n" + lamp("name: b, slot: 2, supply: ¶quai"), "unknown supply 'quai'; did you mean 'quay'? known: quay"),
    case(lamp("name: b, slot: 2, supply: ¶quay"), "unknown supply 'quay'; none is defined in this file"),
    case(HEAD + lamp("name: b, slot: 2, type: ¶pots"), "unknown lamp type 'pots'; did you mean 'post'? known: post"),
    case(lamp("name: b, slot: 1, slot: 2").replace("slot: 1, slot: 2", "slot: ¶1"), "slot 1 of universe 1 carries both 'a' (line 1) and 'b' (line 1); give one another slot, or let both say shares: true"),
    case("lamps:\n  - {name: a, slot: 1, bits: 16, shares: true}\n  - {name: b, slot: ¶2}", "slot 2 of universe 1 carries both 'a' (line 2) and 'b' (line 3); give one another slot, or let both say shares: true"),
    case("grids:\n  - {name: g, columns: 2, rows: 2, slot: 1}\n  - {name: h, columns: 2, rows: 2, slot: ¶3}", "slot 3 of universe 1 carries both 'g.1.2' (line 2) and 'h.1.1' (line 3), and 1 more slots; give one another slot, or let both say shares: true"),
    case("lamp_types: {t: {parts: {red: {slot: 0}, blue: {slot: 0}}}}\nlamps: [{name: w, type: t, slot: ¶7}]", "slot 7 of universe 1 carries both 'w.red' (line 2) and 'w.blue' (line 2); give one another slot, or let both say shares: true"),
    case(lamp("name: b, slot: ¶512, bits: 16"), f"lamp 'b' would take slot 513; {ENDS}"),
    case(HEAD + "lamps: [{name: w, type: post, slot: ¶512}]", f"lamp 'w.blue' would take slot 513; {ENDS}"),
    case(grid("slot: ¶510"), f"lamp 'g.2.2' would take slot 513; {ENDS}"),
    case("grids: [{name: g, columns: 512, rows: 512, slot: ¶1}]", f"lamp 'g.1.2' would take slot 513; {ENDS}"),
    case(lamp("name: ¶a, slot: 2"), "a second lamp 'a'; the first is on line 1; rename one of them"),
    case(lamp("name: ¶a.b, slot: 2"), "'a' is the lamp of line 1, and other lamps begin with it; rename one of them"),
    case("grids:\n  - {name: g, columns: 2, rows: 2, slot: 1}\n  - {name: ¶g, columns: 2, rows: 2, slot: 5}", "a second 'g'; the first is on line 2; rename one of them"),
    case(grid("slot: 1") + "\nlamps: [{name: ¶g.2.2, slot: 9}]", "a second lamp 'g.2.2'; the first is on line 1; rename one of them"),
    case(lamp("name: b, slot: 2, ¶slots: {red: 3}"), "both slot and slots; give one of them"),
    case(lamp("name: b, slots: ¶{red: 3}"), "slots names parts, and 'b' has none; give slot: a number, or a type with parts"),
    case(HEAD + "lamps: [{name: w, type: post, slots: ¶{red: 1}}]", "slots has nothing for blue; give a slot for every part of the type"),
    case(HEAD + "lamps: [{name: w, type: post, slots: {red: 1, ¶bleu: 5, blue: 6}}]", "unknown part 'bleu'; did you mean 'blue'? known: red, blue"),
    case(HEAD + "lamps: [{name: w, type: post, slots: {red: 1, blue: ¶600}}]", f"blue 600 is out of range; {SLOT}"),
]  # fmt: skip

GRIDS = [
    case("grids: [¶{name: g, rows: 2, slot: 1}]", "a grid has no key 'columns'; write columns: … (columns, counted from the left)"),
    case("grids: [{name: g, columns: ¶0, rows: ¶600, slot: 1}]", "columns 0 is out of range; give a whole number from 1 to 512", "rows 600 is out of range; give a whole number from 1 to 512"),
    case(grid("¶rest: 0.1").replace("{name: g", "¶{name: g").replace("¶rest", "rest"), "'g' has no key 'slot'; give slot: its first slot, 1 to 512"),
    case(grid("slots: ¶[1, 2, 3]"), "slots has 3 entries for 4 lamps; give 4, in the grid's order"),
    case(grid("slots: [1, 2, 3, ¶600]"), f"slots 600 is out of range; {SLOT}"),
    case(grid("slots: ¶7"), "slots is 7; give a list"),
    case(grid("slot: 1, skip: [2.1, ¶a, [¶0, 1]]"), "skip holds the text 'a'; give a list of places, [1.4, 2.4] as column.row", "skip 0 is out of range; give a whole number from 1 to 512"),
    case(grid("slot: 1, skip: [¶3.1, ¶[2, 10]]"), "skip 3.1 is outside the grid; its places are 1.1 to 2.2, column.row", "skip 2.10 is outside the grid; its places are 1.1 to 2.2, column.row"),
    case(grid("slot: 1, skip: ¶2.1"), "skip is 2.1; give a list of places, [1.4, 2.4] as column.row"),
    case(grid("slot: 1, skip: ¶[1.1, 1.2, 2.1, 2.2]"), "skip leaves no lamp; leave at least one place"),
    case(grid("slot: 1, order: ¶snaky, from: ¶left"), "unknown order 'snaky'; did you mean 'snake'? known: rows, columns, snake", "unknown corner 'left'; known: lower_left, lower_right, upper_left, upper_right"),
]  # fmt: skip

GROUPS = [
    case(ONE + "groups: {g: ¶[]}", "g is an empty list; give at least one name"),
    case(ONE + "groups: {g: [a, ¶aa]}", "no lamp or group is called 'aa'; did you mean 'a'? known: all, a"),
    case(ONE + "groups: {g: ¶'*.red'}", "'*.red' matches no lamp; known: all, a"),
    case(ONE + "groups: {g: ¶'x*'}", "the '*' in 'x*' stands for a part of a name; a '*' stands for a whole one, like *.red"),
    case(ONE + "groups: {g: {¶colour: red}}", "no lamp is red; known: white"),
    case(ONE + "groups: {g: {colour: ¶rde}}", f"unknown colour 'rde'; did you mean 'red'? known: {COLOURS}"),
    case(ONE + "groups: {g: ¶{color: red}}", "g holds a table of color; give {colour: red}"),
    case(ONE + "groups: {¶all: a}", "the group 'all' is always there: every lamp; give the group another name"),
    case(ONE + "groups: {¶a: a}", "group 'a' has the name of the lamp on line 1; give the group another name"),
    case(grid("slot: 1") + "\ngroups: {¶g: g.1, ¶g.1: g.2}", "group 'g' has the name of the lamps of line 1; give the group another name", "group 'g.1' has the name of the lamps of line 1; give the group another name"),
    case(ONE + "groups: {g: ¶g}", "groups in a circle: g > g; take one of them out"),
    case(ONE + "groups: {g: [a, h], h: i, i: [a, ¶g]}", "groups in a circle: g > h > i > g; take one of them out"),
    case("groups: {g: ¶a}", "no lamp or group is called 'a'; the rig has no lamps"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), [*VALUES, *REFERENCES, *GRIDS, *GROUPS])
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Each mistake is told once, by itself, at its line and column, with what would be right."""
    agree(rig_told(marked), messages)


def test_one_mistake_in_each_section_and_all_are_told() -> None:
    """Mistakes in different sections, and in different keys of one entry, hide none of one another."""
    text = RIG
    for right, wrong in [
        ("refresh_hz: 40", "refresh_hz: ¶400000"), ("volts: 12", "volts: ¶twelve"), ("response: cie", "response: ¶cei"),
        ("columns: 6", "columns: ¶-6"), ("name: west, type: post", "name: west, type: ¶pots"),
        ("type: workshop, supply: quay, at: [3, 1]", "type: ¶workshp, supply: ¶qay, at: [¶x, 1]"), ("left: [roof.1", "left: [¶rof.1"),
        ("kind: sacn", "kind: ¶scan"), ("framing: break", "framing: ¶brake"), ("flash: limit", "flash: ¶limti"),
    ]:  # fmt: skip
        assert right in text
        text = text.replace(right, wrong, 1)
    said, marks = rig_told(text)
    assert [line.partition(": ")[0] + ": " for line in said] == marks


def test_what_depends_on_a_mistake_is_not_told_too() -> None:
    """A lamp that could not be made is known by name, with all that may be below it."""
    text = "lamps:\n  - {name: w, type: ¶pots, slot: 1}\n  - {name: v, slot: ¶x}\ngroups: {g: [w.red, w, v, '*.red', h], h: v}"
    agree(
        rig_told(text),
        ("unknown lamp type 'pots'; none is defined in this file", f"slot is the text 'x'; {SLOT}"),
    )
    broken_type = "lamp_types: {t: {¶prts: {red: {}}}}\nlamps: [{name: w, type: t, slot: 1}]"
    said, marks = rig_told(broken_type)
    assert len(said) == len(marks) == 1


def test_a_wrong_value_is_not_taken_for_another() -> None:
    """What hangs on a wrong value is left alone: no clash of slots by a default that nobody wrote."""
    agree(
        rig_told(lamp("name: b, slot: 1, universe: ¶0")),
        ("universe 0 is out of range; give a whole number from 1 to 63999",),
    )
    agree(rig_told(lamp("name: b, slot: 1, shares: ¶on")), ("shares is the text 'on'; give true or false",))
    rates = f"{ONE}refresh_hz: ¶no\noutputs: [{{kind: sacn, sends: ¶0}}, {{kind: sacn, refresh_hz: 44}}]"
    agree(
        rig_told(rates),
        (
            "refresh_hz is the text 'no'; give a number from 1 to 830.56",
            "sends 0 is out of range; give a whole number from 1 to 63999, or all",
        ),
    )


def test_nothing_is_half_applied() -> None:
    """One mistake anywhere and there is no rig; the error has the file's name, in the order of the file."""
    with pytest.raises(FileError, match=r"^a\.yaml:13:\d+: .*\na\.yaml:17:\d+: ") as caught:
        rig_from_text(RIG.replace("rest: 0.1", "rest: 2").replace("colour: red", "colour: blue"), "a.yaml")
    assert [problem.line for problem in caught.value.problems] == [13, 17]
    assert not any(problem.warning for problem in caught.value.problems)
