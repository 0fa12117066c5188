"""Knows: the walk from lamp to lamp: which is lit, what was said of each, and the lines that tell it.

Must never know: terminals, the engine, outputs, or what the sightings mean.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bridge.shell.identify.answers import BACK, END, NAMES, NEXT, NONE, QUIT, YES, Answer
from bridge.shell.identify.hands import Hands
from bridge.values.events import Do, Event
from bridge.values.rig import Lamps, Rig

Say = Callable[[str], None]

ALONE_SECONDS = 2.0
"""How long each lamp is lit where nobody answers."""


@dataclass(frozen=True, slots=True)
class Step:
    """One slot, and the lamps that should light with it."""

    universe: int
    slot: int
    lamps: Lamps


def steps_of(rig: Rig) -> list[Step]:
    """Every slot once, in the order of the lamps in the file."""
    found: dict[tuple[int, int], list[int]] = {}
    for lamp in rig.lamps:
        found.setdefault((lamp.universe, lamp.slot), []).append(lamp.index)
    return [Step(universe, slot, tuple(lamps)) for (universe, slot), lamps in found.items()]


class Walk:
    """A feed that lights one slot at a time, on and back as it is told.

    Args:
        rig: as the file has it.
        level: 0..1, at which each lamp is lit; it goes through the response and the guards like any other.
        hands: who answers; None walks by itself.
        say: shows a line.
        each: seconds for each lamp where nobody answers.
        draw: a small map of the rig with some lamps marked; shown where single keys answer.
    """

    def __init__(
        self,
        rig: Rig,
        level: float,
        hands: Hands | None,
        say: Say,
        each: float = ALONE_SECONDS,
        draw: Callable[[Lamps], str] | None = None,
    ) -> None:
        self._rig, self._level, self._hands, self._say, self._each = rig, level, hands, say, each
        self._draw = draw
        self._steps = steps_of(rig)
        self._names = {lamp.name: lamp.index for lamp in rig.lamps}
        self._at = -1
        self._alone_since: float | None = None
        self._heard = False
        self.seen: dict[int, Lamps] = {}
        """The first lamp of each slot that something was said of -> the lamps that lit."""
        self.done = not self._steps
        self.alone = hands is None
        """True once nobody answers and it goes on by itself."""

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        if self.done:
            return []
        out: list[Event] = []
        if self._at < 0:
            out += self._go(0, until)
        if self._hands is not None and (answer := self._hands.poll()) is not None:
            out += self._answer(answer, until)
        if self.alone and not self.done:
            if self._alone_since is None:
                self._alone_since = until
            # Half a frame early rather than late, so that each lamp has its time.
            elif until - self._alone_since >= self._each - 1e-9:
                self._alone_since = until
                out += self._go(self._at + 1, until)
        return out

    @property
    def step(self) -> Step:
        """The slot that is driven now."""
        return self._steps[min(max(self._at, 0), len(self._steps) - 1)]

    def _answer(self, answer: Answer, t: float) -> list[Event]:
        if answer.word == END:
            return self._nobody(t)
        self._heard = True
        if answer.word == QUIT:
            return self._end(t)
        if answer.word == NEXT:
            return self._go(self._at + 1, t)
        if answer.word == BACK:
            return self._go(max(0, self._at - 1), t)
        lit = self._lit(answer)
        if lit is None:
            return []
        self.seen[self.step.lamps[0]] = lit
        return self._go(self._at + 1, t)

    def _lit(self, answer: Answer) -> Lamps | None:
        """The lamps that lit by what was said; None, told, where a name means none."""
        if answer.word == YES:
            return self.step.lamps
        if answer.word == NONE:
            return ()
        found: dict[int, None] = {}
        for name in (part.strip() for part in answer.text.split(",")):
            lamp = self._names.get(name)
            if lamp is None:
                near = difflib.get_close_matches(name, self._names, 1)
                meant = f"; did you mean {near[0]}?" if near else "; the sheet has the names (check --sheet)"
                self._say(f"  no lamp is called {name!r}{meant}")
                return None
            found[lamp] = None
        return tuple(found)

    def _nobody(self, t: float) -> list[Event]:
        if self._heard:
            return self._end(t)
        self.alone = True
        self._say(f"nobody answers: walking on alone, {self._each:g} s each")
        return []

    def _go(self, at: int, t: float) -> list[Event]:
        """Darken what is lit and light the slot of a step; past the last one the walk is over."""
        if at >= len(self._steps):
            return self._end(t)
        out = self._dark(t)
        self._at = at
        out.append(Do(t, "light", self._rig.lamps[self.step.lamps[0]].name, self._level))
        self._tell()
        return out

    def _end(self, t: float) -> list[Event]:
        self.done = True
        return self._dark(t)

    def _dark(self, t: float) -> list[Event]:
        return [Do(t, "light", self._rig.lamps[self.step.lamps[0]].name, 0.0)] if self._at >= 0 else []

    def _tell(self) -> None:
        step, first = self.step, self._rig.lamps[self.step.lamps[0]]
        slots = f"{first.slot} and {first.slot + 1}" if first.bits == 16 else f"{first.slot}"
        names = " and ".join(self._rig.lamps[lamp].name for lamp in step.lamps)
        said = f"{self._at + 1} of {len(self._steps)}: {names}, universe {step.universe} slot {slots}"
        box = next((box for box in self._rig.decoders if box.carries(first)), None)
        if box is not None:
            said += f", decoder {box.name} output {first.slot - box.start + 1}"
        if self._hands is not None and self._hands.keys and self._draw is not None:
            said = f"\n{self._draw(step.lamps)}\n{said}"
        before = self.seen.get(step.lamps[0])
        if before is not None and before != step.lamps:
            lit = ", ".join(self._rig.lamps[lamp].name for lamp in before) or "nothing"
            said += f" (you saw: {lit})"
        self._say(said)


__all__ = ["NAMES", "Step", "Walk", "steps_of"]
