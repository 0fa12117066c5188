"""Knows: a simulated rig with its wires plugged anyhow, and somebody who looks at it and answers.

Must never know: how the walk works, or what it concludes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from bridge.core.engine import Engine
from bridge.shell.files import rig_from_text
from bridge.shell.identify.answers import Answer, of_line
from bridge.shell.identify.walk import Walk
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from bridge.values.wiring import Slot

SHED = """\
rig: Shed
decoders: {big: {slots: 12}, small: {slots: 6, start: 13}}
lamp_types: {post: {parts: {red: {}, amber: {}, green: {}}}}
grids: [{name: roof, columns: 4, rows: 3, slot: 1, spacing: [1, 1]}]
lamps:
  - {name: west, type: post, slot: 13, at: [-1, 0]}
  - {name: door, slot: 16, at: [5, 0], rest: 0.2}
  - {name: wide, slot: 17, bits: 16, at: [5, 2]}
"""
HZ = 40.0


def shed() -> Rig:
    """17 lamps on two decoders."""
    return rig_from_text(SHED)[0]


class Looker:
    """Somebody who sees what lights in a rig that hangs in truth otherwise, and says it.

    Args:
        truth: the slots on which each lamp hangs, none for a dead one.
        says: turns the names of what lit, and of what should, into a line to answer with.
        patience: how many slots to look at before `then` is said.
    """

    keys = False
    help = "answer"

    def __init__(
        self,
        rig: Rig,
        truth: dict[int, Iterable[Slot]],
        says: Callable[[list[str], list[str]], str] | None = None,
        patience: int = 1000,
    ) -> None:
        self._rig, self._truth, self._says, self._patience = rig, truth, says or plainly, patience
        self._lit: list[str] | None = None
        self.asked: list[str] = []
        self.walk: Walk | None = None

    def look(self, frame: Frame) -> None:
        """See a frame."""
        self._lit = [
            lamp.name
            for lamp in self._rig.lamps
            if any(frame.slot(*slot) > 0 for slot in self._truth[lamp.index] if slot[0] in frame.universes)
        ]

    def poll(self) -> Answer | None:
        """As `Hands.poll`."""
        if self._lit is None or self.walk is None:
            return None
        if self._patience == 0:
            return of_line("q")
        self._patience -= 1
        lit, self._lit = self._lit, None
        return of_line(self._says(lit, [self._rig.lamps[lamp].name for lamp in self.walk.step.lamps]))

    def ask(self, question: str) -> str:
        """As `Hands.ask`; says yes."""
        self.asked.append(question)
        return "y"

    def __enter__(self) -> Looker:
        return self

    def __exit__(self, *_: Any) -> None:
        pass


def plainly(lit: list[str], meant: list[str]) -> str:
    """Enter where the right lamps light, else their names, or 0."""
    return "" if lit == meant else ", ".join(lit) or "0"


def hung(rig: Rig, changes: dict[str, Slot | None]) -> dict[int, Iterable[Slot]]:
    """The rig as its file has it but for some lamps."""
    return {
        lamp.index: [slot] if (slot := changes.get(lamp.name, (lamp.universe, lamp.slot))) else []
        for lamp in rig.lamps
    }


def walked(
    rig: Rig, looker: Looker, say: Callable[[str], None] = lambda _line: None
) -> tuple[Walk, list[Frame]]:
    """Walk a rig through the engine and its guards, frame by frame; what left it."""
    walk = Walk(rig, 0.5, looker, say)
    looker.walk = walk
    engine = Engine(rig, Mapping("identify"))
    frames = []
    while not walk.done and len(frames) < 5000:
        t = len(frames) / HZ
        frame = engine.advance(walk.take(t), t)
        looker.look(frame)
        frames.append(frame)
    return walk, frames
