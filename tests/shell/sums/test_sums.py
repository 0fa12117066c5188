"""What `check` works out of a rig: each figure with its formula, against the published cases.

Published values: tests/reference/electrical.csv and dmx512_timing.csv; each row names its source.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.parts.guard_load import LoadGuard
from bridge.shell.files import rig_from_text
from bridge.shell.sums import decoder_loads, hanging, ranges, sum_lines, supply_loads
from bridge.values.events import Do
from bridge.values.mapping import Mapping
from bridge.values.rig import Decoder, DmxLine, Lamp, Rig, Supply
from tests.reference_rows import rows
from tests.shell.files.cases import RIG
from tests.shell.files.test_rig_wiring import WIRED

PUBLISHED = {f"{row['topic']}: {row['name']}": row for row in rows("electrical.csv")}


def told(text: str) -> str:
    """All sums of a rig as one text, every line whole again."""
    lines = sum_lines(rig_from_text(text)[0])
    return re.sub(r"\n {6,}", " ", "\n".join(lines))


def published(name: str) -> float:
    """A published value."""
    return float(PUBLISHED[name]["value"])


def test_a_published_supply() -> None:
    """24 lamps of 0.35 A on 10 A less a fifth: 8.4 A of 8, so all at once at most 0.952381 of full."""
    text = told(
        "supplies: {main: {volts: 12, amps: 10}}\nlamp_types: {lamp: {amps: 0.35}}\n"
        "grids: [{name: g, columns: 6, rows: 4, type: lamp, supply: main, slot: 1}]"
    )
    connected = published("supply: example 24 lamps at 12 V")
    budget = published("supply: example 10 A supply")
    assert f"connected: 24 x 0.35 A = {connected:g} A" in text
    assert f"budget: 10 A x (1 - 0.2) = {budget:g} A" in text
    assert "105 % of the budget, over it: the guard scales the lamps together" in text
    assert f"all at once: 8 A for 8.4 A, at most 1: {budget / connected:.4g} of full" in text


@pytest.mark.parametrize(
    ("volts", "amps", "length", "mm2", "case"),
    [(5, 3, 5, 0.75, 1), (24, 2, 20, 1.5, 2), (12, 5, 10, 2.5, 3)],
)
def test_published_voltage_drops(volts: float, amps: float, length: float, mm2: float, case: int) -> None:
    """Each published run of stranded copper loses the published volts, and the formula stands beside it."""
    drop = published(f"voltage drop: case {case}")
    text = told(
        f"supplies: {{main: {{volts: {volts}, amps: 50}}}}\n"
        f"lamps: [{{name: a, slot: 1, supply: main, amps: {amps}}}]\n"
        f"cables: [{{name: run, carries: a, length_m: {length}, mm2: {mm2}, wire: stranded}}]"
    )
    assert f"R = 2 x {length} m x " in text
    assert f"= {drop:.4g} V; {drop:.4g} V / {volts} V = {100 * drop / volts:.4g} %" in text
    assert ("warning:" in text) == (100 * drop / volts > 5.0)


@pytest.mark.parametrize(
    ("case", "volts", "led"),
    [
        (1, 5, "{drop_v: 2.0, amps: 0.01}"),
        (2, 5, "{drop_v: 3.2, amps: 0.015}"),
        (3, 12, "{drop_v: 3.2, amps: 0.02}"),
        (4, 12, "{drop_v: 3.2, amps: 0.02, in_series: 3}"),
        (5, 24, "{drop_v: 3, amps: 0.02, in_series: 3}"),
        (6, 12, "{drop_v: 2.1, amps: 0.35}"),
        (7, 3.3, "{drop_v: 2, amps: 0.002}"),
    ],
)
def test_published_resistors(case: int, volts: float, led: str) -> None:
    """Exact ohm, the next E24 value up (an exact hit kept), and the wattage with a factor two in hand."""
    text = told(
        f"supplies: {{main: {{volts: {volts}, amps: 5}}}}\n"
        f"lamps: [{{name: a, slot: 1, supply: main, led: {led}}}]"
    )
    name = f"led resistor: case {case}"
    exact, up = published(f"{name} exact R"), published(f"{name} E24 up")
    rating = published(f"{name} wattage rating")
    assert f"= {exact:.4g} ohm" in text
    assert f"next E24 value up from {exact:.4g} ohm: {up:g} ohm" in text
    assert f": {rating:g} W" in text


def test_leds_that_leave_nothing_are_told() -> None:
    """A string that drops all the supply gives has no resistor; `check` says what to do."""
    text = told(
        "supplies: {main: {volts: 5, amps: 5}}\n"
        "lamps: [{name: a, slot: 1, supply: main, led: {drop_v: 3, amps: 0.02, in_series: 2}}]"
    )
    assert "warning: LEDs of 6 V at 0.02 A leave nothing to drop on 5 V; put fewer in a row" in text


def test_the_data_line() -> None:
    """32 receivers between two terminators are the published worst load; an open end is warned of."""
    head = "lamps: [{name: a, slot: 1}]\n"
    worst = published("rs485: worst load")
    text = told(head + "dmx: {devices: 32, length_m: 300, terminated: true}")
    assert f"R = 1 / (2 / 120 ohm + 32 / 12000 ohm) = {worst:.4g} ohm" in text
    assert "warning" not in text
    text = told(head + "dmx: {devices: 33, length_m: 301}")
    assert [part[:30] for part in text.split("warning: ")[1:]] == [
        "more receivers than one pair m",
        "longer than planned for: put a",
        "an open end reflects: put 120 ",
    ]


def test_what_loses_volts_twice() -> None:
    """A run from a decoder adds the run that feeds the decoder: 0.492 V and 0.624 V by hand (IEC 60228)."""
    text = told(WIRED)
    assert "with trunk before it (0.492 V): 1.116 V lost, 10.88 V at the load" in text
    assert "warning: 9.3 % lost; 1 mm2 would lose 3.9 % in this run" in text


def test_fuses_fit_wire_and_supply() -> None:
    """A fuse above the supply's own amps is not suggested, nor one that the wire does not bear."""
    text = told(RIG.replace("amps: 25", "amps: 19"))
    assert "never blow: divide the lamps into branches of at most 12 A (15 A / 1.25)" in text
    thin = told(WIRED.replace("rated_amps: 16", "rated_amps: 6"))
    assert "no fuse suits a wire for 6 A; take thicker wire or split the load" in thin


def test_the_peak_is_stated_and_warned_of() -> None:
    """The connected load is stated as the peak; above the supply's amps it is a warning, average or not."""
    text = told(RIG)
    assert (
        "peak of pulse-width dimming, all in the on part of their cycle at once: 18.67 A = 75 % of 25 A"
        in text
    )
    assert "warning" not in text
    assert "warning: 18.67 A of lamps on a supply of 15 A" in told(RIG.replace("amps: 25", "amps: 15"))


def test_the_typical_load_is_that_of_the_engine() -> None:
    """Typical and worst case are what the guard measures with every lamp at level 0.5 and at 1."""
    rig = rig_from_text(RIG.replace("load: limit", "load: warn"))[0]
    (load,) = supply_loads(rig)
    for level, wanted in ((0.5, load.typical), (1.0, load.worst)):
        engine = Engine(rig, Mapping("light"))
        engine.advance([Do(0.0, "light", "all", level)], 0.0)
        guard = engine.guards["load"]
        assert isinstance(guard, LoadGuard)
        # A slot has 255 steps: half a step of each lamp is what the two may differ by.
        assert guard.supply_load[0] == pytest.approx(wanted, abs=0.5 / 255 * load.connected)


def test_lamps_that_say_nothing_are_named() -> None:
    """Lamps without watts, amps or supply are not counted, and it is said which."""
    text = told(
        "supplies: {main: {volts: 12, amps: 5}}\n"
        "lamps: [{name: a, slot: 1, supply: main, watts: 6}, {name: b, slot: 2, supply: main},"
        " {name: c, slot: 3}]"
    )
    assert "not counted, since the file gives neither watts nor amps: b" in text
    assert "on no supply, so counted and guarded nowhere: c" in text
    assert "none in the file: add supplies:" in told("lamps: [{name: a, slot: 1}]")


def test_the_address_plan() -> None:
    """Ranges of decoders, their switches, gaps, overlaps, lamps on none, and slots that are shared."""
    text = told(
        "lamps: [{name: a, slot: 1}, {name: b, slot: 30, bits: 16}, {name: c, slot: 60, shares: true},"
        " {name: d, slot: 60, shares: true}]\n"
        "decoders: {box: {slots: 4}, two: {slots: 10, start: 25}, three: {slots: 10, start: 34}}"
    )
    assert "universe 1: 4 lamps on slots 1, 30 to 31, 60, 4 of 512" in text
    assert "box: slots 1 to 4, address 001, switches on: 1; 1 of 4 in use, free: 2 to 4" in text
    assert "two: slots 25 to 34, address 025, switches on: 1, 4, 5;" in text
    assert "gaps, on no decoder: 5 to 24" in text
    assert "warning: overlap: two and three both take 34, and light together" in text
    assert "warning: on no decoder: c, d" in text
    assert "slot 60 is shared by c, d" in text
    assert "gaps: 2 to 29, 32 to 59" in told(
        "lamps: [{name: a, slot: 1}, {name: b, slot: 30, bits: 16}, {name: c, slot: 60}]"
    )


def test_the_highest_refresh_rate() -> None:
    """A full universe goes at 44.10 a second at most (ANSI E1.11), less with a longer break."""
    text = told("lamps: [{name: a, slot: 512}]\noutputs: [{kind: serial, port: x, break_us: 176}]")
    assert (
        "its 512 slots allow 44.10 at most (1 s / max(1204 us, 92 us + 12 us + 44 us x 513); ANSI E1.11)"
        in text
    )
    assert "serial x break: 43.94 at most (1 s / max(1204 us, 176 us + 12 us + 44 us x 513))" in text


def test_overlapping_decoders_count_a_lamp_once() -> None:
    """A lamp on two decoders counts for the first, as in the load guard."""
    lamps = (
        Lamp("a", 0, 1, 1, amps=1.0),
        Lamp("b", 1, 1, 3, amps=2.0),
        Lamp("w", 2, 1, 4, bits=16, amps=4.0),
    )
    rig = Rig("two", lamps, decoders=(Decoder("p", 1, 1, 4), Decoder("q", 1, 3, 4)))
    assert {name: [lamp.name for lamp in found] for name, found in hanging(rig).items()} == {
        "p": ["a", "b"],
        "q": [],
    }
    assert [load.connected for load in decoder_loads(rig)] == [3.0, 0.0]


@given(st.sets(st.integers(1, 40), min_size=1))
def test_ranges_name_each_slot_once(slots: set[int]) -> None:
    """Ranges read back to the very slots they were made of."""
    text = ranges(sorted(slots))
    if "ranges more" not in text:
        back: set[int] = set()
        for part in text.split(", "):
            first, _, last = part.partition(" to ")
            back |= set(range(int(first), int(last or first) + 1))
        assert back == slots


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(st.integers(1, 512), st.sampled_from([8, 16]), st.floats(0.0, 20.0), st.floats(0.0, 1.0)),
        min_size=1,
        max_size=12,
    ),
    st.floats(0.1, 60.0),
    st.floats(0.0, 0.95),
    st.lists(st.tuples(st.integers(1, 40), st.integers(1, 40), st.floats(0.0, 9.0)), max_size=3),
)
def test_any_rig_has_its_sums(
    lamps: list[tuple[int, int, float, float]],
    gives: float,
    headroom: float,
    boxes: list[tuple[int, int, float]],
) -> None:
    """No rig stops the sums; the typical load is never over the worst, nor that over what is connected."""
    rig = Rig(
        "any",
        tuple(
            Lamp(
                f"l{i}", i, 1, min(slot, 511), bits, watts=watts, ceiling=ceiling, supply="s", response="cie"
            )
            for i, (slot, bits, watts, ceiling) in enumerate(lamps)
        ),
        supplies=(Supply("s", 12.0, gives, headroom),),
        decoders=tuple(
            Decoder(f"d{i}", 1, start, slots, amps) for i, (start, slots, amps) in enumerate(boxes)
        ),
        dmx=(DmxLine(1, 3),),
    )
    (load,) = supply_loads(rig)
    assert load.typical <= load.worst * (1 + 1e-9)
    assert load.worst <= load.connected * (1 + 1e-9)
    assert all(len(line) <= 110 for line in sum_lines(rig))
