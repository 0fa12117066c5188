"""Knows: shows that never took place, turn by turn, as a loop and its outputs would tell them.

Must never know: how a report counts or draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from bridge.shell.report import Facts, Machine, ShowReport
from bridge.values.beat import Beat, OutputState
from bridge.values.events import NoteOn
from bridge.values.rig import Lamp, Rig, Supply

UP = OutputState("", "up")
START = 1000.0
"""Monotonic seconds at which every show begins."""

RIG = Rig(
    "Boathouse lamps",
    tuple(Lamp(f"roof.{n}", n, 1, n + 1, supply="quay") for n in range(24)),
    supplies=(Supply("quay", 12.0, 25.0),),
    guards={"heat": "warn", "load": "limit", "flash": "limit"},
)
MACHINE = Machine("Linux 6.1 x86_64", "3.11.2", 2)


def note(stamp: float) -> NoteOn:
    """A key struck at that second of the show."""
    return NoteOn(stamp, "piano", 1, 60, 90)


class Stage:
    """A show for a report to follow; the outputs send each frame `wire` seconds after its turn began."""

    def __init__(
        self, hz: float = 40.0, outputs: Sequence[str] = ("sacn",), wire: float = 0.0002, own_hz: float = 0.0
    ) -> None:
        self.hz, self.wire = hz, wire
        self.report = ShowReport(
            hz, [(name, own_hz) for name in outputs], ("heat", "load", "flash"), self.song
        )
        self.states = [UP] * len(outputs)
        self.k = -1
        self.errors = 0
        self.asked: list[float] = []

    def song(self, t: float) -> tuple[str, float] | None:
        """Harbour lights, from second 10 on."""
        self.asked.append(t)
        return ("Harbour lights", t - 10.0) if t >= 10.0 else None

    def turn(
        self,
        late: float = 0.0001,
        skipped: int = 0,
        busy: float = 0.0,
        notes: Sequence[float] = (),
        error: bool = False,
        held: Sequence[float] = (),
    ) -> float:
        """The next steady turn; its t."""
        self.k += 1 + skipped
        self.errors += error
        t = self.k / self.hz
        begun = START + t + late
        beat = Beat(self.k, late, skipped, 0, self.errors, 0, busy)
        self.report.turn(beat, t, begun, [note(stamp) for stamp in notes])
        self.report.hold(held)
        self.send(t, begun + self.wire)
        return t

    def early(self, after: float, notes: Sequence[float] = ()) -> None:
        """An early turn, so many seconds after the steady one."""
        t = self.k / self.hz + after
        beat = Beat(self.k, 0.0, 0, 0, self.errors, 1)
        self.report.turn(beat, t, START + t, [note(stamp) for stamp in notes])
        self.send(t, START + t + self.wire)

    def send(self, t: float, when: float) -> None:
        """Each output that is up sends the frame at `t`."""
        for number, state in enumerate(self.states):
            self.report.sent(number, [(t, when)] if state.state == "up" else [], state)

    def facts(self, **more: object) -> Facts:
        """What the end of it would tell."""
        told: dict[str, object] = {
            "title": "an evening song",
            "rig": RIG,
            "when": "2026-06-20 21:00",
            "states": [OutputState("", "down", "ended", 100, 0) for _ in self.states],
            "held": {"heat": (0.0, 0), "load": (0.0, 3), "flash": (0.0, 0)},
            "priority": (True, "real-time priority (SCHED_FIFO 10)"),
            "machine": MACHINE,
            "program": "lampwright 0.1.0",
        }
        return Facts(**(told | more))  # type: ignore[arg-type]


def steady(seconds: float = 60.0, hz: float = 40.0) -> Stage:
    """Two notes a second, nothing late."""
    stage, chance = Stage(hz), Random(1)
    for k in range(int(seconds * hz)):
        struck = [k / hz - chance.random() / hz] if k % int(hz / 2) == 0 else []
        stage.turn(0.0002 * chance.random(), notes=struck)
    return stage


def rough(seconds: float = 600.0, hz: float = 40.0) -> Stage:
    """All that can go wrong: dense passage, busy system, a sleep, failed turns, an output that goes away."""
    stage, chance = Stage(hz, ("sacn 127.0.0.1 universe 1", "serial ttyUSB0 break")), Random(2)
    opening = OutputState("", "opening")
    gone = OutputState("", "down", "ttyUSB0 does not answer; plug the adapter in again")
    while stage.k < seconds * hz:
        t = (stage.k + 1) / hz
        dense = 200 < t < 230
        stage.states = [UP, opening if t < 0.3 else gone if 300 < t < 342 or 400 < t < 400.3 else UP]
        count = chance.randrange(3) if dense else chance.random() < 0.05
        struck = sorted(t - chance.random() / hz for _ in range(count))
        late, skipped, busy = 0.0003 * chance.random() ** 3, 0, 0.0
        if dense and chance.random() < 0.2:
            busy = 0.012 * chance.random()
            late = busy + 0.0001
        if dense and chance.random() < 0.01:
            skipped, busy, late = 2, 0.004, 0.0041
        if chance.random() < 0.0008:
            late = 0.02 * chance.random()
        if abs(t - 450.0) < 0.5 / hz:
            skipped = int(40 * hz)
        held = (0.0, 0.2 if dense else 0.0, 0.0)
        stage.turn(late, skipped, busy, struck, chance.random() < 0.0001, held)
        if chance.random() < 0.02:
            after = (0.1 + 0.8 * chance.random()) / hz
            stage.early(after, [stage.k / hz + after - 0.0006 * chance.random()])
        if stage.k % 4 == 0:
            stage.report.loads([12.0 + 8.0 * chance.random() * dense])
    return stage
