# ruff: noqa: E501 - a row of a table is one line
"""What controllers, wheels, pressure, parameters and programs set and do; each mistake in its place."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.shell.files import mapping_from_text
from bridge.shell.files.control_model import DOES, SETS
from bridge.shell.files.hints import LATER_DOES, LATER_SETS
from bridge.values.mapping import DOES as KNOWN_DOES
from bridge.values.mapping import SETTINGS, DoRule, SetRule, Trigger
from tests.shell.files.cases import FULL, agree, boathouse, case, mapping_told

RIG = boathouse()
LEFT = (0, 6, 12, 18, 1, 7, 13, 19, 2, 8, 14, 20)
RIGHT = (3, 9, 15, 21, 4, 10, 16, 22, 5, 11, 17, 23)


def box(number: int, kind: str = "control") -> Trigger:
    """A controller of the fader box."""
    return Trigger(kind, (number,), source="box")


def test_every_control_by_hand() -> None:
    """The controls of the full example: what sets each off, what it sets, in which unit, and its place."""
    mapping, _ = mapping_from_text(FULL, RIG)
    assert mapping.sets == (
        SetRule(box(0), "master", line=24),
        SetRule(box(1, "control14"), "level", LEFT, curve="square", between=(0.1, 0.9), takeover=True, line=25),
        SetRule(box(22), "attack", name="bell", between=(0.0, 0.5), line=26),
        SetRule(box(23), "sustain", name="organ", line=27),
        SetRule(box(24), "decay", between=(0.0, 2.0), line=28),
        SetRule(box(25), "tempo", between=(60.0, 180.0), line=29),
        SetRule(box(26), "look", name="dusk", line=30),
        SetRule(box(27), "fade", between=(0.0, 8.0), line=31),
        SetRule(Trigger("bend", (), 3), "master", RIGHT, line=32),
        SetRule(Trigger("pressure", source="piano"), "level", (27,), line=33),
        SetRule(Trigger("rpn", (0,)), "master", LEFT, line=34),
        SetRule(Trigger("nrpn", (1300,)), "release", between=(0.0, 2.0), line=35),
    )  # fmt: skip
    assert mapping.does == (
        # Instruments count programs from 1, the wire from 0.
        DoRule(Trigger("program", (0,)), "look", look="walkin", fade=2.0, line=36),
        DoRule(Trigger("program", (1,)), "look", line=37),
        DoRule(Trigger("note", (56, 67), source="kit"), "blackout", toggle=True, line=38),
        DoRule(Trigger("control", (64,), 16), "record", line=39),
        DoRule(Trigger("note", (0,)), "release_all", line=40),
        DoRule(Trigger("control", (105,)), "next", line=41),
    )


@pytest.mark.parametrize(
    ("written", "trigger"),
    [
        ("control: 0", Trigger("control", (0,))),
        ("control: 119", Trigger("control", (119,))),
        ("control: 0, bits: 14", Trigger("control14", (0,))),
        ("control: 31, bits: 14", Trigger("control14", (31,))),
        ("control: 40, bits: 7", Trigger("control", (40,))),
        ("bend: true", Trigger("bend")),
        ("pressure: true, channel: 16", Trigger("pressure", (), 16)),
        ("rpn: 0", Trigger("rpn", (0,))),
        ("rpn: 16383", Trigger("rpn", (16383,))),
        ("nrpn: 0", Trigger("nrpn", (0,))),
        ("control: 5, bend: false, pressure: false", Trigger("control", (5,))),
    ],
)
def test_what_turns(written: str, trigger: Trigger) -> None:
    """Each thing that can be turned sets a value or, at its upper half, does something; 0 is a number too."""
    mapping, warnings = mapping_from_text(
        f"controls: [{{{written}, sets: master}}, {{{written}, does: blackout}}]", RIG
    )
    assert warnings == []
    assert mapping.sets[0].trigger == mapping.does[0].trigger == trigger


@pytest.mark.parametrize(("program", "sent"), [(1, 0), (128, 127)], ids=["the first", "the last"])
def test_programs_count_from_one(program: int, sent: int) -> None:
    """Program 1, as instruments show it, is 0 on the wire (MIDI 1.0), and 128 is 127."""
    mapping, _ = mapping_from_text(f"controls: [{{program: {program}, does: release_all}}]", RIG)
    assert mapping.does[0].trigger == Trigger("program", (sent,))


@pytest.mark.parametrize("word", SETS)
def test_what_a_setting_is_unless_said(word: str) -> None:
    """Without `between` a knob goes from nothing to a useful most, in the unit of its setting."""
    more = {"level": ", lamps: left", "look": ", look: a"}.get(word, "")
    text = f"looks: {{a: {{door: 1}}}}\ncontrols: [{{control: 1, sets: {word}{more}}}]"
    (rule,) = mapping_from_text(text, RIG)[0].sets
    assert rule.what in SETTINGS
    assert rule.between == {"attack": (0.0, 2.0), "decay": (0.0, 2.0), "release": (0.0, 2.0),
                            "tempo": (40.0, 240.0), "fade": (0.0, 10.0),
                            "speed": (0.0, 2.0), "scale": (0.5, 5.0), "direction": (0.0, 360.0),
                            "centre_x": (-5.0, 5.0), "centre_y": (-5.0, 5.0)}.get(rule.what, (0.0, 1.0))  # fmt: skip


def test_every_word_the_engine_knows_can_be_written() -> None:
    """What a rule can set or do, a file can say, or is told that it comes later."""
    assert {word.removesuffix("_ms") for word in SETS} <= set(SETTINGS)
    assert set(SETTINGS) <= {word.removesuffix("_ms") for word in SETS} | set(LATER_SETS)
    assert set(KNOWN_DOES) <= set(DOES) | set(LATER_DOES)


def control(text: str) -> str:
    """A mapping of one control with these keys; a mark before them is one before the entry."""
    head = "looks: {walkin: {door: 1}}\nfeels: {organ: {}}\n"
    return f"{head}controls: [{{{text}}}]".replace("[{¶¶", "[¶{¶").replace("[{!", "[¶{")


LEVEL = "give a number from 0 to 1"
FOURTEEN = "only control 0 to 31 has a fine half, 32 up from it; take bits out"
TURN = "give control:, bend:, pressure:, rpn:, nrpn:, band:, onset:, beat: or tempo:"
PRESS = "give notes:, control:, program:, bend:, pressure:, rpn:, nrpn:, band:, onset:, beat: or tempo:"

TRIGGERS = [
    case(control("!sets: master"), f"nothing sets this control off; {TURN}"),
    case(control("!sets: master, bend: false"), f"nothing sets this control off; {TURN}"),
    case(control("!does: blackout"), f"nothing sets this control off; {PRESS}"),
    # A key that is not known was probably meant for it: that is one mistake, not two.
    case(control("¶cc: 1, sets: master"), "unknown key 'cc'; say control: and its number"),
    case(control("¶pitch: true, sets: master"), "unknown key 'pitch'; say bend: true"),
    case(control("¶note: 1, does: blackout"), "unknown key 'note'; did you mean 'notes'? known here: …"),
    case(control("¶program: 1, sets: master"), "unknown key 'program'; known here: …"),
    case(control("¶velocity: 1..5, notes: 1, does: blackout"), "unknown key 'velocity'; a press counts at any velocity; leave it out"),
    case(control("control: 1, ¶bend: true, sets: master"), "both control and bend; give one, or write two entries"),
    case(control("rpn: 0, ¶nrpn: 0, sets: master"), "both rpn and nrpn; give one, or write two entries"),
    case(control("control: ¶[1, 2], sets: master"), "control is a list; give a whole number from 0 to 119; the rest are channel mode messages"),
    case(control("control: 32, bits: ¶14, sets: master"), f"bits: 14 with control 32; {FOURTEEN}"),
    case(control("bend: true, bits: ¶14, sets: master"), f"bits: 14 with bend; {FOURTEEN}"),
    case(control("notes: 5, bits: ¶14, does: blackout"), f"bits: 14 with notes; {FOURTEEN}"),
    case(control("control: 1, bits: ¶8, sets: master"), "bits 8 is not possible; give 7 or 14"),
    case(control("rpn: ¶16384, sets: master"), "rpn 16384 is out of range; give a whole number from 0 to 16383, coarse x 128 + fine"),
    case(control("nrpn: ¶-1, does: blackout"), "nrpn -1 is out of range; give a whole number from 0 to 16383, coarse x 128 + fine"),
    case(control("program: ¶0, does: blackout"), "program 0 is out of range; give a whole number from 1 to 128"),
    case(control("program: ¶129, does: blackout"), "program 129 is out of range; give a whole number from 1 to 128"),
    case(control("pressure: ¶1, sets: master"), "pressure is 1; give true or false"),
]  # fmt: skip

VALUES = [
    case(control("control: 1, sets: ¶attack"), "unknown word for sets: 'attack'; did you mean 'attack_ms'? known: master, level, attack_ms, decay_ms, sustain, release_ms, tempo, look, fade_ms, …"),
    case(control("control: 1, sets: ¶hue"), "unknown word for sets: 'hue'; known: …"),
    case(control("control: 1, sets: attack_ms, feel: ¶orgn"), "unknown feel 'orgn'; did you mean 'organ'? known: organ"),
    case(control("control: 1, sets: attack_ms, between: [0, ¶70000]"), "between 70000 is out of range; give a number from 0 to 60000"),
    case(control("control: 1, sets: master, ¶feel: organ"), "unknown key 'feel'; known here: …"),
    case(control("control: 1, sets: sustain, between: [0, ¶100]"), f"between 100 is out of range; {LEVEL}"),
    case(control("control: 1, sets: tempo, between: [¶0, 240]"), "between 0 is out of range; give a number from 1 to 999"),
    # Only a master or a level is one of lamps.
    *[case(control(f"control: 1, sets: {word}, ¶lamps: door"), "unknown key 'lamps'; known here: …") for word in ("tempo", "sustain", "attack_ms", "fade_ms")],
    case(control("!control: 1, sets: look"), "a control has no key 'look'; write look: … (a name under looks)"),
    case(control("control: 1, sets: look, look: ¶none"), "unknown look 'none'; known: walkin"),
    case(control("control: 1, sets: look, look: ¶wakin"), "unknown look 'wakin'; did you mean 'walkin'? known: walkin"),
    case(control("control: 1, sets: fade_ms, between: [0, ¶1e9]"), "between 1e9 is out of range; give a number from 0 to 3600000"),
    case(control("control: 1, sets: master, between: ¶[1, 0]"), "between 1 to 0 runs down; give [low, high], the smaller first"),
    case(control("control: 1, sets: master, takeover: ¶yes"), "takeover is the text 'yes'; give true or false"),
    case(control("control: 1, ¶level: 0.5, sets: level, lamps: door"), "unknown key 'level'; say sets: level, and lamps:"),
    case(control("notes: 1, does: look, look: walkin, ¶fade: 3"), "unknown key 'fade'; did you mean 'fade_ms'? known here: …"),
    case(control("notes: 1, does: look, look: walkin, ¶toggle: true"), "unknown key 'toggle'; known here: …"),
    case(control("notes: 1, does: record, ¶toggle: true"), "unknown key 'toggle'; known here: …"),
]  # fmt: skip

LATER = [
    *[case(control(f"control: 1, sets: ¶{word}"), f"'sets: {word}' belongs to a later version of Lampwright; take it out for now") for word in LATER_SETS if word not in SETS],
    *[case(control(f"notes: 1, does: ¶{word}"), f"'does: {word}' belongs to a later version of Lampwright; take it out for now") for word in LATER_DOES if word not in DOES],
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), [*TRIGGERS, *VALUES, *LATER])
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Each mistake is told once, at its line and column, with what would be right."""
    agree(mapping_told(marked), messages)


def test_a_rule_is_told_from_its_place() -> None:
    """Two entries that say the same differ by their lines alone."""
    mapping, _ = mapping_from_text(
        "controls:\n  - {control: 7, sets: master}\n\n  - {control: 7, sets: master}\n", RIG
    )
    first, second = mapping.sets
    assert (first.line, second.line) == (2, 4)
    assert first == replace(second, line=2)
