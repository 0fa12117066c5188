# ruff: noqa: E501 - a row of a table is one line
"""Outputs, and rates that a line can carry. Published source: ANSI E1.11 (tests/reference/dmx512_timing.csv)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files import rig_from_text
from bridge.values.errors import FileError
from bridge.values.rig import OutputSpec
from tests.reference_rows import rows
from tests.shell.files.cases import agree, boathouse, case, rig_told

ONE = "lamps: [{name: a, slot: 1}]\n"
TIMING = {row["parameter"]: row for row in rows("dmx512_timing.csv")}


def outputs(text: str, head: str = ONE) -> tuple[OutputSpec, ...]:
    """The outputs of a rig that has no mistakes."""
    return rig_from_text(f"{head}outputs: [{text}]")[0].outputs


def test_the_boathouse_by_hand() -> None:
    """The two outputs of the example."""
    assert boathouse().outputs == (
        OutputSpec("sacn", "sacn 127.0.0.1 universe 1", 1, 1, "127.0.0.1", line=19),
        OutputSpec("serial", "serial /dev/ttyUSB0 break", 1, 1, port="/dev/ttyUSB0", line=20),
    )


def test_every_option() -> None:
    """Each kind takes its own options."""
    made = outputs(
        "{kind: sacn, sends: 1, as: 7, interface: 192.168.1.2, priority: 200, pad_to: 24, refresh_hz: 10},"
        "{kind: artnet, host: 2.0.0.5, universe: 1, as: 32767, interface: '::1', pad_to: 512},"
        "{kind: serial, port: auto, framing: packet, pad_to: 100},"
        "{kind: serial, port: A5xx1234, break_us: 92, refresh_hz: 40}, {kind: memory, sends: 1}"
    )
    assert made == (
        OutputSpec("sacn", "sacn multicast universe 7", 1, 7, interface="192.168.1.2", priority=200, pad_to=24, refresh_hz=10.0, line=2),
        OutputSpec("artnet", "artnet 2.0.0.5 universe 32767", 1, 32767, "2.0.0.5", "::1", pad_to=512, line=2),
        OutputSpec("serial", "serial auto packet", 1, 1, port="auto", framing="packet", pad_to=100, line=2),
        OutputSpec("serial", "serial A5xx1234 break", 1, 1, port="A5xx1234", break_us=92, refresh_hz=40.0, line=2),
        OutputSpec("memory", "memory", 1, 1, line=2),
    )  # fmt: skip


@pytest.mark.parametrize(("kind", "number"), [("sacn", 3), ("artnet, host: 2.0.0.5", 2)])
def test_the_number_a_universe_goes_out_under(kind: str, number: int) -> None:
    """Unless `as` is given, sACN counts universes from 1 as a rig does, and Art-Net from 0."""
    lamp = "lamps: [{name: a, slot: 1, universe: 3}]\n"
    (made,) = outputs(f"{{kind: {kind}, sends: 3}}", lamp)
    assert (made.sends, made.carried_as) == (3, number)


TWO = "lamps: [{name: a, slot: 1, universe: 3}, {name: b, slot: 1, universe: 5}]\n"


def test_early_outputs_and_their_gap() -> None:
    """`early` and the receiver's own limit, in seconds; a limit without early is not kept."""
    made = outputs(
        "{kind: sacn, early: true}, {kind: artnet, host: a, early: true, least_gap_ms: 2.5},"
        "{kind: serial, port: x, early: true}, {kind: serial, port: y, least_gap_ms: 3}"
    )
    assert [(spec.early, spec.gap) for spec in made] == [
        (True, 0.0),
        (True, 0.0025),
        (True, 0.0),
        (False, 0.0),
    ]


@pytest.mark.parametrize(
    ("text", "name", "numbers"),
    [
        ("kind: sacn, host: 10.0.0.5", "sacn 10.0.0.5 all universes", {3: 3, 5: 5}),
        ("kind: sacn, as: 11", "sacn multicast all universes from 11", {3: 11, 5: 13}),
        ("kind: sacn, as: 1", "sacn multicast all universes from 1", {3: 1, 5: 3}),
        ("kind: artnet, host: 10.0.0.5", "artnet 10.0.0.5 all universes", {3: 2, 5: 4}),
        ("kind: artnet, host: 10.0.0.5, as: 0", "artnet 10.0.0.5 all universes from 0", {3: 0, 5: 2}),
    ],
)
def test_all_universes(text: str, name: str, numbers: dict[int, int]) -> None:
    """Each goes out under its own number (Art-Net counts from 0), or the lowest as `as` and the others after it."""
    rig, told = rig_from_text(f"{TWO}outputs: [{{{text}, sends: all}}]")
    (made,) = rig.outputs
    assert (made.whole, made.name, made.numbers(rig.universes)) == (True, name, numbers)
    assert told == []


def test_an_early_output_without_time_for_early_frames_is_told() -> None:
    """512 slots take 22.7 ms of the 25 (ANSI E1.11): `early` then does nothing, and the file says so."""
    for pad, expected in (("pad_to: 512, ", 1), ("", 0)):
        _, told = rig_from_text(f"{ONE}outputs: [{{kind: sacn, {pad}early: true}}]")
        assert sum("early does nothing" in str(warning) for warning in told) == expected


def test_synchronization_and_discovery() -> None:
    """Both are as the file says: no synchronization and a place on the list unless given."""
    made = outputs("{kind: sacn}, {kind: sacn, host: a, sync: 7962, discover: false}")
    assert [(spec.sync, spec.discover) for spec in made] == [(0, True), (7962, False)]


def test_a_universe_may_carry_its_own_synchronization() -> None:
    """One number for data and synchronization is right: receivers count both apart (E1.31 clause 6.7.2)."""
    assert outputs("{kind: sacn, sync: 1}")[0].sync == 1


MISTAKES = [
    case(ONE + "outputs: ¶{kind: sacn}", "'outputs' holds a table of keys and values; begin each entry with '- '"),
    case(ONE + "outputs: [¶5]", "an output is written as keys and values, not as 5; write {kind: …}"),
    case(ONE + "outputs: [{kind: ¶sacm, sends: ¶0}]", "unknown kind of output 'sacm'; did you mean 'sacn'? known: sacn, artnet, serial, memory", "sends 0 is out of range; give a whole number from 1 to 63999"),
    case(ONE + "outputs: [¶{host: 1.2.3.4}]", "an output has no key 'kind'; known: sacn, artnet, serial, memory"),
    case(ONE + "outputs: [{kind: ¶[a]}]", "kind is a list; known: sacn, artnet, serial, memory"),
    case(ONE + "outputs: [¶{kind: artnet}]", "an output has no key 'host'; write host: … (the node's own address)"),
    case(ONE + "outputs: [{kind: artnet, host: ¶255.255.255.255}]", "255.255.255.255 is a broadcast address, which makes every device on the network read every packet; give the node's own address"),
    case(ONE + "outputs: [{kind: sacn, host: ¶'a b'}]", "host is the text 'a b'; give an address, like 192.168.1.20"),
    case(ONE + "outputs: [{kind: sacn, interface: ¶eth0}]", "interface is the text 'eth0'; give an address of this machine, like 192.168.1.2"),
    case(ONE + "outputs: [{kind: sacn, sends: 1, ¶universe: 1}]", "both sends and universe; give one of them: they mean the same"),
    case(ONE + "outputs: [{kind: sacn, priority: ¶201, as: ¶0, pad_to: ¶23}]", "priority 201 is out of range; give a whole number from 0 to 200", "as 0 is out of range; give a whole number from 1 to 63999", "pad_to 23 is out of range; give a whole number from 24 to 512"),
    case(ONE + "outputs: [{kind: artnet, host: a, as: ¶32768}]", "as 32768 is out of range; give a whole number from 0 to 32767"),
    case("lamps: [{name: a, slot: 1, universe: 40000}]\noutputs: [{kind: artnet, host: a, sends: ¶40000}]", "universe 39999 is none of Art-Net; give as: 0 to 32767"),
    case(ONE + "outputs: [¶{kind: serial, framing: ¶brake, break_us: ¶91}]", "an output has no key 'port'; write port: … (the port, like /dev/ttyUSB0 or COM3; auto for the only one; or a USB serial number)", "unknown framing 'brake'; did you mean 'break'? known: break, packet", "break_us 91 is out of range; give a whole number from 92 to 20000"),
    case(ONE + "outputs: [{kind: serial, port: x, ¶as: 3}, {kind: memory, ¶pad_to: 24}]", "unknown key 'as'; known here: kind, port, sends, universe, refresh_hz, pad_to, early, least_gap_ms, framing, break_us", "unknown key 'pad_to'; known here: kind, sends, universe, refresh_hz"),
    case(ONE + "outputs: [{kind: sacn}, ¶{kind: sacn, priority: 1}]", "the same output as on line 2: sacn multicast universe 1; take one of them out"),
    case(ONE + "outputs: [{kind: serial, port: x}, ¶{kind: serial, port: x, framing: packet}]", "the same output as on line 2: serial x packet; take one of them out"),
    case(ONE + "refresh_hz: ¶0", "refresh_hz 0 is out of range; give a number from 1 to 830.56"),
    case(ONE + "refresh_hz: ¶.nan", "refresh_hz .nan cannot be used; give a number from 1 to 830.56"),
    case("refresh_hz: ¶44.1\nlamps: [{name: a, slot: 512}]", "refresh_hz 44.1 is too fast for the 512 slots of universe 1; ANSI E1.11 allows at most 44.09"),
    case("refresh_hz: ¶100\nlamps: [{name: a, slot: 1}]\noutputs: [{kind: sacn, pad_to: 512}]", "refresh_hz 100 is too fast for the 512 slots of universe 1; ANSI E1.11 allows at most 44.09"),
    case(ONE + "outputs: [{kind: memory, ¶early: true}]", "unknown key 'early'; known here: kind, sends, universe, refresh_hz"),
    case(ONE + "outputs: [{kind: sacn, early: ¶yes, least_gap_ms: ¶0}]", "early is the text 'yes'; give true or false", "least_gap_ms 0 is out of range; give a number over 0, at most 1000"),
    case(ONE + "outputs: [{kind: sacn, early: true, least_gap_ms: ¶30}]", "least_gap_ms 30 is over the 25 ms from picture to picture; give this output refresh_hz: 33.33, or a shorter gap"),
    case(ONE + "outputs: [{kind: sacn, sends: ¶every}, {kind: artnet, host: a, sends: ¶0}]", "sends is the text 'every'; give a whole number from 1 to 63999, or all", "sends 0 is out of range; give a whole number from 1 to 63999, or all"),
    case(ONE + "outputs: [{kind: sacn, universe: ¶all}, {kind: serial, port: x, sends: ¶all}]", "universe is the text 'all'; give a whole number from 1 to 63999", "sends is the text 'all'; give a whole number from 1 to 63999"),
    case(ONE + "outputs: [{kind: sacn, sends: all, ¶universe: 1}]", "both sends and universe; give one of them: they mean the same"),
    case(ONE + "outputs: [{kind: sacn, sync: ¶0}, {kind: artnet, host: a, ¶sync: 1}]", "sync 0 is out of range; give a whole number from 1 to 63999", "unknown key 'sync'; known here: kind, host, sends, universe, refresh_hz, pad_to, early, least_gap_ms, interface, as"),
    case(ONE + "outputs: [{kind: sacn, sync: ¶64214, discover: ¶no}]", "sync 64214 is out of range; give a whole number from 1 to 63999", "discover is the text 'no'; give true or false"),
    case(TWO + "outputs: [{kind: sacn, sends: all, as: ¶63998}]", "universe 5 would go out as 64000, past 63999, the last; give as: 1 to 63997"),
    case(TWO + "outputs: [{kind: artnet, host: a, sends: all, as: ¶32766}]", "universe 5 would go out as 32768, past 32767, the last; give as: 0 to 32765"),
    case("lamps: [{name: a, slot: 1}, {name: b, slot: 1, universe: 40000}]\noutputs: [{kind: artnet, host: a, sends: ¶all}]", "universe 40000 would go out as 39999, past 32767, the last; give each universe an output of its own"),
    case(TWO + "outputs: [{kind: sacn, sends: all}, ¶{kind: sacn, sends: all, priority: 1}]", "the same output as on line 2: sacn multicast all universes; take one of them out"),
    case(TWO + "outputs: [{kind: sacn, host: h, sends: all}, ¶{kind: sacn, host: h, sends: 5}]", "sacn h universe 5 sends universe 5, as sacn h all universes on line 2 does; give one of them another as, or take it out"),
    case(TWO + "outputs: [{kind: artnet, host: h, sends: 3, as: 4}, ¶{kind: artnet, host: h, sends: all}]", "artnet h all universes sends universe 4, as artnet h universe 4 on line 2 does; give one of them another as, or take it out"),
    case(TWO + "outputs: [{kind: sacn, host: h, sends: 3, sync: 9}, {kind: sacn, host: h, sends: 5, sync: ¶9}]", "sync 9 is that of sacn h universe 3 on line 2, too; give it another number, or make them one output with sends: all"),
    case("refresh_hz: ¶¶100\n" + TWO + "outputs: [{kind: sacn, sends: all, pad_to: 512}]", "refresh_hz 100 is too fast for the 512 slots of universe 3; ANSI E1.11 allows at most 44.09", "refresh_hz 100 is too fast for the 512 slots of universe 5; ANSI E1.11 allows at most 44.09"),
    case(ONE + "outputs: [{kind: memory, refresh_hz: ¶41}]", "refresh_hz 41 is over the rig's 40; an output's own rate can only be lower"),
    case("refresh_hz: 44\nlamps: [{name: a, slot: 512}]\noutputs: [¶{kind: serial, port: x}, {kind: serial, port: y, break_us: 92}, {kind: serial, port: z, refresh_hz: 43.9}, {kind: serial, port: w, framing: packet}]", "44 pictures a second are too many for 512 slots and a break of 176 us; ANSI E1.11 allows at most 43.93"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), MISTAKES)
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Each mistake in an output is told once, at its line and column, with what would be right."""
    agree(rig_told(marked), messages)


WARNINGS = [
    case(ONE + "outputs: [{kind: memory}, {kind: sacn, sends: ¶2}]", "warning: sacn multicast universe 2 sends universe 2, which has no lamp; lamps are on: 1"),
    case("lamps: [{name: a, slot: 1}, {name: b, slot: 1, universe: 2}]\noutputs: [¶{kind: sacn}]", "warning: no output sends universe 2, so 'b' stays dark; add one with sends: 2"),
    case(ONE + "outputs: [{kind: sacn, ¶least_gap_ms: 2}]", "warning: least_gap_ms does nothing without early; add early: true, or refresh_hz for a slower rate"),
    case(ONE + "outputs: [{kind: serial, port: x, framing: packet, ¶break_us: 100}]", "warning: break_us does nothing with framing packet; the interface makes its own break"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), WARNINGS)
def test_what_is_odd_is_a_warning(marked: str, messages: tuple[str, ...]) -> None:
    """What can be played but lights nothing, or does nothing, is told as a warning."""
    agree(rig_told(marked), messages)


def fits(refresh_hz: float, slots: int) -> bool:
    """True if a rig may have this rate with these slots in use."""
    try:
        rig_from_text(f"refresh_hz: {refresh_hz}\nlamps: [{{name: a, slot: {slots}}}]")
    except FileError:
        return False
    return True


@pytest.mark.parametrize("slots", [24, 512])
def test_the_published_rates(slots: int) -> None:
    """The highest rate is the published one: just below it a rig is right, just above it is not."""
    highest = float(TIMING[f"max_refresh_{slots}_slots"]["typical"])
    assert fits(math.floor(highest * 100) / 100, slots)
    assert not fits(math.ceil(highest * 100) / 100, slots)


@given(st.integers(1, 512))
def test_the_rate_told_is_a_rate_that_fits(slots: int) -> None:
    """The rate that a message calls the highest is accepted; 0.02 Hz more is not."""
    packet_us = max(1204, 92 + 12 + 44 * (slots + 1))
    highest = math.floor(1e8 / packet_us) / 100
    assert fits(highest, slots)
    assert not fits(highest + 0.02, slots)
