"""Knows: when an output is next to be opened, fed, kept alive or tried again; the time is an argument.

Must never know: threads, clocks, devices, or what is in a frame.

Rules, in this order:
  closed   open; after a failure only when its pause is over (0.25 s, doubling to 4 s)
  open     a new frame goes out at once, or when the output's own refresh rate allows it; an early one as
           soon as the line is free, which moves no steady one by more than that
  idle     0.8 s after the last send the last frame goes out again
"""

from __future__ import annotations

from enum import Enum

KEEP_ALIVE = 0.8
"""Seconds after which an unchanged frame is sent again.

ANSI E1.31 clause 6.6.2 asks for 800 to 1000 ms; ANSI E1.11 Table 6 lets at most 1 s pass from break to
break. The lower end leaves a busy machine 200 ms to be late in. The clause also wants an unchanged picture
sent three times before it is only kept alive: the frame clock posts every frame, changed or not, so it is.
"""

FIRST_PAUSE = 0.25
LONGEST_PAUSE = 4.0
"""Seconds before a failed output is opened again: the first time, and at most."""


class Act(Enum):
    """What is to be done now."""

    OPEN = "open"
    SEND = "send"
    WAIT = "wait"


class Schedule:
    """One output's duties.

    Args:
        refresh_hz: most sends a second; 0 for one per frame. Never slower than the keep-alive.
        line: seconds from the beginning of a send until the line is free; 0 where nothing is sent early.
    """

    def __init__(self, refresh_hz: float = 0.0, line: float = 0.0) -> None:
        self._period = min(1.0 / refresh_hz, KEEP_ALIVE) if refresh_hz > 0.0 else 0.0
        self._pause = FIRST_PAUSE
        self._retry_at: float | None = None
        self._sent_at: float | None = None
        self._line = line
        self._steady_at = 0.0
        self._sent_number = 0
        self.is_open = False

    def due(
        self, now: float, number: int, early: bool = False, moment: float = 0.0
    ) -> tuple[Act, float | None]:
        """What to do at `now` (seconds) with frame `number` as the newest (0: none was made yet).

        Args:
            early: that frame came between two steady ones. moment: the one before which it is not sent.

        Returns:
            the act, and for WAIT the seconds until something will be due; None: only a frame can bring work.
        """
        if not self.is_open:
            return self._at(Act.OPEN, now, self._retry_at)
        if number == 0:
            return Act.WAIT, None
        if self._sent_at is None:
            return self._at(Act.SEND, now, moment)
        if number == self._sent_number:
            return self._at(Act.SEND, now, self._sent_at + KEEP_ALIVE)
        free = self._sent_at + self._line
        return self._at(
            Act.SEND, now, max(moment, free if early else max(free, self._steady_at + self._period))
        )

    def opened(self) -> None:
        """The device is open; a frame made earlier is due at once, so a lamp regains its level."""
        self.is_open = True
        self._sent_at = None

    def sent(self, began: float, number: int, early: bool = False) -> None:
        """Frame `number` went out; the send began at `began`. Only this proves a device well again."""
        self._sent_at = began
        if not early:
            self._steady_at = began
        self._sent_number = number
        self._pause = FIRST_PAUSE

    def failed(self, now: float) -> None:
        """Opening or sending failed at `now`."""
        self.is_open = False
        self._retry_at = now + self._pause
        self._pause = min(self._pause * 2.0, LONGEST_PAUSE)

    @staticmethod
    def _at(act: Act, now: float, moment: float | None) -> tuple[Act, float | None]:
        if moment is None or now >= moment:
            return act, 0.0
        return Act.WAIT, moment - now
