"""How guards are said to the player: `off` at every start, and what is held back."""

from __future__ import annotations

import pytest

from bridge.core.engine import Engine
from bridge.shell.files import rig_from_text
from bridge.shell.guard_lines import held_lines, off_lines
from bridge.values.events import Do
from bridge.values.mapping import Mapping
from tests.shell.files.cases import RIG


@pytest.mark.parametrize("name", ["load", "flash", "heat"])
def test_a_guard_that_is_off_is_said(name: str) -> None:
    """Each guard that the rig file switches off has a line saying what is missing; no other has one."""
    lamps = "lamps: [{name: a, slot: 1}]\n"
    (line,) = off_lines(rig_from_text(f"{lamps}guards: {{{name}: off}}")[0])
    assert line.startswith(
        f"the {name} guard is off, as the rig file says (guards: {{{name}: off}}): nothing "
    )
    assert off_lines(rig_from_text(lamps)[0]) == []
    assert off_lines(rig_from_text(f"{lamps}guards: {{{name}: warn}}")[0]) == []


@pytest.mark.parametrize(("mode", "words"), [("limit", "holds back"), ("warn", "is set to warn")])
def test_what_is_held_back_is_said(mode: str, words: str) -> None:
    """A guard that acts says how much and how often; set to warn, it says what it would do."""
    rig = rig_from_text(RIG.replace("amps: 25", "amps: 10").replace("load: limit", f"load: {mode}"))[0]
    engine = Engine(rig, Mapping("light"))
    engine.advance([], 0.0)
    assert held_lines(engine) == []
    engine.advance([Do(0.1, "light", "all", 1.0)], 0.1)
    (line,) = held_lines(engine)
    assert line.startswith("the load guard ")
    assert words in line
    assert line.endswith("(once so far)")
