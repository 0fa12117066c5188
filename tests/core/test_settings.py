"""Masters, levels, looks, rest, blackout: what stands around the keys."""

from __future__ import annotations

import pytest

from bridge.core.engine import Engine
from bridge.values.events import Do, PortGone
from bridge.values.mapping import DoRule, Feel, Mapping, SetRule
from tests.core.builders import cc, control, each, engine, lit, note, off, on, rig


def test_master_scales_everything_and_0_is_dark() -> None:
    """The master stands at 1 until moved; at 0 the rig is dark."""
    machine = engine(each(), sets=(SetRule(control(21), "master"),))
    assert lit(machine.advance([on(0.0, 60)], 0.0))[0] == 255
    assert lit(machine.advance([cc(0.1, 21, 64)], 0.1))[0] == 129
    assert lit(machine.advance([cc(0.2, 21, 0)], 0.2)) == [0, 0, 0, 0]


def test_group_master_scales_its_lamps_only() -> None:
    """A master with lamps multiplies with the one of the whole rig."""
    rules = (SetRule(control(1), "master", (0,)), SetRule(control(2), "master"))
    machine = engine(each(), sets=rules)
    machine.advance([on(0.0, 60), on(0.0, 61)], 0.0)
    assert lit(machine.advance([cc(0.1, 1, 64), cc(0.1, 2, 64)], 0.1)) == [65, 129, 0, 0]


def test_level_stands_until_moved_and_takes_between() -> None:
    """A level holds its lamps; the knob's lower stop gives the low end itself."""
    machine = engine(each(), sets=(SetRule(control(22), "level", (1, 2), between=(0.2, 0.8)),))
    assert lit(machine.advance([], 0.0)) == [0, 0, 0, 0]
    assert lit(machine.advance([cc(0.1, 22, 0)], 0.1)) == [0, 51, 51, 0]
    assert lit(machine.advance([cc(0.2, 22, 127)], 5.0)) == [0, 204, 204, 0]


def test_rest_is_what_a_lamp_shows_when_nothing_plays_it() -> None:
    """Rest stands under the keys, goes through the master, and is dark in a blackout."""
    machine = Engine(rig(2, rest=0.2), Mapping(keys=(each(2),)))
    assert lit(machine.advance([], 0.0), 2) == [51, 51]
    assert lit(machine.advance([on(0.1, 60)], 0.1), 2) == [255, 51]
    assert lit(machine.advance([off(0.2, 60), Do(0.2, "blackout_on")], 0.2), 2) == [0, 0]


def test_held_blackout_is_dark_while_pressed() -> None:
    """Blackout by a pad holds while the pad does and hides keys played under it."""
    machine = engine(each(), does=(DoRule(note(48), "blackout"),))
    machine.advance([on(0.0, 60), on(0.1, 48)], 0.1)
    assert lit(machine.advance([on(0.2, 61)], 0.2)) == [0, 0, 0, 0]
    assert lit(machine.advance([off(0.3, 48)], 0.3)) == [255, 255, 0, 0]


def test_toggled_blackout_changes_with_each_press() -> None:
    """`toggle: true`: press dark, press light."""
    machine = engine(each(), does=(DoRule(note(48), "blackout", toggle=True),))
    machine.advance([on(0.0, 60), on(0.1, 48), off(0.2, 48)], 0.2)
    assert lit(machine.advance([], 0.3))[0] == 0
    assert lit(machine.advance([on(0.4, 48)], 0.4))[0] == 255


def test_a_blackout_pad_that_is_unplugged_lets_go() -> None:
    """A vanished port cannot keep the rig dark for ever."""
    machine = engine(each(), does=(DoRule(note(48), "blackout"),))
    machine.advance([on(0.0, 60), on(0.1, 48, port="pads")], 0.1)
    assert lit(machine.advance([PortGone(0.2, "pads")], 0.2))[0] == 255


@pytest.mark.parametrize("mode", ["hold", "latch"])
def test_release_all_closes_every_gate(mode: str) -> None:
    """Release-all ends keys, pedals and latches with their release."""
    machine = engine(each(mode=mode, feel=Feel(release=0.1)), does=(DoRule(control(80), "release_all"),))
    machine.advance([cc(0.0, 64, 127), on(0.0, 60)], 0.0)
    machine.advance([cc(0.1, 80, 127)], 0.1)
    assert lit(machine.advance([], 0.3)) == [0, 0, 0, 0]


def test_looks_fade_from_where_they_are_and_stand_under_the_keys() -> None:
    """A look fades in linearly; a new one starts from the picture of the moment; no look fades out."""
    rules = (
        DoRule(note(50), "look", look="a", fade=1.0),
        DoRule(note(51), "look", look="b", fade=1.0),
        DoRule(note(52), "look", look="", fade=0.0),
    )
    machine = engine(each(), does=rules, looks={"a": ((0, 1.0),), "b": ((1, 1.0),)})
    machine.advance([on(0.0, 50)], 0.0)
    assert lit(machine.advance([], 0.5)) == [128, 0, 0, 0]
    assert machine.look == "a"
    machine.advance([on(0.5, 51)], 0.5)
    assert lit(machine.advance([], 1.0)) == [64, 128, 0, 0]
    assert lit(machine.advance([on(1.0, 60)], 1.0)) == [255, 128, 0, 0]
    assert lit(machine.advance([off(2.0, 60), on(2.0, 52)], 2.0)) == [0, 0, 0, 0]


def test_light_holds_one_lamp_from_outside() -> None:
    """`light` sets a lamp or a group by name; 0 lets go; unknown names do nothing."""
    machine = engine(each())
    assert lit(machine.advance([Do(0.0, "light", "l2", 0.5), Do(0.0, "light", "nope", 1.0)], 0.0)) == [
        0,
        0,
        128,
        0,
    ]
    assert lit(machine.advance([Do(0.1, "light", "all", 0.0)], 0.1)) == [0, 0, 0, 0]
