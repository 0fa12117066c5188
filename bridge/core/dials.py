"""Knows: how controllers, fine halves, parameter numbers, the wheel and pressure become turns of 0..1.

Must never know: what a turn sets.

Source: MIDI 1.0 Detailed Specification 4.2: controllers 0..31 with their fine halves 32..63 (a coarse value
alone sets the fine one to 0), data entry 6 and 38 with 96 and 97 for the parameter chosen by 98 to 101,
127/127 for none.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from bridge.core.hands import Place
from bridge.values.events import Bend, ChannelPressure, Control, Event, Program

FINE = 16383
DATA_COARSE, DATA_FINE, UP, DOWN = 6, 38, 96, 97
NRPN_FINE, NRPN_COARSE, RPN_FINE, RPN_COARSE = 98, 99, 100, 101
NO_PARAMETER = (127, 127)


class Turn(NamedTuple):
    """Something turned: kind and number as in `Trigger`, value 0..1."""

    kind: str
    number: int
    value: float


@dataclass(slots=True)
class _Channel:
    halves: dict[int, tuple[int, int]] = field(default_factory=dict)
    kind: str = ""
    parameter: tuple[int, int] = NO_PARAMETER
    data: dict[tuple[str, int], int] = field(default_factory=dict)


class Dials:
    """Remembers the halves of wide values, per port and channel."""

    def __init__(self) -> None:
        self._channels: dict[Place, _Channel] = {}

    def turns(self, event: Event) -> list[Turn]:
        """What an event turns; several where a controller is also half of something wider."""
        if isinstance(event, Control):
            return self._control(event)
        if isinstance(event, Bend):
            return [Turn("bend", 0, (event.value + 8192) / FINE)]
        if isinstance(event, ChannelPressure):
            return [Turn("pressure", 0, event.value / 127)]
        if isinstance(event, Program):
            return [Turn("program", event.program, 1.0)]
        return []

    def forget(self, port: str) -> None:
        """The port is gone."""
        for place in [place for place in self._channels if place[0] == port]:
            del self._channels[place]

    def _control(self, event: Control) -> list[Turn]:
        number, value = event.control, event.value
        out = [Turn("control", number, value / 127)]
        if number >= 120:
            return out
        channel = self._channels.setdefault((event.port, event.channel), _Channel())
        if number < 64:
            which = number % 32
            coarse, _ = channel.halves.get(which, (0, 0))
            halves = (value, 0) if number < 32 else (coarse, value)
            channel.halves[which] = halves
            out.append(Turn("control14", which, (halves[0] * 128 + halves[1]) / FINE))
        if number in (NRPN_FINE, NRPN_COARSE, RPN_FINE, RPN_COARSE):
            self._choose(channel, number, value)
        elif number in (DATA_COARSE, DATA_FINE, UP, DOWN) and channel.parameter != NO_PARAMETER:
            out.append(self._enter(channel, number, value))
        return out

    @staticmethod
    def _choose(channel: _Channel, number: int, value: int) -> None:
        kind = "nrpn" if number in (NRPN_FINE, NRPN_COARSE) else "rpn"
        coarse, fine = channel.parameter if channel.kind == kind else (0, 0)
        channel.kind = kind
        channel.parameter = (value, fine) if number in (NRPN_COARSE, RPN_COARSE) else (coarse, value)

    @staticmethod
    def _enter(channel: _Channel, number: int, value: int) -> Turn:
        name = (channel.kind, channel.parameter[0] * 128 + channel.parameter[1])
        now = channel.data.get(name, 0)
        if number == DATA_COARSE:
            now = value * 128
        elif number == DATA_FINE:
            now = now // 128 * 128 + value
        else:
            now = min(FINE, max(0, now + (1 if number == UP else -1)))
        channel.data[name] = now
        return Turn(*name, now / FINE)
