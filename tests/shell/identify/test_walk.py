# ruff: noqa: E501 - a row of a table is one line
"""The walk: one slot at a time, on and back, and what somebody at the rig says of it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.grid_orders import grid_orders
from bridge.parts.wiring import diagnose
from bridge.shell.files import rig_from_text
from bridge.shell.identify.answers import Answer, of_line
from bridge.shell.identify.little_map import little_map
from bridge.shell.identify.walk import Walk, steps_of
from bridge.shell.identify.words import fault_lines
from bridge.values.events import Do
from bridge.values.rig import Rig
from bridge.values.wiring import Slot
from tests.shell.identify.rigs import Looker, hung, shed, walked

DARK = replace(shed(), lamps=tuple(replace(lamp, rest=0.0) for lamp in shed().lamps))
NAMES = [lamp.name for lamp in DARK.lamps]
AT: dict[str, Slot] = {lamp.name: (1, lamp.slot) for lamp in DARK.lamps}


class Script:
    """Answers one after another."""

    keys = False
    help = ""

    def __init__(self, *lines: str) -> None:
        self._lines = list(lines)

    def poll(self) -> Answer | None:
        """The next one; then nobody answers."""
        return of_line(self._lines.pop(0)) if self._lines else Answer("end")

    def ask(self, _question: str) -> str:
        """Nothing."""
        return ""

    def __enter__(self) -> Script:
        return self

    def __exit__(self, *_: object) -> None:
        pass


def scripted(*lines: str, rig: Rig = DARK) -> tuple[Walk, list[str], list[str]]:
    """A walk with these answers: the walk, what it said, and the lamps it lit in turn."""
    said: list[str] = []
    walk = Walk(rig, 0.5, Script(*lines), said.append, each=0.1)
    lit, t = [], 0.0
    while not walk.done and t < 20.0:
        lit += [event.name for event in walk.take(t) if isinstance(event, Do) and event.value > 0.0]
        t += 0.025
    return walk, said, lit


def test_one_slot_at_a_time() -> None:
    """In every frame of a walk just one lamp is lit, each at its turn, and at the end none."""
    looker = Looker(DARK, hung(DARK, {}))
    walk, frames = walked(DARK, looker)
    lit = [[lamp.name for lamp in DARK.lamps if frame.slot(1, lamp.slot)] for frame in frames]
    assert [names for names in lit if names] == [[name] for name in NAMES]
    assert lit[-1] == []
    assert walk.seen == {lamp.index: (lamp.index,) for lamp in DARK.lamps}


def test_on_and_back() -> None:
    """n goes on and b back without a word on the lamp; q ends, and before the first there is nothing."""
    walk, _, lit = scripted("n", "n", "b", "b", "b", "n", "q")
    assert lit == [NAMES[at] for at in (0, 1, 2, 1, 0, 0, 1)]
    assert walk.seen == {}


def test_what_is_said_is_kept() -> None:
    """Enter, a name, several names and 0 are sightings; the last one of a slot counts."""
    walk, said, _ = scripted("", "roof.3.1", "west.red, door", "0", "b", "", "q")
    assert walk.seen == {0: (0,), 1: (2,), 2: (12, 15), 3: (3,)}
    assert any("(you saw: nothing)" in line for line in said)


def test_a_name_that_is_none() -> None:
    """A slip is told with what was probably meant, and the same lamp stays lit."""
    walk, said, lit = scripted("rof.1.1", "xyz", "", "q")
    assert "  no lamp is called 'rof.1.1'; did you mean roof.1.1?" in said
    assert any("'xyz'" in line and "check --sheet" in line for line in said)
    assert lit == NAMES[:2]
    assert walk.seen == {0: (0,)}


def test_names_that_are_also_answers() -> None:
    """A lamp called n is written =n."""
    rig = rig_from_text("lamps: [{name: n, slot: 1}, {name: b, slot: 2}]")[0]
    walk, _, lit = scripted("=b", "=n", rig=rig)
    assert walk.seen == {0: (1,), 1: (0,)}
    assert lit == ["n", "b"]


def test_where_nobody_answers_it_walks_alone() -> None:
    """At the end of input before any answer the walk goes on by itself, each lamp in its turn."""
    walk, said, lit = scripted()
    assert walk.alone
    assert lit == NAMES
    assert any("nobody answers" in line for line in said)
    assert walk.seen == {}


def test_where_answers_end_it_ends() -> None:
    """At the end of input after an answer the walk is over, and what was said counts."""
    walk, _, lit = scripted("", "")
    assert not walk.alone
    assert lit == NAMES[:3]
    assert walk.seen == {0: (0,), 1: (1,)}


def test_each_lamp_has_its_seconds() -> None:
    """Alone, each lamp is lit for the seconds asked for, whatever the frames."""
    walk = Walk(DARK, 0.5, None, lambda _line: None, each=0.5)
    marks = [k / 40 for k in range(1000) if any(getattr(event, "value", 0) for event in walk.take(k / 40))]
    assert marks == pytest.approx([0.5 * number for number in range(len(NAMES))])
    assert walk.done


def test_what_is_said_of_a_lamp() -> None:
    """Number, name, universe, slots of a wide lamp, decoder and output."""
    _, said, _ = scripted(*[""] * 20)
    assert "1 of 17: roof.1.1, universe 1 slot 1, decoder big output 1" in said
    assert "17 of 17: wide, universe 1 slot 17 and 18, decoder small output 5" in said


def test_lamps_that_share_a_slot_are_one_step() -> None:
    """A slot is driven once, for all lamps on it."""
    rig = rig_from_text(
        "lamps: [{name: a, slot: 1, shares: true}, {name: b, slot: 1, shares: true}, {name: c, slot: 2}]"
    )[0]
    assert [step.lamps for step in steps_of(rig)] == [(0, 1), (2,)]
    walk, said, _ = scripted("", "", rig=rig)
    assert walk.seen == {0: (0, 1), 2: (2,)}
    assert said[0] == "1 of 2: a and b, universe 1 slot 1"


PLANTED: dict[str, tuple[dict[str, Slot | None], str]] = {
    "swapped": ({"roof.1.1": AT["roof.2.1"], "roof.2.1": AT["roof.1.1"]}, "swapped pair: "),
    "off by one": ({name: (1, AT[name][1] + 1) for name in NAMES[:12]}, "off by one: decoder big answers from slot 2 on"),
    "wrong start": ({name: (1, AT[name][1] - 3) for name in NAMES[12:]}, "wrong start address: decoder small answers from slot 10"),
    "wrong box": ({name: (1, AT[name][1] - 12) for name in NAMES[12:]}, "wrong box: decoder small has the address of big;"),
    "dead": ({"west.amber": None}, "west.amber stays dark (slot 14 does not light it)"),
    "dark": (dict.fromkeys(NAMES[:12]), "nothing of decoder big lights (12 lamps tried)"),
    "order": ({name: (1, 1 + 3 - (slot - 1) % 4 + 4 * ((slot - 1) // 4)) for name, (_, slot) in AT.items() if name.startswith("roof")}, "the slots of roof run row by row from the lower right"),
    "reversed": ({f"roof.{c}.3": AT[f"roof.{5 - c}.3"] for c in range(1, 5)}, "row 3 of roof is the other way round"),
    "crossed": ({"west.red": AT["west.amber"], "west.amber": AT["west.green"], "west.green": AT["west.red"]}, "crossed wires, 3 in a circle: "),
    "doubled": ({"roof.2.1": AT["roof.1.1"]}, "roof.2.1 hangs on slot 1 together with roof.1.1"),
}  # fmt: skip


@pytest.mark.parametrize("fault", PLANTED)
def test_planted_faults_are_named(fault: str) -> None:
    """A fault planted in a rig, walked through engine and guards and looked at, is named, and nothing else is."""
    changes, words = PLANTED[fault]
    walk, _ = walked(DARK, Looker(DARK, hung(DARK, changes)))
    diagnosis = diagnose(DARK, walk.seen, grid_orders)
    (line,) = fault_lines(DARK, diagnosis)
    assert line.startswith(words)


def test_exchanged_boxes_are_said_so() -> None:
    """Two boxes with one another's addresses are told as exchanged."""
    rig = rig_from_text(
        "decoders: {p: {slots: 3}, q: {slots: 3, start: 4}}\ngrids: [{name: g, columns: 6, rows: 1, slot: 1}]"
    )[0]
    changes: dict[str, Slot | None] = {f"g.{c}.1": (1, (c + 2) % 6 + 1) for c in range(1, 7)}
    walk, _ = walked(rig, Looker(rig, hung(rig, changes)))
    lines = fault_lines(rig, diagnose(rig, walk.seen, grid_orders))
    assert len(lines) == 2
    assert lines[0].startswith(
        "wrong box: decoder p has the address of q, and that has this one's: the two are exchanged;"
    )
    assert "set its switches to 001 (on: 1), or let the file say start: 4" in lines[0]


@settings(max_examples=40)
@given(st.lists(st.sampled_from(["", "n", "b", "0", "roof.2.1", "door, west.red", "??", "q"]), max_size=30))
def test_any_answers_end_in_darkness(lines: list[str]) -> None:
    """Whatever is answered, the walk ends dark, and every line that it concludes can be said."""
    said: list[str] = []
    walk = Walk(DARK, 0.5, Script(*lines), said.append, each=0.1)
    level: dict[str, float] = {}
    for k in range(4000):
        for event in walk.take(k / 40):
            assert isinstance(event, Do)
            level[event.name] = event.value
        assert sum(value > 0 for value in level.values()) <= 1
        if walk.done:
            break
    assert walk.done
    assert not any(level.values())
    assert all(isinstance(line, str) for line in fault_lines(DARK, diagnose(DARK, walk.seen, grid_orders)))


def test_the_little_map() -> None:
    """The map has a mark where the lamp hangs: up is up, right is right; lamps in one place stay in it."""
    draw = little_map(DARK)
    rows = draw((NAMES.index("roof.1.1"),)).split("\n")
    high = draw((NAMES.index("roof.4.3"),)).split("\n")
    assert sum(row.count("●") for row in rows) == 1
    assert [at for at, row in enumerate(rows) if "●" in row] > [
        at for at, row in enumerate(high) if "●" in row
    ]
    assert max(row.find("●") for row in rows) < max(row.find("●") for row in high)
    assert little_map(Rig())(()) == ""
