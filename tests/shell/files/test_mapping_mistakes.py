# ruff: noqa: E501 - a row of a table is one line
"""Every mistake in a mapping is told with its place, what is wrong, and what would be right; all at once."""

from __future__ import annotations

import pytest

from bridge.shell.files import mapping_from_text
from bridge.values.errors import FileError
from tests.shell.files.cases import MAPPING, agree, boathouse, case, mapping_told

KNOWN = "known: all, roof, west, left, right, reds, door"
NUMBER = "give a number from 0 to 1"


def rule(text: str, head: str = "") -> str:
    """A mapping of one rule with these keys."""
    return f"{head}keys: [{{notes: 1, lamps: door, {text}}}]"


FEELS = "feels: {organ: {}, bell: {decay_ms: 5}}\n"

KEYS = [
    case(rule("¶sprad: each"), "unknown key 'sprad'; did you mean 'spread'? known here: …"),
    case("¶kyes: []\n", "unknown key 'kyes'; did you mean 'keys'? known here: …"),
    case("keys: ¶{notes: 1, lamps: door}", "'keys' holds a table of keys and values; begin each entry with '- '"),
    case("keys: [¶C4]", "a rule is written as keys and values, not as the text 'C4'; write {notes: …, lamps: …}"),
    case("keys: [¶{lamps: ¶dor}]", "a rule has no key 'notes'; write notes: … (0 to 127, a name like C4, a range like C3..B4, white or black C3..B4, or a list of these)", f"no lamp or group is called 'dor'; did you mean 'door'? {KNOWN}"),
    case("keys: [¶{notes: ¶300}]", "a rule has no key 'lamps'; write lamps: … (lamps and groups, one name or a list)", "note 300 is out of range; give 0 to 127, a name like C4, F#3 or Bb2, a range like C3..B4…"),
    case("keys: [{notes: 1, lamps: ¶[]}]", "lamps is an empty list; give at least one name"),
    case("keys: [{notes: 1, lamps: ¶{a: b}}]", "lamps is a table of keys and values; give a name"),
    case("keys: [{notes: 1, lamps: [door, ¶5, ¶'*.blue']}]", f"no lamp or group is called '5'; {KNOWN}", f"'*.blue' matches no lamp; {KNOWN}"),
    case("keys: [{notes: 1, lamps: [door, ¶a*]}]", "the '*' in 'a*' stands for a part of a name; a '*' stands for a whole one, like *.red"),
    case(rule("channel: ¶0"), "channel 0 is out of range; give a whole number from 1 to 16"),
    case(rule("channel: ¶17"), "channel 17 is out of range; give a whole number from 1 to 16"),
    case(rule("spread: ¶eech"), "unknown spread 'eech'; did you mean 'each'? known: each, wrap, across, together"),
    case(rule("mode: ¶hodl"), "unknown mode 'hodl'; did you mean 'hold'? known: hold, latch, shot"),
    case(rule("merge: ¶lates"), "unknown merge 'lates'; did you mean 'latest'? known: highest, latest"),
    case(rule("pedal: ¶no"), "unknown pedal 'no'; known: follow, ignore"),
    case(rule("curve: ¶sofft"), "unknown curve 'sofft'; did you mean 'soft'? known: linear, square, cie, soft, hard, full"),
    case(rule("curve: ¶[]"), "curve is an empty list; give points, [[velocity, level], …]"),
    case(rule("curve: [[0, 0], [64, 0.5], ¶[60, 0.6], ¶[127, 0.9]]"), "curve has velocity 60 after 64; each velocity is over the last", "curve has level 0.9 at velocity 127; every curve has level 1 at velocity 127"),
    case(rule("curve: [¶[0, 0.2], [64, 0.5], ¶[65, 0.4]]"), "curve has level 0.2 at velocity 0; every curve has level 0 at velocity 0", "curve has level 0.4 after 0.5; the level never falls"),
    case(rule("curve: [[¶200, 1], ¶[1, 2, 3], ¶x]"), "curve 200 is out of range; give a number from 0 to 127", "curve has a list for a point; give [velocity, level]", "curve has the text 'x' for a point; give [velocity, level]"),
    case(rule("between: [0, ¶1.5]"), f"between 1.5 is out of range; {NUMBER}"),
    case(rule("between: ¶[0.5, 0.2]"), "between 0.5 to 0.2 runs down; give [low, high], the smaller first"),
    case(rule("between: ¶0.5"), "between is 0.5; give two numbers, [low, high]"),
    case(rule("between: ¶[0.1, 0.2, 0.3]"), "between is a list of 3; give two numbers, [low, high]"),
    case(rule("from: ¶pino", "inputs: {piano: a}\n").replace("door,", "door,").replace("inputs", "inputs"), "unknown input 'pino'; did you mean 'piano'? known: piano"),
    case(rule("from: ¶piano"), "unknown input 'piano'; none is defined in this file"),
    case(rule("feel: ¶orgn", FEELS), "unknown feel 'orgn'; did you mean 'organ'? known: organ, bell"),
    case(rule("mode: ¶shot"), "mode shot without a feel; name a feel with decay_ms over 0"),
    case(rule("mode: ¶shot, feel: organ", FEELS), "mode shot with feel 'organ', which has no decay; name a feel with decay_ms over 0"),
    case(rule("mode: ¶shot", "feel: organ\n" + FEELS), "mode shot with feel 'organ', which has no decay; name a feel with decay_ms over 0"),
    case(rule("mode: shot", "feel: ¶orgn\n" + FEELS), "unknown feel 'orgn'; did you mean 'organ'? known: organ, bell"),
    case("curve: ¶[[1, 2]]\nmerge: ¶x\nfeel: ¶{}\n".replace("¶[[1, 2]]", "[[1, ¶2]]") + rule("mode: shot"), f"curve 2 is out of range; {NUMBER}", "unknown merge 'x'; known: highest, latest", "feel is a table of keys and values; give a name"),
]  # fmt: skip

SECTIONS = [
    case("inputs: {a: ¶'', b: ¶[c], ¶'d*': e}", "a is empty; give part of a port's name", "b is a list; give part of a port's name", "the name 'd*' has a '*'; a '*' only stands where names are asked for"),
    case("feels: {organ: {attack_ms: ¶-5, release_ms: ¶.inf, sustain: ¶2, ¶dcay_ms: 3}}\n" + rule("feel: organ, mode: shot"), "attack_ms -5 is out of range; give a number from 0 to 3600000", "release_ms .inf cannot be used; give a number from 0 to 3600000", "sustain 2 is out of range; give a number from 0 to 1", "unknown key 'dcay_ms'; did you mean 'decay_ms'? known here: attack_ms, decay_ms, sustain, release_ms"),
    case("feels: {organ: ¶5}\n" + rule("feel: organ"), "a feel is written as keys and values, not as 5; write {attack_ms: …, decay_ms: …}"),
    case("looks: {¶none: {door: 1}, a: ¶{}, b: ¶5, c: {¶dor: ¶2, door: ¶x, ¶'a*': 1}}", "a look called none; call it something else: look: none means no look", "a look holds an empty table; write {lamp or group: level}", "a look holds 5; write {lamp or group: level}", f"no lamp or group is called 'dor'; did you mean 'door'? {KNOWN}", f"dor: 2 is out of range; {NUMBER}", f"door: is the text 'x'; {NUMBER}", "the '*' in 'a*' stands for a part of a name; a '*' stands for a whole one, like *.red"),
]  # fmt: skip


def control(text: str) -> str:
    """A mapping of one control with these keys."""
    return f"looks: {{walkin: {{door: 1}}}}\ncontrols: [{{{text}}}]"


WORDS = "give one of sets: master, level…"

CONTROLS = [
    case("controls: [¶7]", "a control is written as keys and values, not as 7; write {control: 21, sets: master}"),
    case(control("¶control: 21").replace("{¶", "¶{"), f"a control neither sets nor does anything; {WORDS}"),
    case(control("¶control: 21, sets: master, does: blackout").replace("{¶", "¶{"), f"a control has both sets and does; {WORDS}"),
    case(control("control: ¶120, sets: master"), "control 120 is out of range; give a whole number from 0 to 119; the rest are channel mode messages"),
    case(control("control: 1, sets: ¶mastr, lamps: ¶dor"), "unknown word for sets: 'mastr'; did you mean 'master'? known: …", f"no lamp or group is called 'dor'; did you mean 'door'? {KNOWN}"),
    case(control("control: 1, sets: ¶[a]"), "sets is a list; known: …"),
    case(control("¶sets: level, control: 1").replace("{¶", "¶{"), "a control has no key 'lamps'; write lamps: … (lamps and groups, one name or a list)"),
    case(control("¶sets: level, lamps: ¶dor").replace("{¶", "¶{"), "nothing sets this control off; give control…", f"no lamp or group is called 'dor'; did you mean 'door'? {KNOWN}"),
    case(control("sets: master, control: 1, ¶notes: 3"), "unknown key 'notes'; known here: …"),
    case(control("notes: ¶129, channel: ¶17, does: ¶balckout"), "note 129 is out of range; give 0 to 127, a name like C4, F#3 or Bb2, a range like C3..B4…", "channel 17 is out of range; give a whole number from 1 to 16", "unknown word for does: 'balckout'; did you mean 'blackout'? known: …"),
    case(control("¶does: blackout").replace("{¶", "¶{"), "nothing sets this control off; give …"),
    case(control("does: blackout, notes: 1, ¶control: 2"), "both notes and control; give one, or write two entries"),
    case(control("does: blackout, notes: 1, toggle: ¶yes"), "toggle is the text 'yes'; give true or false"),
    case(control("¶does: look, notes: 1").replace("{¶", "¶{"), "a control has no key 'look'; write look: … (a name under looks, or none for no look)"),
    case(control("does: look, notes: 1, look: ¶wlkin"), "unknown look 'wlkin'; did you mean 'walkin'? known: walkin, none"),
    case(control("does: look, look: none, notes: 5, fade_ms: ¶-1"), "fade_ms -1 is out of range; give a number from 0 to 3600000"),
    case(control("does: release_all, notes: 1, ¶fade_ms: 5"), "unknown key 'fade_ms'; known here: …"),
    case(control("does: blackout, notes: 1, from: ¶pads"), "unknown input 'pads'; none is defined in this file"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), [*KEYS, *SECTIONS, *CONTROLS])
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Each mistake is told once, by itself, at its line and column, with what would be right."""
    agree(mapping_told(marked), messages)


def test_one_mistake_in_each_section_and_all_are_told() -> None:
    """Mistakes in different sections, and in different keys of one entry, hide none of one another."""
    text = MAPPING
    for right, wrong in [
        ("curve: linear", "curve: ¶linaer"), ("feel: organ", "feel: ¶ogran"), ("decay_ms: 800", "decay_ms: ¶-800"),
        ("from: piano, lamps: roof, spread: each", "from: ¶pino, lamps: ¶rof, spread: ¶eech"), ("0.15, 1", "0.15, ¶11"),
        ("feel: bell", "feel: ¶bel"), ("door: 0.2", "¶dor: ¶2"), ("control: 21", "control: ¶121"),
        ("level, lamps: left", "level, lamps: ¶lfet"), ("release_all", "¶release"), ("look: walkin", "look: ¶wlakin"),
    ]:  # fmt: skip
        assert right in text
        text = text.replace(right, wrong, 1)
    said, marks = mapping_told(text)
    assert [line.partition(": ")[0] + ": " for line in said] == marks


def test_nothing_is_half_applied() -> None:
    """One mistake anywhere and there is no mapping; warnings wait until there is one."""
    text = "inputs: {unheard: x}\nkeys: [{notes: 60, lamps: door}, {notes: 200, lamps: door}]"
    with pytest.raises(FileError, match=r"^mapping\.yaml:2:42: note 200 is out of range; ") as caught:
        mapping_from_text(text, boathouse(), "mapping.yaml")
    assert len(caught.value.problems) == 1
