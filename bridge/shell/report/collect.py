"""Knows: what a show tells as it goes, turn by turn, kept in bounded memory and in microseconds.

Must never know: clocks, files, or how any of it is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from bridge.shell.report.bins import Bins
from bridge.shell.report.output_log import OutputLog
from bridge.shell.report.reasons import FAILED, LATE, Late, Reason, Reasons, reason_of
from bridge.shell.report.timeline import Timeline
from bridge.values.beat import Beat, OutputState
from bridge.values.events import Event, NoteOn

Song = Callable[[float], tuple[str, float] | None]
"""Show time -> name of the song that plays and the second it is at; None where none plays."""


class Collected:
    """Everything a report shows.

    Args:
        hz: frames a second.
        outputs: name and own refresh rate (0: every frame) of each, in the order in which `sent` counts them.
        guards: names, in the order in which `hold` tells of them.
        song: asked for the worst frames alone.

    Attributes:
        frames, early: steady and early turns. skipped: frames left out. dropped: events that were lost.
        lateness: of every steady turn, counted from the oldest frame that was due.
        evenness: how far the times from one steady turn to the next were off the period. Neither of the two
            counts a sleep of the machine.
        lates: the late ones by reason.
        failed: turns that kept the frame before; failed_at: when the first did.
        worst, notes, left_out: the latest frame, the busiest second and the longest gap of each stretch.
        all_notes, busiest: notes in all, and of the second that had most.
        away: seconds the machine slept. span: seconds from the first turn to the last.
        held_seconds, held_most: of each guard, how long it held back, and the largest share 0..1.
        amps: the highest current of each supply that was told.
    """

    def __init__(
        self,
        hz: float,
        outputs: Iterable[tuple[str, float]] = (),
        guards: Sequence[str] = (),
        song: Song = lambda _t: None,
    ) -> None:
        self.hz, self.period = hz, 1.0 / hz
        self.outputs = [OutputLog(name, hz, own) for name, own in outputs]
        self.guards = tuple(guards)
        self.frames = self.early = self.skipped = self.dropped = self.failed = 0
        self.lateness, self.evenness = Bins(), Bins()
        self.lates = Reasons()
        self.failed_at: list[float] = []
        self.worst, self.notes, self.left_out = Timeline(), Timeline(), Timeline()
        self.all_notes = self.busiest = 0
        self.away = self.span = 0.0
        self.held_seconds = [0.0] * len(self.guards)
        self.held_most = [0.0] * len(self.guards)
        self.amps: list[float] = []
        self._song = song
        self._t = 0.0
        self._first: float | None = None
        self._begun = self._steady = 0.0
        self._held_at: float | None = None
        self._second = self._in_second = self._before = 0

    def turn(self, beat: Beat, t: float, begun: float, events: Sequence[Event] = ()) -> None:
        """One turn of the loop, steady or early.

        Args:
            t: of its frame, in seconds of the show. begun: monotonic seconds at which the turn began.
            events: what it took, stamped in seconds of the show.
        """
        self._t = t
        if self._first is None:
            self._first = self._begun = begun
        passed = begun - self._begun
        self._begun = begun
        self.span = begun - self._first
        if events:
            self._take(t, begun - beat.late, events)
        if beat.errors > self.failed:
            self.failed = beat.errors
            if len(self.failed_at) < FAILED:
                self.failed_at.append(t)
        if beat.early:
            self.early += 1
            return
        self.dropped = beat.dropped
        behind = beat.late + beat.skipped * self.period
        awake = behind <= LATE or self._late(beat, t, behind, passed) is not Reason.AWAY
        if awake:
            if self.frames:
                self.evenness.add(abs(begun - self._steady - self.period))
            self.lateness.add(behind)
            self.worst.add(t, behind)
        self._steady = begun
        self.frames += 1

    def sent(
        self, output: int, packets: Iterable[tuple[float, float]], state: OutputState | None = None
    ) -> None:
        """What an output has sent since the last call; after the turns of that time, one or a few.

        Args:
            output: its number. state: how it is now; None once the show is over, when it is being closed.
            packets: (t of the frame, monotonic seconds when it had been handed to the system), in order.
        """
        log = self.outputs[output]
        log.sent(packets)
        if state is not None:
            log.look(self._t, self._begun, state)

    def hold(self, shares: Sequence[float]) -> None:
        """The share 0..1 that each guard holds back now, in the order of `guards`, since the last call."""
        passed = self._begun - self._held_at if self._held_at is not None else 0.0
        self._held_at = self._begun
        for guard, share in enumerate(shares):
            if share > 0.0:
                self.held_seconds[guard] += passed
                self.held_most[guard] = max(share, self.held_most[guard])

    def loads(self, amps: Sequence[float]) -> None:
        """The current of each supply now, in the order of the rig; as often as it is known."""
        if len(amps) != len(self.amps):
            self.amps = [0.0] * len(amps)
        for supply, now in enumerate(amps):
            if now > self.amps[supply]:
                self.amps[supply] = float(now)

    @property
    def rate(self) -> float:
        """Frames a second that were reached while the machine was awake; 0 before there were two."""
        awake = self.span - self.away
        return (self.frames - 1) / awake if self.frames > 1 and awake > 0.0 else 0.0

    def _take(self, t: float, wall: float, events: Sequence[Event]) -> None:
        """Count the keys of a frame whose time `t` was the monotonic time `wall`."""
        keys = [event.stamp for event in events if type(event) is NoteOn]
        if not keys:
            return
        second = int(t)
        if second != self._second:
            self._before = self._in_second if second == self._second + 1 else 0
            self._second, self._in_second = second, 0
        self.all_notes += len(keys)
        self._in_second += len(keys)
        self.busiest = max(self.busiest, self._in_second)
        self.notes.add(second, self._in_second)
        for log in self.outputs:
            for stamp in keys:
                log.struck(t, wall - (t - stamp))

    def _late(self, beat: Beat, t: float, behind: float, gap: float) -> Reason:
        reason = reason_of(beat, behind, gap, self.period)
        self.lates.count(reason, beat.skipped)
        self.skipped += beat.skipped
        self.left_out.add(t, beat.skipped)
        if reason is Reason.AWAY:
            self.away += gap - self.period
            for log in self.outputs:
                log.pause()
        if self.lates.is_among_worst(behind):
            notes = self._notes_near(int(t))
            name, at = self._song(t) or ("", 0.0)
            self.lates.keep(Late(behind, t, beat.skipped, reason, notes, name, at))
        return reason

    def _notes_near(self, second: int) -> int:
        """Notes of this second so far or of the one before, where those were more."""
        if second == self._second:
            return max(self._in_second, self._before)
        return self._in_second if second == self._second + 1 else 0
