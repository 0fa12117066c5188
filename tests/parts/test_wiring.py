# ruff: noqa: E501 - a docstring of one sentence, a row of a table
"""Knows: that each fault planted in a simulated rig is named, and that the truth is found with it.

Must never know: how faults are found; what is said of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.grid_orders import CORNERS, grid_orders
from bridge.parts.wiring import diagnose
from bridge.values.rig import Decoder, Grid, Lamp, Rig
from bridge.values.wiring import Diagnosis, Fault, Slot

COLUMNS, ROWS = 6, 4


def boathouse(*boxes: Decoder) -> Rig:
    """24 lamps in a grid on slots 1 to 24, two heads of three lenses on 25 to 30, a door on 31."""
    lamps = []
    for place in range(COLUMNS * ROWS):
        row, column = divmod(place, COLUMNS)
        lamps.append(Lamp(f"roof.{column + 1}.{row + 1}", place, 1, place + 1, line=10))
    for number, name in enumerate(("west", "east")):
        for part, colour in enumerate(("red", "amber", "green")):
            index = len(lamps)
            lamps.append(Lamp(f"{name}.{colour}", index, 1, 25 + 3 * number + part, line=11 + number))
    lamps.append(Lamp("door", 30, 1, 31, line=13))
    cells = tuple(tuple(range(row * COLUMNS, (row + 1) * COLUMNS)) for row in range(ROWS))
    return Rig("boathouse", tuple(lamps), grids=(Grid("roof", cells),), decoders=boxes)


RIG = boathouse()
BOXED = boathouse(Decoder("big", 1, 1, 24), Decoder("small", 1, 25, 24))
FILE: dict[int, Slot] = {lamp.index: (1, lamp.slot) for lamp in RIG.lamps}
INDEX = {lamp.name: lamp.index for lamp in RIG.lamps}


def walk(truth: dict[int, Iterable[Slot]], only: Iterable[int] | None = None) -> dict[int, tuple[int, ...]]:
    """What lights when the slot of each lamp is driven, of a rig that hangs like this."""
    at: dict[Slot, list[int]] = defaultdict(list)
    for lamp, slots in truth.items():
        for slot in slots:
            at[slot].append(lamp)
    return {meant: tuple(sorted(at[FILE[meant]])) for meant in (FILE if only is None else only)}


def hung(changes: dict[int, Slot | None]) -> dict[int, Iterable[Slot]]:
    """The rig as the file has it but for some lamps."""
    whole: dict[int, Slot | None] = {**FILE, **changes}
    return {lamp: () if slot is None else (slot,) for lamp, slot in whole.items()}


def found(changes: dict[int, Slot | None], rig: Rig = RIG, only: Iterable[int] | None = None) -> Diagnosis:
    """The diagnosis of a rig with planted changes."""
    return diagnose(rig, walk(hung(changes), only), grid_orders)


def kinds(diagnosis: Diagnosis) -> list[str]:
    """The kinds of its faults."""
    return [fault.kind for fault in diagnosis.faults]


def shifted(lamps: Iterable[int], by: int) -> dict[int, Slot | None]:
    """Lamps that answer some slots farther on."""
    return {lamp: (1, FILE[lamp][1] + by) for lamp in lamps}


def test_a_right_rig_has_no_fault() -> None:
    """Where every lamp lights in its turn nothing is found, and the file is right."""
    for rig in (RIG, BOXED):
        diagnosis = found({}, rig)
        assert diagnosis.faults == ()
        assert diagnosis.hangs == FILE
        assert diagnosis.lost == ()


@pytest.mark.parametrize(
    ("one", "other"), [("roof.1.1", "roof.2.1"), ("west.red", "door"), ("roof.1.1", "roof.6.4")]
)
def test_a_swapped_pair(one: str, other: str) -> None:
    """Two lamps on one another's slots are a swapped pair, next to each other or far apart."""
    a, b = INDEX[one], INDEX[other]
    changes: dict[int, Slot | None] = {a: FILE[b], b: FILE[a]}
    for rig in (RIG, BOXED):
        diagnosis = found(changes, rig)
        assert kinds(diagnosis) == ["swapped"]
        assert set(diagnosis.faults[0].lamps) == {a, b}
        assert diagnosis.hangs == FILE | changes


def test_a_swapped_pair_of_a_head() -> None:
    """Two lenses of three the wrong way round are a pair, not a head turned round."""
    a, b = INDEX["west.red"], INDEX["west.green"]
    assert kinds(found({a: FILE[b], b: FILE[a]})) == ["swapped"]


def test_three_in_a_circle() -> None:
    """Three lamps, each on the next one's slot, are crossed; no shift and no order explains them."""
    a, b, c = (INDEX[name] for name in ("west.red", "west.amber", "west.green"))
    diagnosis = found({a: FILE[b], b: FILE[c], c: FILE[a]})
    assert kinds(diagnosis) == ["crossed"]
    assert set(diagnosis.faults[0].lamps) == {a, b, c}


@pytest.mark.parametrize("by", [1, -1, 2, -10, 100])
def test_a_box_with_the_wrong_start_address(by: int) -> None:
    """All lamps of a box some slots off are one fault of that box, by so many slots; its true start is known."""
    rig = boathouse(Decoder("big", 1, 1, 24), Decoder("small", 1, 30, 24))
    lamps = range(24, 31)
    moved = {lamp: (1, FILE[lamp][1] + 5) for lamp in lamps}
    home = FILE | moved
    rig = Rig(
        rig.name,
        tuple(Lamp(one.name, one.index, 1, home[one.index][1], line=one.line) for one in rig.lamps),
        grids=rig.grids,
        decoders=rig.decoders,
    )
    truth = {lamp: ((1, home[lamp][1] + (by if lamp in lamps else 0)),) for lamp in home}
    at: dict[Slot, list[int]] = defaultdict(list)
    for lamp, (slot,) in truth.items():
        at[slot].append(lamp)
    diagnosis = diagnose(rig, {lamp: tuple(at[home[lamp]]) for lamp in home}, grid_orders)
    if by == 100:
        # So far off that no slot of the file reaches it: the box is dark, and no more can be known.
        assert kinds(diagnosis) == ["dark"]
        return
    assert kinds(diagnosis) == ["shifted"]
    fault = diagnosis.faults[0]
    assert (fault.where, fault.what, fault.by) == ("small", "decoder", by)
    assert diagnosis.starts == {"small": (1, 30 + by)}
    assert diagnosis.hangs == {lamp: slot for lamp, (slot,) in truth.items()}


def test_everything_off_by_one_without_decoders() -> None:
    """Without decoders in the file, a universe that is off by one is one fault of the universe."""
    diagnosis = found(shifted(range(31), 1))
    assert kinds(diagnosis) == ["shifted"]
    assert (diagnosis.faults[0].what, diagnosis.faults[0].by) == ("universe", 1)


def test_a_grid_off_by_one_without_decoders() -> None:
    """Only the grid off by one is a fault of the grid; the head that shares its last slot is not blamed."""
    diagnosis = found(shifted(range(24), 1))
    assert kinds(diagnosis) == ["shifted"]
    assert (diagnosis.faults[0].what, diagnosis.faults[0].where, diagnosis.faults[0].by) == (
        "grid",
        "roof",
        1,
    )


def test_off_by_one_needs_no_whole_walk() -> None:
    """Three lamps tried are enough for a shift; of a single one no more is said than where it hangs."""
    assert kinds(found(shifted(range(24), 1), BOXED, only=[0, 1, 2])) == ["shifted"]
    assert kinds(found(shifted(range(24), 1), BOXED, only=[1])) == ["moved"]


def test_a_box_with_another_box_s_address() -> None:
    """A box set to the address of another lights with it: the wrong box, by the distance between the two."""
    diagnosis = found(shifted(range(24, 31), -24), BOXED)
    assert kinds(diagnosis) == ["shifted"]
    assert (diagnosis.faults[0].where, diagnosis.faults[0].by) == ("small", -24)
    assert diagnosis.starts == {"small": (1, 1)}


def test_two_boxes_exchanged() -> None:
    """Two boxes with one another's addresses are two shifts that say so."""
    changes = shifted(range(24), 24) | shifted(range(24, 31), -24)
    diagnosis = found(changes, BOXED)
    assert sorted((fault.kind, fault.where, fault.by) for fault in diagnosis.faults) == [
        ("shifted", "big", 24),
        ("shifted", "small", -24),
    ]
    assert diagnosis.hangs == FILE | changes


def test_a_lamp_on_the_wrong_box() -> None:
    """A lamp plugged into the other box, in a free output, is found where it lights once that slot is driven."""
    rig = BOXED
    lamp = INDEX["roof.1.1"]
    diagnosis = found({lamp: FILE[INDEX["door"]], INDEX["door"]: (1, 40)}, rig)
    assert sorted(kinds(diagnosis)) == ["dead", "moved"]
    assert diagnosis.hangs[lamp] == (1, 31)


def test_a_dead_lamp() -> None:
    """A lamp that lights nowhere is dead; the file keeps its slot, which nobody else has."""
    lamp = INDEX["west.amber"]
    diagnosis = found({lamp: None})
    assert diagnosis.faults == (Fault("dead", (lamp,), (FILE[lamp],)),)
    assert diagnosis.hangs == FILE


def test_a_dark_box_and_a_dark_head() -> None:
    """Where nothing of a box lights, the box is dark rather than each lamp dead; a head likewise."""
    diagnosis = found(dict.fromkeys(range(24), None), BOXED)
    assert [(fault.kind, fault.where) for fault in diagnosis.faults] == [("dark", "big")]
    diagnosis = found(dict.fromkeys(range(24, 27), None))
    assert [(fault.kind, fault.where) for fault in diagnosis.faults] == [("dark", "west")]


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("order", ["rows", "columns", "snake"])
def test_a_grid_in_another_order(order: str, corner: str) -> None:
    """Whichever way the slots of the grid really run, the words for it are found."""
    if (order, corner) == ("rows", "lower_left"):
        return
    (one,) = [
        way for way in grid_orders(RIG.grids[0], range(24)) if (way.order, way.corner) == (order, corner)
    ]
    changes: dict[int, Slot | None] = {lamp: (1, place + 1) for place, lamp in enumerate(one.lamps)}
    for rig in (RIG, BOXED):
        diagnosis = found(changes, rig)
        assert [(fault.kind, fault.order, fault.corner) for fault in diagnosis.faults] == [
            ("order", order, corner)
        ]
        assert diagnosis.hangs == FILE | changes


def test_orders_agree_with_the_rig_file() -> None:
    """Each order gives the slots that a rig file with these words gives."""
    from bridge.shell.files import rig_from_text

    for order in grid_orders(RIG.grids[0], range(24)):
        if order.order in ("row", "column"):
            continue
        text = f"grids: [{{name: roof, columns: 6, rows: 4, slot: 1, order: {order.order}, from: {order.corner}}}]"
        lamps = sorted(rig_from_text(text)[0].lamps, key=lambda lamp: lamp.slot)
        assert [lamp.name for lamp in lamps] == [RIG.lamps[index].name for index in order.lamps]


def test_a_row_turned_round() -> None:
    """One row that was plugged from the other end is told as such, not as three swapped pairs."""
    row = RIG.grids[0].cells[1]
    diagnosis = found({lamp: FILE[other] for lamp, other in zip(row, reversed(row), strict=True)})
    assert [(fault.kind, fault.order, fault.corner) for fault in diagnosis.faults] == [
        ("reversed", "row", "2")
    ]


def test_a_grid_turned_round_and_off_by_one() -> None:
    """Both faults at once are found as two, and the truth with them."""
    (one,) = [
        way
        for way in grid_orders(RIG.grids[0], range(24))
        if (way.order, way.corner) == ("rows", "lower_right")
    ]
    changes: dict[int, Slot | None] = {lamp: (1, place + 2) for place, lamp in enumerate(one.lamps)}
    diagnosis = found(changes)
    assert sorted(kinds(diagnosis)) == ["order", "shifted"]
    assert diagnosis.hangs == FILE | changes


def test_two_lamps_on_one_slot() -> None:
    """A lamp that lights with another, and not in its own turn, hangs on the other's slot."""
    a, b = INDEX["roof.1.1"], INDEX["roof.2.1"]
    diagnosis = found({b: FILE[a]})
    assert diagnosis.faults == (Fault("doubled", (b, a), (FILE[a],)),)


def test_joined_outputs() -> None:
    """A lamp that lights in its own turn and in another's too has two outputs on it."""
    a, b = INDEX["roof.1.1"], INDEX["roof.2.1"]
    truth = hung({}) | {b: (FILE[a], FILE[b])}
    diagnosis = diagnose(RIG, walk(truth), grid_orders)
    assert diagnosis.faults == (Fault("bridged", (b,), (FILE[b], FILE[a])),)
    assert diagnosis.hangs == FILE


def test_several_faults_at_once() -> None:
    """A box off by one, a pair swapped in the other and a dead lamp are three faults."""
    a, b, dead = INDEX["east.red"], INDEX["door"], INDEX["roof.3.3"]
    changes = shifted(range(24), 1) | {a: FILE[b], b: FILE[a], dead: None}
    diagnosis = found(changes, BOXED)
    assert sorted(kinds(diagnosis)) == ["dead", "shifted", "swapped"]


def test_what_cannot_be_written_down() -> None:
    """A lamp nobody saw, whose slot is another's, is lost; with one lamp and one slot left they belong together."""
    a, b, c = INDEX["roof.1.1"], INDEX["roof.2.1"], INDEX["roof.3.1"]
    seen = {a: (b,)}
    alone = diagnose(RIG, seen, grid_orders)
    assert kinds(alone) == ["moved"]
    assert (alone.lost, alone.guessed) == ((), (a,))
    assert alone.hangs[a] == FILE[b]
    two = diagnose(RIG, {a: (b,), c: (INDEX["door"],)}, grid_orders)
    assert set(two.lost) == {a, c}


def test_shared_slots_light_together() -> None:
    """Lamps that the file has on one slot are expected to light together, and dead only together."""
    rig = Rig("shared", (Lamp("a", 0, 1, 1), Lamp("b", 1, 1, 1), Lamp("c", 2, 1, 2)))
    assert diagnose(rig, {0: (0, 1), 2: (2,)}).faults == ()
    assert [fault.kind for fault in diagnose(rig, {0: (2,), 2: (0, 1)}).faults]


@settings(max_examples=30)
@given(st.permutations(range(31)), st.sampled_from([RIG, BOXED]), st.integers(0, 31))
def test_any_wiring_is_understood(order: list[int], rig: Rig, keep: int) -> None:
    """However 31 wires are plugged, a whole walk finds where each lamp hangs, and a part of one invents nothing."""
    changes: dict[int, Slot | None] = {lamp: FILE[other] for lamp, other in enumerate(order)}
    diagnosis = found(changes, rig)
    assert diagnosis.hangs == FILE | changes
    assert diagnosis.lost == ()
    part = found(changes, rig, only=range(keep))
    seen = {lamp for meant in range(keep) for lamp in walk(hung(changes), [meant])[meant]}
    if "shifted" not in kinds(part) and "order" not in kinds(part) and "reversed" not in kinds(part):
        assert all(part.hangs[lamp] == changes[lamp] for lamp in seen)


@settings(max_examples=80)
@given(st.dictionaries(st.integers(0, 30), st.lists(st.integers(0, 30), max_size=3, unique=True).map(tuple)))
def test_any_sighting_ends(seen: dict[int, tuple[int, ...]]) -> None:
    """Whatever somebody says they saw, there is an end to it, and only known kinds of faults."""
    for rig in (RIG, BOXED):
        diagnosis = diagnose(rig, seen, grid_orders)
        known = {
            "swapped",
            "crossed",
            "shifted",
            "order",
            "reversed",
            "moved",
            "doubled",
            "bridged",
            "dead",
            "dark",
            "odd",
        }
        assert set(kinds(diagnosis)) <= known
        assert set(diagnosis.hangs) | set(diagnosis.lost) == set(FILE)


PLANTS: dict[str, Callable[[], dict[int, Slot | None]]] = {
    "swapped": lambda: {0: FILE[1], 1: FILE[0]},
    "shifted": lambda: shifted(range(24), 1),
    "dead": lambda: {5: None},
}


@pytest.mark.parametrize("kind", PLANTS)
def test_the_truth_heals(kind: str) -> None:
    """A rig whose file says what was found has no fault at the next walk."""
    changes = PLANTS[kind]()
    diagnosis = found(changes, BOXED)
    assert kinds(diagnosis) == [kind]
    mended = Rig(
        "mended",
        tuple(
            Lamp(lamp.name, lamp.index, 1, diagnosis.hangs[lamp.index][1], line=lamp.line)
            for lamp in RIG.lamps
        ),
        grids=RIG.grids,
    )
    where = {lamp.index: (1, lamp.slot) for lamp in mended.lamps}
    truth: dict[int, Slot | None] = {**FILE, **changes}
    seen = {meant: tuple(lamp for lamp, slot in truth.items() if slot == where[meant]) for meant in where}
    assert [fault.kind for fault in diagnose(mended, seen, grid_orders).faults] == (
        ["dead"] if kind == "dead" else []
    )
