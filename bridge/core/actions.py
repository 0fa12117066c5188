"""Knows: what notes and controllers do besides lighting: who presses what, and who holds the blackout.

Must never know: how a look or a blackout is drawn; devices.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from bridge.core.dials import Turn
from bridge.core.knobs import hears
from bridge.core.ports import PortNames
from bridge.values.mapping import DoRule, Mapping

Act = Callable[[DoRule, float], None]
"""Called with the rule and the time when it is pressed."""

PRESSED = 0.5
"""From here up a turn counts as pressed: 64 of 127."""


class Actions:
    """Which presses set off which rule."""

    def __init__(self, mapping: Mapping, ports: PortNames) -> None:
        self._rules = mapping.does
        self._ports = ports
        self._pressed: set[tuple[DoRule, str, int, int]] = set()

    def turn(self, turn: Turn, channel: int, port: str, stamp: float, act: Act) -> bool:
        """A note, controller or program came; True if a rule hears it."""
        heard = False
        for rule in self._rules:
            if not hears(rule.trigger, turn, channel, port, self._ports):
                continue
            heard = True
            name = (rule, port, channel, turn.number)
            if turn.value < PRESSED:
                self._pressed.discard(name)
            elif name not in self._pressed:
                # A program change has no release, so it never counts as held.
                if turn.kind != "program":
                    self._pressed.add(name)
                act(rule, stamp)
        return heard

    def port_gone(self, port: str) -> None:
        """A port vanished: what it pressed is let go."""
        self._pressed = {name for name in self._pressed if name[1] != port}

    def held(self, does: str) -> bool:
        """True while any rule with this word, and without `toggle`, is pressed."""
        return any(rule.does == does and not rule.toggle for rule, *_ in self._pressed)

    def adopt(self, old: Actions) -> None:
        """Take over what is pressed, where this mapping has the same rule."""
        same = {replace(rule, line=0): rule for rule in self._rules}
        for rule, *rest in old._pressed:
            now = same.get(replace(rule, line=0))
            if now is not None:
                self._pressed.add((now, rest[0], rest[1], rest[2]))  # type: ignore[arg-type]
