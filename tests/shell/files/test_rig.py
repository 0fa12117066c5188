# ruff: noqa: E501 - an example of the language stays on its lines
"""A rig file becomes the lamps, groups and supplies that DESIGN's example promises, checked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files import rig_from_text
from bridge.values.rig import Grid, Lamp, Rig, Supply
from tests.shell.files.cases import boathouse, rig_told

SIZES = st.integers(1, 22)


def rig(text: str) -> Rig:
    """The rig of a text that has neither mistakes nor warnings."""
    made, warnings = rig_from_text(text)
    assert warnings == []
    return made


def slots(made: Rig) -> dict[str, int]:
    """The slot of each lamp, in the order of the rig."""
    return {lamp.name: lamp.slot for lamp in made.lamps}


def test_the_boathouse_by_hand() -> None:
    """28 lamps in the order of the file; first, last of the grid, head and lamp are as written."""
    made = boathouse()
    assert (made.name, made.refresh_hz, made.on_exit) == ("Boathouse lamps", 40.0, "blackout")
    assert made.supplies == (Supply("quay", 12.0, 25.0, 0.2),)
    assert made.guards == {"load": "limit", "flash": "limit", "heat": "warn"}
    assert len(made.lamps) == 28
    assert [lamp.index for lamp in made.lamps] == list(range(28))
    shop = {
        "kind": "workshop",
        "response": "cie",
        "floor": 0.02,
        "ceiling": 0.9,
        "watts": 8.0,
        "supply": "quay",
    }
    assert made.lamps[0] == Lamp("roof.1.1", 0, 1, 1, at=(0.0, 2.0), line=10, **shop)
    assert made.lamps[1] == Lamp("roof.2.1", 1, 1, 2, at=(1.2, 2.0), line=10, **shop)
    assert made.lamps[6].name == "roof.1.2"
    assert made.lamps[6].at == (0.0, 2.9)
    assert (made.lamps[23].name, made.lamps[23].slot) == ("roof.6.4", 24)
    assert made.lamps[23].at == pytest.approx((6.0, 4.7))
    head = {"kind": "post", "watts": 8.0, "supply": "quay", "line": 12}
    assert made.lamps[24:27] == (
        Lamp("west.red", 24, 1, 25, at=(-1.5, 0.6), colour="red", **head),
        Lamp("west.amber", 25, 1, 26, at=(-1.5, 0.3), colour="amber", **head),
        Lamp("west.green", 26, 1, 27, at=(-1.5, 0.0), colour="green", **head),
    )
    assert made.lamps[27] == Lamp("door", 27, 1, 40, at=(3.0, 1.0), rest=0.1, line=13, **shop)


def test_the_names_of_the_boathouse() -> None:
    """Grids, columns, heads, groups and `all` are names for several lamps."""
    made = boathouse()
    assert list(made.groups) == [
        "all", "roof", *(f"roof.{column}" for column in range(1, 7)), "west", "left", "right", "reds",
    ]  # fmt: skip
    assert made.groups["all"] == tuple(range(28))
    assert made.groups["roof"] == tuple(range(24))
    assert made.groups["roof.2"] == (1, 7, 13, 19)
    assert made.groups["west"] == (24, 25, 26)
    assert made.groups["left"] == (0, 6, 12, 18, 1, 7, 13, 19, 2, 8, 14, 20)
    assert made.groups["reds"] == (24,)


def test_what_is_not_given() -> None:
    """A lamp of name and slot is white, linear, of eight bits, on universe 1; a rig has 40 Hz and its guards."""
    made = rig("lamps: [{name: a, slot: 7}]")
    assert made == Rig(lamps=(Lamp("a", 0, 1, 7, line=1),), groups={"all": (0,)})
    assert (made.refresh_hz, made.on_exit, made.outputs) == (40.0, "blackout", ())


def test_names_that_look_like_numbers_stay_names() -> None:
    """007, 1.10, true and on are names as written, wherever a name stands."""
    made = rig(
        "supplies: {1: {volts: 12, amps: 1}}\nlamp_types: {0x10: {}}\n"
        "lamps: [{name: 007, slot: 1, supply: 1, type: 0x10}, {name: 1.10, slot: 2}, {name: true, slot: 3},"
        " {name: on, slot: 4}]\ngroups: {5: [007, 1.10, true, on], 6: 1}"
    )
    assert list(slots(made)) == ["007", "1.10", "true", "on"]
    assert (made.lamps[0].supply, made.lamps[0].kind) == ("1", "0x10")
    assert made.groups["5"] == (0, 1, 2, 3)
    assert made.groups["6"] == (1,)


def test_lamps_stand_in_the_order_of_the_file() -> None:
    """Where lamps come before grids in the file, they come first in the rig."""
    grids = "grids: [{name: g, columns: 1, rows: 2, slot: 1}]\n"
    lamps = "lamps: [{name: a, slot: 9}]\n"
    assert list(slots(rig(grids + lamps))) == ["g.1.1", "g.1.2", "a"]
    assert list(slots(rig(lamps + grids))) == ["a", "g.1.1", "g.1.2"]


@pytest.mark.parametrize(
    ("keys", "order"),
    [
        ("", "1.1 2.1 3.1 1.2 2.2 3.2"),
        ("order: rows", "1.1 2.1 3.1 1.2 2.2 3.2"),
        ("order: columns", "1.1 1.2 2.1 2.2 3.1 3.2"),
        ("order: snake", "1.1 2.1 3.1 3.2 2.2 1.2"),
        ("from: upper_right", "3.2 2.2 1.2 3.1 2.1 1.1"),
        ("from: lower_right, order: columns", "3.1 3.2 2.1 2.2 1.1 1.2"),
        ("from: upper_left, order: snake", "1.2 2.2 3.2 3.1 2.1 1.1"),
        ("from: upper_right, order: columns", "3.2 3.1 2.2 2.1 1.2 1.1"),
    ],
)
def test_the_order_of_a_grid(keys: str, order: str) -> None:
    """Slots and lamps run as order and corner say; names count from the lower left whatever they say."""
    made = rig(f"grids: [{{name: g, columns: 3, rows: 2, slot: 5, {keys}}}]")
    assert slots(made) == {f"g.{place}": 5 + i for i, place in enumerate(order.split())}
    assert {lamp.name: lamp.at for lamp in made.lamps}["g.3.2"] == (2.0, 1.0)


def test_skipped_places_take_no_slot() -> None:
    """A place is skipped by name or as a pair; 1.10 is the tenth row, not the first."""
    made = rig("grids: [{name: g, columns: 2, rows: 2, slot: 5, skip: [2.1, [1, 2]]}]")
    assert slots(made) == {"g.1.1": 5, "g.2.2": 6}
    tall = rig("grids: [{name: g, columns: 1, rows: 10, slot: 1, skip: [1.10]}]")
    assert "g.1.10" not in slots(tall)
    assert len(tall.lamps) == 9


def test_a_list_of_slots_in_the_order_of_the_grid() -> None:
    """Slots that do not follow one another are given in the order in which places are counted."""
    made = rig("grids: [{name: g, columns: 2, rows: 2, from: upper_left, slots: [9, 3, 7, 001], skip: []}]")
    assert slots(made) == {"g.1.2": 9, "g.2.2": 3, "g.1.1": 7, "g.2.1": 1}


def test_a_grid_of_heads() -> None:
    """Each place of a grid may be a head; it takes as many slots as its type."""
    made = rig(
        "lamp_types: {t: {parts: {red: {at: [0, 0.5]}, blue: {bits: 16}}}}\n"
        "grids: [{name: g, columns: 2, rows: 1, type: t, slot: 1, at: [1, 1]}]"
    )
    assert slots(made) == {"g.1.1.red": 1, "g.1.1.blue": 2, "g.2.1.red": 4, "g.2.1.blue": 5}
    assert made.lamps[2].at == (2.0, 1.5)
    assert made.groups["g.2.1"] == (2, 3)


@given(SIZES, SIZES, st.sampled_from(["rows", "columns", "snake"]), st.sampled_from(["lower", "upper"]),
       st.sampled_from(["left", "right"]))  # fmt: skip
def test_every_grid_has_each_place_once(columns: int, rows: int, order: str, up: str, side: str) -> None:
    """Whatever the order, every place has one lamp and one slot, and the slots follow one another."""
    made = rig(
        f"grids: [{{name: g, columns: {columns}, rows: {rows}, slot: 1, order: {order}, from: {up}_{side}}}]"
    )
    assert {lamp.name for lamp in made.lamps} == {
        f"g.{column}.{row}" for column in range(1, columns + 1) for row in range(1, rows + 1)
    }
    assert [lamp.slot for lamp in made.lamps] == list(range(1, columns * rows + 1))


def test_the_cells_of_a_grid() -> None:
    """A grid's lamps by row from below and column from the left, a set for each part of heads, holes at -1.

    Lamps of other entries whose names begin like the grid's are none of its cells.
    """
    assert boathouse().grids == (Grid("roof", tuple(tuple(range(6 * row, 6 * row + 6)) for row in range(4))),)
    made = rig(
        "lamp_types: {t: {parts: {red: {}, blue: {}}}}\nlamps: [{name: g.hook, slot: 1}, {name: g.9.9, slot: 2}]\n"
        "grids: [{name: g, columns: 2, rows: 2, slot: 3, from: upper_left, skip: [2.2]},"
        " {name: h, columns: 2, rows: 1, type: t, slot: 7}]"
    )
    assert made.grids == (
        Grid("g", ((3, 4), (2, -1))),
        Grid("h.*.*.red", ((5, 7),)),
        Grid("h.*.*.blue", ((6, 8),)),
    )


def test_parts_with_wires_out_of_order() -> None:
    """`slots` on a lamp gives each part its own slot."""
    made = rig(
        "lamp_types: {t: {parts: {red: {}, amber: {}}}}\nlamps: [{name: w, type: t, slots: {amber: 9, red: 1}}]"
    )
    assert slots(made) == {"w.red": 1, "w.amber": 9}


def test_slots_of_parts_count_on() -> None:
    """A part without a slot follows the one before it, two slots on where that one has 16 bits."""
    made = rig(
        "lamp_types: {t: {parts: {a: {bits: 16}, b: {}, c: {slot: 9}, d: {}}}}\nlamps: [{name: w, type: t, slot: 10}]"
    )
    assert slots(made) == {"w.a": 10, "w.b": 12, "w.c": 19, "w.d": 20}
    assert [lamp.bits for lamp in made.lamps] == [16, 8, 8, 8]


def test_the_nearest_word_counts() -> None:
    """What the lamp says goes before its part, the part before its type, and the type before what is usual."""
    made = rig(
        "lamp_types: {t: {watts: 5, rest: 0.5, floor: 0.1, amps: 2, heat: {full_s: 60, rest_s: 30},"
        " parts: {one: {watts: 3, rest: 0.4}, two: {}}}}\nlamps: [{name: w, type: t, slot: 1, rest: 0.2}]"
    )
    one, two = made.lamps
    # Watts and amps are two words for one thing: the part's watts leave nothing of the type's amps.
    assert (one.watts, one.rest, one.floor, one.amps, one.heat) == (3.0, 0.2, 0.1, 0.0, (60.0, 30.0))
    assert (two.watts, two.rest, two.ceiling, two.amps) == (5.0, 0.2, 1.0, 2.0)


def test_colours() -> None:
    """A part's own colour, its name where that is a colour, the head's, the type's, white."""
    made = rig(
        "lamp_types: {t: {colour: pink, parts: {red: {}, blue: {colour: '#0A0B0C'}, lens: {}}}, u: {colour: uv}}\n"
        "lamps: [{name: a, type: t, slot: 1}, {name: b, type: t, slot: 11, colour: green}, {name: c, type: u, slot: 21},"
        " {name: red, slot: 30}]"
    )
    assert [lamp.colour for lamp in made.lamps] == [
        "red", "#0a0b0c", "pink", "red", "#0a0b0c", "green", "uv", "white",
    ]  # fmt: skip


def test_responses_of_points_reach_from_end_to_end() -> None:
    """Points of a response get (0, 0) and (1, 1) where they do not reach the ends."""
    made = rig(
        "lamps: [{name: a, slot: 1, response: [[0.5, 0.2]]}, {name: b, slot: 2, response: [[0, 0.1], [1, 0.8]]}]"
    )
    assert made.lamps[0].response == ((0.0, 0.0), (0.5, 0.2), (1.0, 1.0))
    assert made.lamps[1].response == ((0.0, 0.1), (1.0, 0.8))


def test_slots_that_are_shared() -> None:
    """Two lamps may have one slot where both say so, and any number on different universes."""
    made = rig(
        "lamps: [{name: a, slot: 1, shares: true}, {name: b, slot: 1, shares: true}, {name: c, slot: 1, universe: 2},"
        " {name: d, slot: 511, bits: 16, universe: 63999}]"
    )
    assert made.universes == (1, 2, 63999)
    assert made.top_slot(63999) == 512


def test_groups_of_groups_in_any_order() -> None:
    """A group may name groups after it; lamps stand in the order of the mentions, each at the first."""
    made = rig(
        "lamps: [{name: a, slot: 1}, {name: b, slot: 2}, {name: c.d, slot: 3}, {name: c.e, slot: 4, colour: red}]\n"
        "groups: {one: [two, a], two: [three, b], three: c, four: [{colour: red}, all], five: [b, a, b], six: '*.e'}"
    )
    assert {name: made.groups[name] for name in ("one", "two", "three", "four", "five", "six")} == {
        "one": (2, 3, 1, 0), "two": (2, 3, 1), "three": (2, 3), "four": (3, 0, 1, 2), "five": (1, 0), "six": (3,),
    }  # fmt: skip
    assert list(made.groups) == ["all", "c", "one", "two", "three", "four", "five", "six"]


def test_a_chain_of_ten_thousand_groups() -> None:
    """Groups of groups are resolved without recursion, a circle of thousands included."""
    chain = "".join(f"  g{i}: g{i + 1}\n" for i in range(10_000))
    made = rig(f"lamps: [{{name: a, slot: 1}}]\ngroups:\n{chain}  g10000: a\n")
    assert made.groups["g0"] == (0,)
    said, _ = rig_told(f"lamps: [{{name: a, slot: 1}}]\ngroups:\n{chain}  g10000: g0\n")
    assert said == [
        "10003:11: groups in a circle: g0 > g1 > g2 > g3 > g4 > g5 > … > g9997 > g9998 > g9999 > g10000 > g0; "
        "take one of them out"
    ]


def test_a_rig_without_lamps_is_a_warning() -> None:
    """A rig whose sections are all commented out can be read, and says that it has no lamps."""
    said, _ = rig_told("rig: empty\nlamps:\nguards:\ngrids:\n  # - {name: roof}\n")
    assert said == ["1:1: warning: the rig has no lamps; add some under 'lamps:' or 'grids:'"]


def test_a_rig_of_too_many_lamps_is_refused() -> None:
    """A small file cannot make millions of lamps."""
    text = "grids:\n" + "".join(
        f"  - {{name: g{i}, columns: 32, rows: 16, slot: 1, universe: {i}}}\n" for i in range(1, 67)
    )
    said, _ = rig_told(text)
    assert said == [
        "66:5: more than 32768 lamps; divide the rig in two",
        "67:5: more than 32768 lamps; divide the rig in two",
    ]
