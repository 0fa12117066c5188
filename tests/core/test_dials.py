"""Wide controllers, parameter numbers and knobs that take over."""

from __future__ import annotations

import pytest

from bridge.core.dials import Dials, Turn
from bridge.values.events import Bend, ChannelPressure, Control, Do, Event, Program
from bridge.values.mapping import DoRule, SetRule, Trigger
from tests.core.builders import cc, control, each, engine, lit, on
from tests.reference_rows import rows


def values(dials: Dials, *events: Event) -> dict[tuple[str, int], float]:
    """The last value of everything turned."""
    out: dict[tuple[str, int], float] = {}
    for event in events:
        out |= {(turn.kind, turn.number): turn.value for turn in dials.turns(event)}
    return out


def test_a_coarse_value_alone_sets_the_fine_half_to_0() -> None:
    """MIDI 1.0, controllers 0..31 with 32..63: MSB then LSB make 14 bits, a new MSB clears the LSB."""
    dials = Dials()
    assert values(dials, cc(0, 1, 64), cc(0, 33, 5))["control14", 1] == (64 * 128 + 5) / 16383
    assert values(dials, cc(0, 1, 100))["control14", 1] == 100 * 128 / 16383


def test_parameters_are_chosen_then_entered() -> None:
    """RPN and NRPN: 101/100 or 99/98 choose, 6 and 38 enter, 96 and 97 step, 127/127 chooses none."""
    dials = Dials()
    rpn = values(dials, cc(0, 101, 0), cc(0, 100, 2), cc(0, 6, 64), cc(0, 38, 1))
    assert rpn["rpn", 2] == (64 * 128 + 1) / 16383
    assert values(dials, cc(0, 96, 0))["rpn", 2] == (64 * 128 + 2) / 16383
    assert values(dials, cc(0, 97, 0), cc(0, 97, 0))["rpn", 2] == (64 * 128) / 16383
    assert values(dials, cc(0, 99, 1), cc(0, 98, 3), cc(0, 6, 127), cc(0, 38, 127))["nrpn", 131] == 1.0
    nothing = values(dials, cc(0, 101, 127), cc(0, 100, 127), cc(0, 6, 3))
    assert not [name for name in nothing if name[0] in ("rpn", "nrpn")]


def test_channels_do_not_share_halves() -> None:
    """The fine half belongs to the coarse one of its own channel and port."""
    dials = Dials()
    values(dials, cc(0, 1, 64, channel=2), cc(0, 1, 32, port="q"))
    assert values(dials, cc(0, 33, 5))["control14", 1] == 5 / 16383


@pytest.mark.parametrize(
    ("event", "turn"),
    [
        (Bend(0, "p", 1, -8192), Turn("bend", 0, 0.0)),
        (Bend(0, "p", 1, 8191), Turn("bend", 0, 1.0)),
        (ChannelPressure(0, "p", 1, 127), Turn("pressure", 0, 1.0)),
        (Program(0, "p", 1, 5), Turn("program", 5, 1.0)),
    ],
)
def test_wheel_pressure_and_program_turn_too(event: Event, turn: Turn) -> None:
    """The wheel runs from 0 to 1 with its rest in the middle."""
    assert Dials().turns(event) == [turn]


@pytest.mark.parametrize(
    "row",
    [r for r in rows("midi_messages.csv") if r["name"] in ("pitch_bend_centre", "controller_pair_example")],
)
def test_14_bit_values_of_the_published_table(row: dict[str, str]) -> None:
    """midi_messages.csv (MIDI 1.0): Bn 07 40 then Bn 27 41 is 8257; the wheel at rest is 8192 of 16383."""
    pair = values(Dials(), cc(0, 7, 0x40), cc(0, 0x27, 0x41))["control14", 7]
    wheel = values(Dials(), Bend(0, "p", 1, 0))["bend", 0]
    got = pair if row["name"] == "controller_pair_example" else wheel
    assert round(got * 16383) == int(row["value"])


def test_a_knob_with_takeover_does_nothing_until_it_meets_the_value() -> None:
    """`takeover: true`: the master stands at 1, so the knob must pass there before it moves anything."""
    machine = engine(each(), sets=(SetRule(control(21), "master", takeover=True),))
    machine.advance([on(0.0, 60)], 0.0)
    assert lit(machine.advance([cc(0.1, 21, 20), cc(0.1, 21, 60)], 0.1))[0] == 255
    assert lit(machine.advance([cc(0.2, 21, 127)], 0.2))[0] == 255
    assert lit(machine.advance([cc(0.3, 21, 64)], 0.3))[0] == 129
    assert lit(machine.advance([Do(0.4, "master", value=1.0)], 0.4))[0] == 255
    assert lit(machine.advance([cc(0.5, 21, 60)], 0.5))[0] == 255
    assert lit(machine.advance([cc(0.6, 21, 127), cc(0.6, 21, 64)], 0.6))[0] == 129


def test_a_knob_can_bring_in_a_look() -> None:
    """`sets: look`: the look stands as far as the knob is up."""
    machine = engine(sets=(SetRule(Trigger("bend"), "look", name="a"),), looks={"a": ((1, 0.5),)})
    assert lit(machine.advance([Bend(0.0, "p", 1, 8191)], 0.0)) == [0, 128, 0, 0]
    assert lit(machine.advance([Bend(0.1, "p", 1, -8192)], 0.1)) == [0, 0, 0, 0]


def test_a_program_change_calls_a_look_and_a_knob_sets_its_fade() -> None:
    """`{program: 6, does: look}` hears 5 as sent; without `fade_ms` the fade is what a knob has set."""
    rules = (DoRule(Trigger("program", (5,)), "look", look="a"),)
    sets = (SetRule(control(9), "fade", between=(0.0, 4.0)),)
    machine = engine(does=rules, sets=sets, looks={"a": ((1, 1.0),)})
    machine.advance([cc(0.0, 9, 127), Program(0.0, "p", 1, 5)], 0.0)
    assert lit(machine.advance([], 2.0)) == [0, 128, 0, 0]
    machine.advance([Program(3.0, "p", 1, 4)], 3.0)
    assert lit(machine.advance([], 4.0)) == [0, 255, 0, 0]


def test_a_wide_controller_moves_in_fine_steps() -> None:
    """14 bits through a level: the fine half alone changes what a 16-bit lamp shows."""
    machine = engine(sets=(SetRule(Trigger("control14", (2,)), "level", (0,)),))
    assert lit(machine.advance([Control(0.0, "p", 1, 2, 64), Control(0.0, "p", 1, 34, 0)], 0.0))[0] == 128
    assert lit(machine.advance([Control(0.1, "p", 1, 34, 127)], 0.1))[0] == 129
