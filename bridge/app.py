"""Knows: how a show is put together and taken apart: engine, feeds, outputs, loop, house, in that order.

Must never know: the rules of any floor below; arguments; exit codes.
"""

from __future__ import annotations

import contextlib
import gc
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from bridge.core.engine import Engine
from bridge.plan import Plan
from bridge.shell.awake import Awake
from bridge.shell.clock import Clock, claim_priority
from bridge.shell.evening import Evening
from bridge.shell.feeds import Feed, OnPace
from bridge.shell.guard_lines import held_lines
from bridge.shell.house import House, HousePlan
from bridge.shell.house_life import live_in
from bridge.shell.loop import Loop
from bridge.shell.news import evening_news, news, take_news
from bridge.shell.notices import port_line, song_lines, unheard_lines
from bridge.shell.outputs import OUTPUTS, OutputWorker, close_all, lights_nothing
from bridge.shell.pace import Pace, Steady, Steered
from bridge.shell.picture import PictureWriter
from bridge.shell.recording import Recording
from bridge.shell.replaying import Replaying
from bridge.shell.sound import SoundFeed
from bridge.shell.sound.stage import StageMusic
from bridge.shell.switching import Switching
from bridge.shell.tally import Tally
from bridge.shell.thru import Thru, open_thru
from bridge.values.beat import Beat
from bridge.values.events import Event
from bridge.values.frame import Frame

NEWS_EVERY = 4
"""Frames between two tellings of the news to the house."""

SWITCH_SECONDS = 0.0005

ENDINGS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")


class Show:
    """One evening's run, from the first frame to the goodbye."""

    def __init__(self, plan: Plan, say: Callable[[str], None], clock: Clock | None = None) -> None:
        self._plan, self._say = plan, say
        self._clock = clock or Clock()
        self.tally = Tally()
        self.interrupted = False
        self.engine = Engine(plan.rig, plan.mapping)
        self.workers: list[OutputWorker] = []
        self._picture: PictureWriter | None = None
        self._house: House | None = None
        self._live: Any = None
        self._thru: Thru | None = None
        self._music: StageMusic | None = None
        self.evening: Evening | None = None
        self._replaying: Replaying | None = None
        self._known = tuple(one.mapping for one in plan.numbers if one.mapping is not None)
        self._known += tuple(mapping for mapping, _ in plan.mappings)
        self._played = False
        self._t = 0.0
        self._said: set[str] = set()
        self.recording: Recording | None = None
        if plan.record is not None and plan.header is not None:
            self.recording = Recording(plan.record, plan.header, self.engine.guards, made)

    def run(self) -> None:
        """Play until the end, then leave the outputs as the rig says.

        Raises:
            UsageError: a MIDI port's name fits several ports.
        """
        plan = self._plan
        with contextlib.ExitStack() as stack:
            stack.enter_context(self._signals())
            stack.callback(self._clock.close)
            awake = Awake()
            stack.callback(awake.close)
            if awake.note:
                plan.notices.append(awake.note)
            if plan.ports is not None:
                self._live = plan.ports()
                stack.callback(self._live.close)
            if plan.thru and self._live is not None:
                self._thru = Thru(self._live, open_thru(plan.thru))
            open_clock = partial(open_thru, plan.clock_to, word="clock_to") if plan.clock_to else None
            self._music = StageMusic(plan.ears, open_clock, self._clock)
            stack.callback(self._music.close)
            for spec in plan.outputs:
                if note := lights_nothing(spec):
                    plan.notices.append(note)
            if self.recording is not None:
                stack.callback(self.recording.close)
            self.workers = [
                OutputWorker(OUTPUTS[spec.kind](spec, plan.rig.top_slot(spec.sends) or 512), spec)
                for spec in plan.outputs
            ]
            if plan.screen or plan.watch or plan.page:
                self._picture = PictureWriter(plan.rig.universes)
                stack.callback(self._picture.close)
                folder = plan.record.parent if plan.record is not None else Path()
                self._replaying = Replaying(folder, plan.rig.universes)
                self._replaying.look()
                house = HousePlan(
                    self._picture.name,
                    plan.rig,
                    plan.screen,
                    plan.watch,
                    plan.page,
                    plan.mapping,
                    folder,
                    plan.browse,
                    self._known,
                )
                self._house = House(house, self._clock.now, live_in)
                stack.callback(self._house.close)
            # Outputs end first: blackout waits for nobody, and least of all for a house that hangs.
            stack.callback(self._close_outputs)
            if not plan.screen:
                self._announce()
            taps = [self._send, self._act, self._count]
            # A collection over a large heap costs whole frames; nothing made per frame is cyclic.
            gc.collect()
            gc.freeze()
            gc.disable()
            stack.callback(gc.enable)
            # Threads of outputs must not keep the loop from its moment for Python's usual 5 ms.
            sys.setswitchinterval(SWITCH_SECONDS)
            claim_priority()
            # Everything is open: show time begins now, so that the first frame is not late.
            start = self._clock.now()
            for feed in (self._live, self._house, self._ears):
                if feed is not None:
                    feed.start = start
            pace: Pace = Steady(start, plan.rig.refresh_hz)
            if plan.numbers:
                pace = self._begin_evening(start, stack)
            if self.recording is not None and plan.recording:
                self.recording.start(0.0)
            polling = any(feed is not None for feed in (self._live, self._house, self._ears))
            feeds = self._feeds(start, pace)
            loop = Loop(self.engine, feeds, taps, self._clock, plan.rig.refresh_hz, polling)
            loop.run(self._over, plan.seconds, pace)

    def _begin_evening(self, start: float, stack: contextlib.ExitStack) -> Steered:
        plan = self._plan
        pace = Steered(start, plan.rig.refresh_hz)
        self.evening = Evening(plan.numbers, pace, plan.rig.refresh_hz, plan.moved)
        stack.callback(self.evening.close)
        self.evening.choose(plan.at, 0.0)
        if plan.autostart:
            self.evening.start(0.0)
        return pace

    def _feeds(self, start: float, pace: Pace) -> list[Feed]:
        """All sources of events, those that were handed in first; live ones follow the pace of a song."""
        sources = (self._thru or self._live, self._house, self._ears)
        live: list[Feed] = [feed for feed in sources if feed is not None]
        if isinstance(pace, Steered):
            live = [OnPace(feed, start, pace) for feed in live]
        feeds = [*self._plan.feeds, *live]
        if self._replaying is not None:
            feeds.append(self._replaying)
        if self.evening is not None:
            feeds.append(self.evening)
        if len(self._plan.mappings) > 1:
            return [Switching(feed, self._plan.mappings) for feed in feeds]
        return feeds

    @property
    def _ears(self) -> SoundFeed | None:
        """What hears an input; None where none is heard."""
        return self._music.live if self._music is not None else None

    def _over(self) -> bool:
        ended = (
            self._plan.ends_with_song
            and self._played
            and self.evening is not None
            and not self.evening.playing
        )
        return self.interrupted or ended or self._plan.done()

    def _send(self, _beat: Beat, frame: Frame, _events: Sequence[Event]) -> None:
        for worker in self.workers:
            worker.post(frame)

    def _act(self, beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
        """Record, and do what the engine only wishes for."""
        recording = self.recording
        for wish in self.engine.take_wishes():
            self._grant(wish, frame.t)
        if self.evening is not None:
            self.evening.turn(frame.t)
            self._played |= self.evening.playing
        if recording is not None:
            recording.tap(beat, frame, events)

    def _grant(self, wish: str, t: float) -> None:
        """Do what a mapping or the page asked for and the engine cannot do."""
        word, _, name = wish.partition(" ")
        recording, replaying = self.recording, self._replaying
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
        elif self.evening is not None:
            self.evening.wish(word.removeprefix("set_"), t)

    def _count(self, beat: Beat, frame: Frame, _events: Sequence[Event]) -> None:
        self.tally.add(beat)
        self._t = frame.t
        if self._music is not None:
            self._music.turn(self._clock.now(), frame.t, self.engine)
        if self._picture is not None:
            if beat.number % NEWS_EVERY == 0:
                self._picture.tell(self._news())
            self._picture.post(beat, frame)
        if beat.number % 40 == 0:
            if self._house is not None:
                self._house.look_after()
            if not self._plan.screen:
                self._tell_news()

    def _tell_news(self) -> None:
        """Without a screen: say what was not said before; a reader that stalls must stall no frame."""
        for line in self._notices():
            if line not in self._said:
                self._said.add(line)
                threading.Thread(target=self._say, args=(line,), name="news", daemon=True).start()

    def _news(self) -> dict[str, Any]:
        states = [worker.state() for worker in self.workers]
        found = news(self.engine, self.tally, states, self._plan.title, self._notices())
        found |= evening_news(self.evening, self._t)
        found |= take_news(self.recording, self._replaying, self._t)
        mapping = self.engine.mapping
        found["known"] = next((n for n, one in enumerate(self._known) if one is mapping), -1)
        return found

    def _notices(self) -> list[str]:
        """What the player should know now."""
        notices = list(self._plan.notices)
        if self._live is not None:
            notices += [port_line(state) for state in self._live.states()]
        if self._house is not None:
            notices += self._house.notices
            if self._house.link:
                notices.append(f"stage page: {self._house.link}")
        if self._replaying is not None and self._replaying.trouble:
            notices.append(self._replaying.trouble)
        notices += unheard_lines(self.engine)
        if self._thru is not None and self._thru.trouble:
            notices.append(self._thru.trouble)
        if self.recording is not None and self.recording.line:
            notices.append(self.recording.line)
        if self._plan.screen:
            notices += held_lines(self.engine)
        if self.evening is not None:
            notices += song_lines(self.evening)
        if self._music is not None:
            notices += self._music.lines(self.engine)
        return notices

    def _announce(self) -> None:
        rig = self._plan.rig
        self._say(
            f"{self._plan.title or rig.name}: {len(rig.lamps)} lamps, {rig.refresh_hz:g} frames a second"
        )
        for worker in self.workers:
            self._say(f"out: {worker.name}")
        if not self.workers:
            self._say("out: nowhere; the rig names no output, so nothing leaves this machine")
        for notice in self._notices():
            self._said.add(notice)
            self._say(notice)

    def _close_outputs(self) -> None:
        stuck = close_all(self.workers, hold=self._plan.rig.on_exit == "hold")
        for name in stuck:
            self._say(f"{name} did not answer within a second and was left behind")

    def report(self) -> None:
        """Say how it went."""
        if self._plan.screen:
            # A house that was killed could not give the terminal back.
            self._say("\x1b[?1049l\x1b[?25h\r\x1b[K\x1b[1A")
        self._say(self.tally.text())
        if self.recording is not None and self.recording.line:
            self._say(self.recording.line)
        for state in (worker.state() for worker in self.workers):
            failed = f", failed {state.failed} times: {state.note}" if state.failed else ""
            self._say(f"{state.name}: {state.sent} packets{failed}")

    @property
    def failed(self) -> bool:
        """True if an output never sent anything, or a take could not be written."""
        states = [worker.state() for worker in self.workers]
        lost = self.recording is not None and self.recording.trouble
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
            if number is not None:
                before[number] = signal.signal(number, end)
        try:
            yield
        finally:
            for number, handler in before.items():
                # Once told to end, the process only says how it went: a Ctrl-C on top must not cut it off.
                signal.signal(number, signal.SIG_IGN if self.interrupted else handler)


def wants_screen() -> bool:
    """True where standard output is a terminal that can be drawn on."""
    return sys.stdout is not None and sys.stdout.isatty()


def made() -> str:
    """The time of day, for a take's header."""
    return datetime.now().astimezone().isoformat(timespec="seconds")
