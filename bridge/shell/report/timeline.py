"""Knows: the highest value in each stretch of a show of any length, in bounded memory.

Must never know: what the values are, or how they are drawn.
"""

from __future__ import annotations

from typing import Final

STRETCHES: Final = 480
"""Most stretches; a show that outgrows them gets stretches twice as long: 8 minutes in seconds, a day in
pieces of 256 s."""


class Timeline:
    """Stretches of one second at first.

    Attributes:
        width: seconds of a stretch.
        values: the highest value of each, 0 where there was none.
    """

    __slots__ = ("values", "width")

    def __init__(self) -> None:
        self.width = 1.0
        self.values: list[float] = []

    def add(self, t: float, value: float) -> None:
        """A value at `t` seconds of the show, 0 up."""
        at = int(t / self.width)
        if at >= len(self.values):
            at = self._reach(t)
        if value > self.values[at]:
            self.values[at] = value

    def over(self, width: float, count: int) -> list[float]:
        """The same in `count` stretches of another width, to stand beside another time line."""
        values, share = self.values, width / self.width
        ends = [(int(share * at), max(int(share * at) + 1, int(share * (at + 1)))) for at in range(count)]
        return [max(values[begin:end], default=0.0) for begin, end in ends]

    def _reach(self, t: float) -> int:
        values = self.values
        while t / self.width >= STRETCHES:
            self.width *= 2.0
            values[:] = [max(values[at : at + 2]) for at in range(0, len(values), 2)]
        at = int(t / self.width)
        values.extend([0.0] * (at + 1 - len(values)))
        return at
