# ruff: noqa: E501 - a row of a table is one line
"""Decoders, cables, data lines, LEDs and the audience: what they say, and every mistake at its place."""

from __future__ import annotations

import pytest

from bridge.shell.files import rig_from_text
from bridge.shell.files.rig_wiring import MOST_DECODERS
from bridge.values.errors import FileError
from bridge.values.rig import Cable, Decoder, DmxLine, Led, Rig
from tests.shell.files.cases import agree, case, rig_told

WIRED = """\
supplies: {quay: {volts: 12, amps: 25}, loft: {volts: 24, amps: 4}}
lamp_types:
  bulb: {watts: 8}
  strip: {led: {drop_v: 3.2, amps: 0.02, in_series: 3, strings: 10}}
grids: [{name: roof, columns: 4, rows: 2, type: bulb, supply: quay, slot: 1}]
lamps:
  - {name: west, type: strip, supply: quay, slot: 9}
  - {name: bow, type: strip, supply: loft, slot: 10}
decoders:
  box: {slots: 12, amps_per_slot: 3, amps: 20}
  spare: {slots: 12, start: 013, universe: 1}
cables:
  - {name: trunk, from: quay, carries: box, length_m: 6, mm2: 2.5, wire: stranded, rated_amps: 16}
  - {name: eaves, from: box, carries: [roof.1, roof.2], length_m: 4.5, mm2: 0.75}
  - {name: bow run, carries: bow, length_m: 9, mm2: 0.5}
dmx:
  - {devices: 2, length_m: 40, terminated: true}
audience: {distance_m: 8, view_deg: 12}
"""

HEAD = "supplies: {quay: {volts: 12, amps: 25}, loft: {volts: 24, amps: 4}}\n"
LAMPS = "lamps: [{name: a, slot: 1, supply: quay, watts: 6}, {name: b, slot: 2, supply: loft, watts: 6}, {name: c, slot: 3}]\n"
BOX = "decoders: {box: {slots: 2}}\n"


def wired() -> Rig:
    """The rig of the example."""
    return rig_from_text(WIRED)[0]


def cable(text: str, more: str = "") -> str:
    """Two supplies, three lamps, a box for the first two, and a cable of these keys."""
    return f"{HEAD}{LAMPS}decoders: {{box: {{slots: 3}}{more}}}\ncables: [{{{text}}}]"


def test_the_example_by_hand() -> None:
    """Each word reaches its field; what is not given has what is usual."""
    made = wired()
    assert made.decoders == (
        Decoder("box", 1, 1, 12, 3.0, 20.0),
        Decoder("spare", 1, 13, 12, 0.0, 0.0),
    )
    # The decoder's lamps on that supply alone: `bow` hangs on the other one.
    assert made.cables == (
        Cable("trunk", 6.0, 2.5, (0, 1, 2, 3, 4, 5, 6, 7, 8), ("box",), "quay", "stranded", 16.0),
        Cable("eaves", 4.5, 0.75, (0, 4, 1, 5), (), "box"),
        Cable("bow run", 9.0, 0.5, (9,)),
    )
    assert made.dmx == (DmxLine(1, 2, 40.0, True),)
    assert (made.distance_m, made.view_deg) == (8.0, 12.0)


def test_leds_say_what_a_lamp_draws() -> None:
    """Amps of LEDs are those of all strings; with the supply's volts they are watts too."""
    strip = wired().lamps[8]
    assert strip.led == Led(3.2, 0.02, 3, 10)
    assert strip.amps == pytest.approx(0.2)
    assert strip.watts == pytest.approx(2.4)
    given = rig_from_text("lamps: [{name: a, slot: 1, watts: 5, led: {drop_v: 2, amps: 0.02}}]")[0].lamps[0]
    assert (given.watts, given.amps, given.led) == (5.0, 0.0, Led(2.0, 0.02))


def test_lamps_known_by_amps_are_weighed_by_watts() -> None:
    """A lamp of 2 A at 12 V weighs as much light as one of 24 W."""
    made = rig_from_text(
        HEAD + "lamps: [{name: a, slot: 1, supply: quay, amps: 2}, {name: b, slot: 2, watts: 24}]"
    )[0]
    assert [lamp.watts for lamp in made.lamps] == [24.0, 24.0]


def test_one_data_line_needs_no_list() -> None:
    """A single line is a table; a rig of several universes has a list."""
    lamps = "lamps: [{name: a, slot: 1}, {name: b, slot: 1, universe: 2}]\n"
    assert rig_from_text(lamps + "dmx: {devices: 3}")[0].dmx == (DmxLine(1, 3),)
    two = rig_from_text(lamps + "dmx: [{devices: 3}, {devices: 1, universe: 2, length_m: 5}]")[0]
    assert two.dmx == (DmxLine(1, 3), DmxLine(2, 1, 5.0))


def test_nothing_is_needed() -> None:
    """Empty sections, as they are left when all is commented out, are none."""
    made = rig_from_text("lamps: [{name: a, slot: 1}]\ndecoders:\ncables:\ndmx:\naudience:\n")[0]
    assert (made.decoders, made.cables, made.dmx, made.distance_m, made.view_deg) == ((), (), (), 5.0, 10.0)


VALUES = [
    case("decoders: ¶[a]\n" + LAMPS.replace(", supply: quay", "").replace(", supply: loft", ""), "'decoders' holds a list; write 'name: …' on lines of their own"),
    case(HEAD + LAMPS + "decoders: {box: ¶{start: 1}}", "a decoder has no key 'slots'; write slots: … (how many slots it takes, 1 to 512)"),
    case(HEAD + LAMPS + "decoders: {box: {slots: ¶0, start: ¶513, ¶addr: 2}}", "slots 0 is out of range; give a whole number from 1 to 512", "start 513 is out of range; give a whole number from 1 to 512; slot 1 is the first", "unknown key 'addr'; known here: slots, start, universe, amps_per_slot, amps"),
    case(HEAD + LAMPS + "decoders: {box: {slots: 3, amps: ¶-1}}", "amps -1 is out of range; give a number from 0 to 10000"),
    case(cable("name: run, carries: a, length_m: ¶0, mm2: ¶no"), "length_m 0 is out of range; give a number over 0, at most 10000", "mm2 is the text 'no'; give a number over 0, at most 1000"),
    case(cable("name: run, carries: a, length_m: 1, mm2: 1, wire: ¶flexibel"), "unknown wire 'flexibel'; did you mean 'flexible'? known: flexible, stranded"),
    case(cable("¶name: run, length_m: 1, mm2: 1").replace("{¶", "¶{"), "a cable has no key 'carries'; write carries: … (what it feeds: names of lamps or groups, or of decoders with all that hangs on them)"),
    case(HEAD + LAMPS + "dmx: {devices: ¶0, terminated: ¶yes}", "devices 0 is out of range; give a whole number from 1 to 512", "terminated is the text 'yes'; give true or false"),
    case(HEAD + LAMPS + "dmx: ¶5", "a data line is written as keys and values, not as 5; write {devices: …}"),
    case(HEAD + LAMPS + "audience: {distance_m: ¶0, view_deg: ¶180}", "distance_m 0 is out of range; give a number from 0.1 to 10000", "view_deg 180 is out of range; give a number from 1 to 170"),
    case("lamps: [{name: a, slot: 1, led: ¶{drop_v: ¶0}}]", "'led' has no key 'amps'; write amps: … (amps that each string carries at full)", "drop_v 0 is out of range; give a number over 0, at most 100"),
]  # fmt: skip

REFERENCES = [
    case(HEAD + LAMPS + "decoders: {box: {slots: 24, start: ¶500}}", "decoder 'box' would take slot 523; a universe ends at 512"),
    case(HEAD + LAMPS + "decoders: {¶quay: {slots: 3}}", "decoder 'quay' has the name of a supply; give the decoder another name"),
    case(HEAD + LAMPS + "decoders: {¶a: {slots: 3}}", "decoder 'a' has the name of a lamp; give the decoder another name"),
    case(HEAD + LAMPS + "decoders: {¶all: {slots: 3}}", "decoder 'all' has the name of a group; give the decoder another name"),
    case(cable("name: run, from: ¶qay, carries: ¶bxo, length_m: 1, mm2: 1"), "unknown supply or decoder 'qay'; did you mean 'quay'? known: quay, loft, box", "no lamp, group or decoder is called 'bxo'; did you mean 'box'? known: box, all, a, b, c"),
    case(cable("name: run, from: box, carries: ¶box, length_m: 1, mm2: 1"), "the cable runs from 'box' to itself; name its far end"),
    case(cable("name: run, from: quay, carries: ¶[a, b], length_m: 1, mm2: 1"), "the cable comes from 'quay', and these hang elsewhere: b; name only what is fed from there"),
    case(cable("name: run, from: two, carries: ¶c, length_m: 1, mm2: 1", ", two: {slots: 1, start: 9}"), "the cable comes from 'two', and these hang elsewhere: c; name only what is fed from there"),
    case(cable("name: run, carries: ¶[a, b, c], length_m: 1, mm2: 1"), "the cable carries lamps of 2 supplies: loft, quay; a cable has one supply; describe each run by itself"),
    case(cable("name: run, carries: a, length_m: 1, mm2: 1}, {name: ¶run, carries: b, length_m: 1, mm2: 1"), "a second cable 'run'; the first is on line 4"),
    case(HEAD + LAMPS + "dmx: [{devices: 1}, {devices: 1, universe: ¶1}]", "a second data line for universe 1; a universe has one"),
]  # fmt: skip

ODD = [
    case(HEAD + LAMPS + "decoders: {box: {slots: 3}, two: {slots: 5, start: ¶3}}", "warning: decoders 'box' and 'two' both take slot 3 of universe 1; they light together, and the guards count the first of them alone"),
    case(HEAD + LAMPS.replace("slot: 3", "slot: ¶3") + BOX, "warning: no decoder of universe 1 takes the slots of c; decoders: box 1 to 2"),
    case("lamps: [{name: a, slot: ¶2, bits: 16}]\n" + BOX, "warning: no decoder of universe 1 takes the slots of a; decoders: box 1 to 2"),
    case(HEAD + LAMPS + "decoders: {¶box: {slots: 3, amps_per_slot: 0.3}}", "warning: a draw up to 0.5 A at full, and an output of decoder 'box' may carry 0.3 A; the guard keeps the average, not the peak: take a stronger box"),
    case(HEAD.replace("amps: 4", "amps: ¶0.2") + LAMPS, "warning: supply 'loft' gives 0.2 A, and its lamps draw 0.25 A when all are in the on part of their cycle at once; the guard keeps the average; divide the lamps, or take a larger supply"),
    case(HEAD + "lamps: [{name: ¶a, slot: 1, supply: quay, led: {drop_v: 4, amps: 0.1, in_series: 3}}]", "warning: the LEDs of 'a' drop 12 V, and supply 'quay' gives 12; put fewer in series, or no resistor can be found"),
    case(HEAD + LAMPS + "dmx: {devices: ¶33}", "warning: 33 devices are more than the 32 unit loads that one pair may carry; put a splitter in (TIA/EIA-485-A)"),
    case(HEAD + LAMPS + "dmx: {devices: 3, universe: ¶2}", "warning: the data line of universe 2 has no lamp; lamps are on: 1"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), VALUES + REFERENCES + ODD)
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Line, column, what is wrong and what would be right, and nothing else."""
    agree(rig_told(marked), messages)


def test_a_broken_decoder_is_told_once() -> None:
    """Cables to and from a decoder that could not be read say nothing of it, nor do lamps."""
    said, marks = rig_told(
        cable("name: run, from: broken, carries: broken, length_m: 1, mm2: 1", ", broken: {slots: ¶x}")
    )
    assert [line.split(": ", 1)[0] + ": " for line in said] == marks


def test_there_is_an_end_to_decoders() -> None:
    """A file of very many decoders is refused rather than worked on for minutes."""
    many = "\n".join(f"  d{i}: {{slots: 512}}" for i in range(MOST_DECODERS + 5))
    with pytest.raises(FileError, match=f"more than {MOST_DECODERS} decoders"):
        rig_from_text("lamps: [{name: a, slot: 1}]\ndecoders:\n" + many)
