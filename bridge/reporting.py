"""Knows: what of a running show goes into its report, and when.

Must never know: how a report counts or draws; how a show is put together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from bridge import __version__
from bridge.parts.guard_load import LoadGuard
from bridge.plan import Plan
from bridge.running import Running
from bridge.shell.clock import asleep
from bridge.shell.loop import Loop
from bridge.shell.report import Facts, ShowReport
from bridge.values.beat import Beat
from bridge.values.errors import DeviceError
from bridge.values.events import Event
from bridge.values.frame import Frame

AT_ONCE = 16
"""Turns that are told together. Alone each would cost some ten times as much, since what it runs through has
left the processor's caches by the next frame."""


class Reporting:
    """Feeds the report of one show, and writes it where the plan says.

    Args:
        on: the parts of the show, its workers there.
        priority: what `claim_priority` answered.

    Attributes:
        trouble: why it could not be written; empty where it was.
    """

    def __init__(self, plan: Plan, on: Running, priority: tuple[bool, str]) -> None:
        self._plan, self._on, self._priority = plan, on, priority
        outputs = [
            (worker.name, spec.refresh_hz) for worker, spec in zip(on.workers, plan.outputs, strict=True)
        ]
        self._report = ShowReport(plan.rig.refresh_hz, outputs, tuple(on.engine.guards), self._song)
        self._guards = tuple(on.engine.guards.values())
        self._load = next((guard for guard in self._guards if isinstance(guard, LoadGuard)), None)
        self._when = datetime.now().strftime("%Y-%m-%d %H:%M")
        self._asleep = asleep()
        self._loop: Loop | None = None
        self._turns: list[tuple[Beat, float, float, Sequence[Event]]] = []
        self.trouble = ""

    def follow(self, loop: Loop) -> None:
        """The loop whose turns are told."""
        self._loop = loop

    def tap(self, beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
        """One turn; after the frame was handed on."""
        if self._loop is None:
            return
        # A frame that was kept in place of a failed one has the time of its own.
        # Divided as the loop does: a packet is known by its frame's time, to the bit.
        t = frame.t if beat.early else beat.number / self._plan.rig.refresh_hz
        self._turns.append((beat, t, self._loop.began, events))
        if len(self._turns) >= AT_ONCE or beat.number == 0:
            self.tell()

    def tell(self) -> None:
        """All that has waited, and how everything is now; call it before the outputs are closed too."""
        report, held = self._report, [guard.held[0] for guard in self._guards]
        for beat, t, began, events in self._turns:
            report.turn(beat, t, began, events)
        report.hold(held)
        self._turns.clear()
        for number, worker in enumerate(self._on.workers):
            times = worker.times
            report.sent(number, [times.popleft() for _ in range(len(times))], worker.state())
        if self._load is not None:
            report.loads(self._load.supply_load.tolist())

    def write(self, say: Callable[[str], None], interrupted: bool) -> None:
        """Write it, once every output is closed, and say so."""
        plan, on = self._plan, self._on
        if plan.report is None:
            return
        for number, worker in enumerate(on.workers):
            self._report.sent(number, list(worker.times))
        facts = Facts(
            plan.title or plan.rig.name,
            plan.rig,
            self._when,
            [worker.state() for worker in on.workers],
            {name: guard.held for name, guard in on.engine.guards.items()},
            self._priority,
            interrupted,
            asleep() - self._asleep,
            self._loop.last_error if self._loop is not None else "",
            f"lampwright {__version__}",
        )
        try:
            self._report.write(plan.report, facts)
        except DeviceError as error:
            self.trouble = str(error)
            say(self.trouble)
            return
        say(f"{plan.report}: open it in a browser to see how the show went")

    def _song(self, t: float) -> tuple[str, float] | None:
        evening = self._on.evening
        if evening is None or not evening.playing:
            return None
        return evening.number.name, evening.position(t)
