"""Knows: the search for what a strange line moves: one slot at a time, pulsing slowly.

Must never know: ports, the engine, rigs of a player.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.shell.identify.answers import BACK, END, NAMES, NEXT, NONE, QUIT, YES, Answer
from bridge.shell.identify.hands import Hands
from bridge.shell.identify.walk import Say
from bridge.values.events import Do, Event
from bridge.values.frame import SLOTS
from bridge.values.rig import Lamp, Rig

HALF_SECONDS = 0.6
"""How long a slot is lit, and dark, in turn: below one flash a second."""

PULSE_HELP = (
    "Enter: something moves or lights   n or →: next slot   b or ←: back   w and a number: that slot   "
    "q: not here"
)
PULSE_LINES = (
    "Answer with Enter (something moves), n (next slot), b (back), a number (that slot), or q (not here)."
)


def bare_rig(universe: int = 1, top: int = SLOTS) -> Rig:
    """A rig of nothing but slots, each a lamp by its number; all guards on, as for any rig."""
    return Rig("slots", tuple(Lamp(str(slot), slot - 1, universe, slot) for slot in range(1, top + 1)))


class Pulse:
    """A feed that pulses one slot of a bare rig until somebody says that something moves.

    Args:
        level: 0..1. hands: who answers. say: shows a line.
    """

    def __init__(self, rig: Rig, level: float, hands: Hands, say: Say) -> None:
        self._rig, self._level, self._hands, self._say = rig, level, hands, say
        self._at = -1
        self._since = 0.0
        self._lit = False
        self.done = False
        self.found: int | None = None
        """The slot at which something moved."""
        self.silent = False
        """True where nobody was there to answer."""

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        if self.done:
            return []
        out: list[Event] = self._go(0, until) if self._at < 0 else []
        if (answer := self._hands.poll()) is not None:
            out += self._answer(answer, until)
            if self.done:
                return out
        if until - self._since >= HALF_SECONDS:
            self._since = until
            self._lit = not self._lit
            out.append(self._light(until, self._level if self._lit else 0.0))
        return out

    def _answer(self, answer: Answer, t: float) -> list[Event]:
        if answer.word == NEXT:
            return self._go(self._at + 1, t)
        if answer.word == BACK:
            return self._go(max(0, self._at - 1), t)
        if answer.word == NAMES:
            return self._jump(answer.text, t)
        if answer.word in (YES, QUIT, END):
            self.found = self._at + 1 if answer.word == YES else None
            self.silent = answer.word == END
            self.done = True
            return [self._light(t, 0.0)]
        return self._go(self._at + 1, t) if answer.word == NONE else []

    def _jump(self, text: str, t: float) -> list[Event]:
        if text.isdecimal() and 1 <= int(text) <= len(self._rig.lamps):
            return self._go(int(text) - 1, t)
        self._say(f"  {text!r} is no slot; give 1 to {len(self._rig.lamps)}")
        return []

    def _go(self, at: int, t: float) -> list[Event]:
        out: list[Event] = [self._light(t, 0.0)] if self._at >= 0 else []
        if at >= len(self._rig.lamps):
            self.done = True
            return out
        self._at, self._since, self._lit = at, t, True
        self._say(f"slot {at + 1} pulses: does anything light or move?")
        return [*out, self._light(t, self._level)]

    def _light(self, t: float, level: float) -> Do:
        return Do(t, "light", self._rig.lamps[self._at].name, level)
