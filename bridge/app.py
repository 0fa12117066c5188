"""Knows: how a show is put together and taken apart: engine, feeds, outputs, loop, house, in that order.

Must never know: the rules of any floor below; arguments; exit codes; what the player is told.
"""

from __future__ import annotations

import contextlib
import gc
import signal
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.core.engine import Engine
from bridge.plan import Plan
from bridge.running import Running
from bridge.shell.awake import Awake
from bridge.shell.clock import Clock, claim_priority, give_back_priority
from bridge.shell.evening import Evening
from bridge.shell.feeds import Feed, ListFeed, OnPace
from bridge.shell.house import House, HousePlan
from bridge.shell.house_life import live_in
from bridge.shell.known import Known, Renewing
from bridge.shell.loop import Loop
from bridge.shell.outputs import OutputWorker, close_all, lights_nothing, make_outputs, top_sent
from bridge.shell.outputs.base import line_seconds
from bridge.shell.pace import Pace, Steady, Steered
from bridge.shell.picture import PictureWriter
from bridge.shell.recording import Recording
from bridge.shell.replaying import Replaying
from bridge.shell.resume_marks import Place
from bridge.shell.sound.stage import StageMusic
from bridge.shell.switching import Switching
from bridge.shell.tally import Tally
from bridge.shell.thru import Thru, open_thru
from bridge.telling import Telling
from bridge.values.beat import Beat
from bridge.values.events import Event
from bridge.values.frame import Frame

if TYPE_CHECKING:
    from bridge.reporting import Reporting

NEWS_EVERY = 4
"""Frames between two tellings of the news to the house."""

MARK_EVERY = 10
"""Frames between two looks at what stands, for after a bad end."""

SWITCH_SECONDS = 0.0005

ENDINGS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")


class Show:
    """One evening's run, from the first frame to the goodbye.

    Attributes:
        on: its parts, as far as they are there. interrupted: it was told to end.
    """

    def __init__(self, plan: Plan, say: Callable[[str], None], clock: Clock | None = None) -> None:
        self._plan, self._say = plan, say
        self._clock = clock or Clock()
        self.interrupted = False
        self._played = False
        self.reporting: Reporting | None = None
        self.on = on = Running(Engine(plan.rig, plan.mapping), Tally(), Known(plan.files))
        self._telling = Telling(plan, on, say)
        self.report = self._telling.report
        if plan.record is not None and plan.header is not None:
            on.recording = Recording(plan.record, plan.header, on.engine.guards, made)

    def run(self) -> None:
        """Play until the end, then leave the outputs as the rig says.

        Raises:
            UsageError: a MIDI port's name fits several ports.
        """
        plan, on = self._plan, self.on
        with contextlib.ExitStack() as stack:
            stack.enter_context(self._signals())
            stack.callback(self._clock.close)
            self._open_surroundings(stack)
            on.workers = self._workers()
            if plan.screen or plan.files or plan.page:
                self._open_house(stack)
            # Outputs end first: blackout waits for nobody, and least of all for a house or a sound device
            # that hangs. Nothing may be put on this stack after them but what has no device behind it.
            stack.callback(self._close_outputs)
            if not plan.screen:
                self._telling.announce()
            # A collection over a large heap costs whole frames; nothing made per frame is cyclic. None runs
            # here either: it kept the first frame waiting for 40 ms and found next to nothing.
            gc.freeze()
            gc.disable()
            stack.callback(gc.enable)
            # Threads of outputs must not keep the loop from its moment for Python's usual 5 ms.
            sys.setswitchinterval(SWITCH_SECONDS)
            priority = claim_priority()
            stack.callback(give_back_priority)
            if plan.report is not None:
                from bridge.reporting import Reporting  # most shows load no report

                self.reporting = Reporting(plan, on, priority)
            # Everything is open: show time begins now, so that the first frame is not late.
            start = self._clock.now()
            for feed in (on.live, on.house, on.ears):
                if feed is not None:
                    feed.start = start
            pace = self._begin_evening(start) if plan.numbers else Steady(start, plan.rig.refresh_hz)
            if on.recording is not None and plan.recording:
                on.recording.start(0.0)
            loop = self._loop(start, pace)
            if self.reporting is not None:
                self.reporting.follow(loop)
            loop.run(self._over, plan.seconds, pace)

    def _open_surroundings(self, stack: contextlib.ExitStack) -> None:
        """What is neither output nor house: the machine kept awake, MIDI, music, the take's end."""
        plan, on = self._plan, self.on
        awake = Awake()
        stack.callback(awake.close)
        if awake.note:
            plan.notices.append(awake.note)
        if plan.ports is not None:
            on.live = plan.ports()
            stack.callback(on.live.close)
        if plan.thru and on.live is not None:
            on.thru = Thru(on.live, open_thru(plan.thru))
        open_clock = partial(open_thru, plan.clock_to, word="clock_to") if plan.clock_to else None
        on.music = StageMusic(plan.ears, open_clock, self._clock)
        stack.callback(on.music.close)
        plan.notices += [note for spec in plan.outputs if (note := lights_nothing(spec))]
        if on.recording is not None:
            stack.callback(on.recording.close)
        stack.callback(self._end_evening)

    def _workers(self) -> list[OutputWorker]:
        """The outputs, each with its thread; those that speak sACN are one source."""
        plan = self._plan
        made = zip(make_outputs(plan.outputs, plan.rig), plan.outputs, strict=True)
        period = 1.0 / plan.rig.refresh_hz
        return [
            OutputWorker(output, spec, line=line_seconds(spec, top_sent(spec, plan.rig), period))
            for output, spec in made
        ]

    def _open_house(self, stack: contextlib.ExitStack) -> None:
        plan, on = self._plan, self.on
        on.picture = PictureWriter(plan.rig.universes)
        stack.callback(on.picture.close)
        folder = plan.record.parent if plan.record is not None else Path()
        on.replaying = Replaying(folder, plan.rig.universes)
        on.replaying.look()
        house = HousePlan(
            on.picture.name,
            plan.rig,
            plan.screen,
            on.known.files,
            plan.page,
            plan.mapping,
            folder,
            plan.browse,
        )
        on.house = House(house, self._clock.now, live_in)
        stack.callback(on.house.close)

    def _begin_evening(self, start: float) -> Pace:
        plan = self._plan
        pace = Steered(start, plan.rig.refresh_hz)
        self.on.evening = evening = Evening(plan.numbers, pace, plan.rig.refresh_hz)
        evening.choose(plan.at, 0.0)
        if plan.autostart:
            evening.start(0.0)
        return pace

    def _end_evening(self) -> None:
        if self.on.evening is not None:
            self.on.evening.close()

    def _loop(self, start: float, pace: Pace) -> Loop:
        on, hz = self.on, self._plan.rig.refresh_hz
        polling = any(feed is not None for feed in (on.live, on.house, on.ears))
        lines = [worker.line for worker in on.workers if worker.line]
        after = [self._act, self._count]
        if self.reporting is not None:
            after.append(self.reporting.tap)
        return Loop(
            on.engine,
            self._feeds(start, pace),
            [self._send],
            self._clock,
            hz,
            polling,
            early=min(lines, default=None),
            after=after,
        )

    def _feeds(self, start: float, pace: Pace) -> list[Feed]:
        """All sources of events, those that were handed in first; live ones follow the pace of a song."""
        on = self.on
        sources = (on.thru or on.live, on.house, on.ears)
        live: list[Feed] = [feed for feed in sources if feed is not None]
        if isinstance(pace, Steered):
            live = [OnPace(feed, start, pace) for feed in live]
        feeds = [*self._plan.feeds, *live]
        if on.replaying is not None:
            feeds.append(on.replaying)
        if on.evening is not None:
            feeds.append(on.evening)
        if self._plan.resume is not None:
            # After the evening, whose song brings in a mapping and a look: what stood was theirs.
            feeds.append(ListFeed(self._plan.resume.events(self._plan.mappings)))
        if len(self._plan.mappings) > 1:
            feeds = [Switching(feed, self._plan.mappings) for feed in feeds]
        return [Renewing(feed, on.known, lambda: on.engine.mapping) for feed in feeds]

    def _over(self) -> bool:
        evening = self.on.evening
        ended = self._plan.ends_with_song and self._played and evening is not None and not evening.playing
        return self.interrupted or ended or self._plan.done()

    def _send(self, beat: Beat, frame: Frame, _events: Sequence[Event]) -> None:
        early = beat.early > 0
        for worker in self.on.workers:
            worker.post(frame, early, beat.due)

    def _act(self, beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
        """Record, and do what the engine only wishes for."""
        on = self.on
        for wish in on.engine.take_wishes():
            self._grant(wish, frame.t)
        if on.evening is not None:
            on.evening.turn(frame.t)
            self._played |= on.evening.playing
        if on.recording is not None:
            on.recording.tap(beat, frame, events)

    def _grant(self, wish: str, t: float) -> None:
        """Do what a mapping or the page asked for and the engine cannot do."""
        word, _, name = wish.partition(" ")
        recording, replaying = self.on.recording, self.on.replaying
        if recording is not None and word in ("record", "record_on", "record_off"):
            if word == "record" or recording.on == (word == "record_off"):
                recording.toggle(t)
            if replaying is not None and not recording.on:
                replaying.look()
        elif replaying is not None and word == "replay":
            replaying.start(name)
        elif replaying is not None and word == "replay_stop":
            replaying.stop(t)
        elif replaying is not None and word in ("loop_on", "loop_off"):
            replaying.loop = word == "loop_on"
        elif self.on.evening is not None:
            self.on.evening.wish(word.removeprefix("set_"), t)

    def _count(self, beat: Beat, frame: Frame, _events: Sequence[Event]) -> None:
        on = self.on
        on.tally.add(beat)
        if beat.early:
            return
        on.t = frame.t
        if on.music is not None:
            on.music.turn(beat.due, frame.t, on.engine)
        if on.picture is not None:
            if beat.number % NEWS_EVERY == 0:
                on.picture.tell(self._telling.news())
            on.picture.post(beat, frame)
        if self._plan.resume is not None and beat.number % MARK_EVERY == 0:
            self._plan.resume.look(on.engine.standing, self._place(), frame.t)
        if beat.number % 40 == 0:
            if on.house is not None:
                on.house.look_after()
            if not self._plan.screen:
                self._telling.tell_news()

    def _place(self) -> Place:
        evening, number = self.on.evening, self.on.known.number(self.on.engine.mapping)
        number = number if number < len(self._plan.mappings) else -1
        return Place(mapping=number) if evening is None else Place(evening.index, evening.number.name, number)

    def _close_outputs(self) -> None:
        if self.reporting is not None:
            self.reporting.tell()
        stuck = close_all(self.on.workers, hold=self._plan.rig.on_exit == "hold")
        for name in stuck:
            self._say(f"{name} did not answer within a second and was left behind")

    @property
    def failed(self) -> bool:
        """True if an output never sent anything, or a take or the report could not be written."""
        states = [worker.state() for worker in self.on.workers]
        lost = self.on.recording is not None and self.on.recording.trouble
        lost = lost or (self.reporting is not None and self.reporting.trouble)
        return bool(lost) or any(state.failed and not state.sent for state in states)

    @contextlib.contextmanager
    def _signals(self) -> Any:
        """An ending sets a flag; a second one changes nothing, since the first is through in a second."""

        def end(_number: int, _frame: object) -> None:
            self.interrupted = True
            self._clock.wake.ring()

        before = {}
        for name in ENDINGS:
            number = getattr(signal, name, None)
            # Under nohup a closed terminal is no reason to end, and the program is told so by this.
            stays = name == "SIGHUP" and number is not None and signal.getsignal(number) is signal.SIG_IGN
            if number is not None and not stays:
                before[number] = signal.signal(number, end)
        try:
            yield
        finally:
            for number, handler in before.items():
                # Once told to end, the process only says how it went: a Ctrl-C on top must not cut it off.
                signal.signal(number, signal.SIG_IGN if self.interrupted else handler)


def made() -> str:
    """The time of day, for a take's header."""
    return datetime.now().astimezone().isoformat(timespec="seconds")
