"""A simulated week at 40 Hz: does memory grow, is the take sound, does time drift?

The real loop, engine and guards on the boathouse, with a clock whose time passes only when somebody waits
(`FakeClock`), and a take that is written as the recorder writes it, in larger pieces. Each of seven days (a
seventh of the time) a player plays densely for a 24th of the day: three notes a second, a wheel, a pedal, now
and then a chord; the rest of the day the show stands. Garbage collection is off, as in a show, so a cycle
made per frame would show as growth.

Drift: frame k must be the picture at k / 40 s on the last day as on the first, and the first minute of each
day's playing must look as it did on the first day, slot by slot.

Run it by hand: `python -m tests.benchmarks.week [SECONDS]`, a week (24,192,000 frames) unless given, some ten
minutes of one core; made a multiple of seven minutes. Not part of the test run.
"""

from __future__ import annotations

import gc
import sys
import tempfile
import time
from collections import deque
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from bridge.commands.loading import load
from bridge.core.engine import Engine
from bridge.shell.clock import FakeClock
from bridge.shell.loop import Loop
from bridge.shell.pace import Steady
from bridge.shell.takes.batch import Batcher
from bridge.shell.takes.reader import Take
from bridge.shell.takes.store import TakeFile, reserve
from bridge.shell.tally import Tally
from bridge.values.beat import Beat
from bridge.values.events import Control, Event, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.wire.take_header import TakeHeader
from tests.benchmarks.show import BOATHOUSE, goal, machine, table

HZ, DAYS = 40.0, 7
WEEK = 7 * 86400.0
COMPARED = 60.0
WRITTEN_EVERY = 2400
FLAT_MB = 1.0
PIANO = "piano"


class Player:
    """A feed that plays at the beginning of each day; makes its events as time comes to them."""

    def __init__(self, day: float) -> None:
        self._day, self._burst = day, day / 24
        self._number, self._in_day = 0, 0
        self._next: deque[Event] = deque()
        self.played = 0

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        if self._next and self._next[0].stamp > until:
            return ()
        out: list[Event] = []
        while True:
            while self._next and self._next[0].stamp <= until:
                out.append(self._next.popleft())
            if self._next:
                self.played += len(out)
                return out
            self._more()

    def _more(self) -> None:
        """The events of the next third of a second of playing, in order."""
        n = self._in_day
        # Between frames: at a frame's own moment, the last digit of the sum would choose the frame.
        at = self._number * self._day + (512 + n * 1024 // 3 + 0.5) / 1024
        note = 36 + n * 7 % 49
        events: list[Event] = [
            NoteOn(at, PIANO, 1, note, 40 + n * 11 % 80),
            Control(at + 50 / 1024, PIANO, 1, 1, n % 128),
            NoteOff(at + 307 / 1024, PIANO, 1, note),
        ]
        if n % 30 == 0:
            events[1:1] = [NoteOn(at + 10 / 1024, PIANO, 1, 48 + step, 90) for step in (0, 4, 7)]
            events += [NoteOff(at + 318 / 1024, PIANO, 1, 48 + step) for step in (0, 4, 7)]
        if n % 50 == 0:
            events += [Control(at + 328 / 1024, PIANO, 1, 64, 127 if n % 100 == 0 else 0)]
        self._next.extend(events)
        self._in_day += 1
        if (self._in_day + 3) / 3 > self._burst:
            self._next.append(Control(at + 338 / 1024, PIANO, 1, 64, 0))
            self._in_day, self._number = 0, self._number + 1


def own_mb() -> float:
    """Anonymous memory of this process."""
    rollup = Path("/proc/self/smaps_rollup").read_text("ascii").splitlines()
    return int(next(row for row in rollup if row.startswith("Anonymous:")).split()[1]) / 1024


class Watch:
    """The taps of the show: tally, take, and what is compared."""

    def __init__(self, seconds: float, file: TakeFile, batcher: Batcher) -> None:
        self.tally = Tally()
        self.memory: list[tuple[float, float]] = []
        self.last = Frame(0.0, (1,), np.zeros((1, 512), np.uint8))
        self.off_time = 0.0
        self.different = self.widest = self.compared = 0
        self._day = seconds / DAYS
        self._file, self._batcher = file, batcher
        self._first: list[bytes] = []
        self._frames_a_day = round(self._day * HZ)
        self._sample = min(round(COMPARED * HZ), self._frames_a_day // 30)
        self._mark = max(1, round(seconds * HZ) // 56)
        self._began = time.perf_counter()
        self._whole = seconds

    def tap(self, beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
        """A frame went out."""
        k = beat.number
        self.tally.add(beat)
        self._batcher.turn(k, beat.skipped, frame, events)
        if k % WRITTEN_EVERY == WRITTEN_EVERY - 1:
            self._file.write(self._batcher.rows())
        into = k % self._frames_a_day
        if into < self._sample:
            self._compare(k // self._frames_a_day, into, frame)
        if k % self._mark == 0:
            self.memory.append((k / HZ, own_mb()))
            if k == self._mark:
                each = (time.perf_counter() - self._began) / k
                print(f"about {each * self._whole * HZ / 60:.0f} minutes or less", flush=True)
        self.off_time = max(self.off_time, abs(frame.t - k / HZ))
        self.last = frame

    def _compare(self, day: int, into: int, frame: Frame) -> None:
        slots = frame.slots.tobytes()
        if day == 0:
            self._first.append(slots)
            return
        self.compared += 1
        if slots != self._first[into]:
            gap = np.abs(
                np.frombuffer(slots, np.uint8).astype(int) - np.frombuffer(self._first[into], np.uint8)
            )
            self.different += 1
            self.widest = max(self.widest, int(gap.max()))


def main(seconds: float) -> None:
    """Run, check and print."""
    conditions = machine()
    # Days of whole minutes, so that every day begins on a frame.
    seconds = max(1, round(seconds / 60 / DAYS)) * 60.0 * DAYS
    rig, mapping, _ = load(BOATHOUSE / "rig.yaml", BOATHOUSE / "mapping.yaml")
    header = TakeHeader(HZ, rig.universes)
    player, clock = Player(seconds / DAYS), FakeClock()
    with tempfile.TemporaryDirectory() as name:
        path = reserve(Path(name) / "week.take")
        file, batcher = TakeFile(path, header, lasting=False), Batcher(header)
        watch = Watch(seconds, file, batcher)
        pace = Steady(0.0, HZ)
        loop = Loop(Engine(rig, mapping), [player], [watch.tap], clock, HZ, polling=False)
        gc.collect()
        gc.freeze()
        gc.disable()
        begun, used = time.perf_counter(), time.process_time()
        frames = loop.run(lambda: False, seconds, pace)
        took, used = time.perf_counter() - begun, time.process_time() - used
        gc.enable()
        file.write([*batcher.rows(), batcher.end()])
        file.close()
        size = path.stat().st_size
        with Take.open(path) as take:
            gaps, complete = take.check(), take.complete
            held = sum(1 for _ in take.events())
            reaches = take.next_k == frames
            ends = take.ends
    clock.close()
    settled = [mb for at, mb in watch.memory if at >= seconds / DAYS]
    grew = max(settled) - settled[0]
    due = abs(pace.due(frames) - frames / HZ)
    memory = f"after a day; {max(settled):.1f} at most, {settled[-1]:.1f} at the end"
    whole = f"{ends:g} s, {len(gaps)} gaps, {'complete' if complete else 'NOT complete'}"
    left_out = f"at most; frames left out: {watch.tally.skipped}; due {due:g} s off"
    beside = f"beside those of the first day: {watch.different} differ, by {watch.widest} at most"
    each = f"{used / frames * 1e6:.1f} us a frame; errors: {loop.errors} {loop.last_error}"
    rows = [
        ("frames", f"{frames}", f"{took:.0f} s, {frames / took:.0f} frames a second"),
        ("events", f"{player.played}", f"in the take: {held}"),
        ("own memory MB", f"{settled[0]:.1f}", memory),
        ("take", f"{size / 1e6:.1f} MB", whole),
        ("time", f"{watch.off_time:g} s off", left_out),
        ("pictures", f"{watch.compared}", beside),
        ("processor", f"{used:.0f} s", each),
    ]
    table(
        f"A simulated {seconds / 86400:.3g} days at {HZ:g} Hz", ("", "measured", "more"), rows, (conditions,)
    )
    what = f"simulated {seconds / 86400:.3g} days at 40 Hz"
    goal(
        f"{what}: memory", f"flat: under {FLAT_MB:g} MB after day one", f"{grew:+.2f} MB", "", grew < FLAT_MB
    )
    sound = complete and not gaps and not loop.errors and held == player.played and reaches
    goal(f"{what}: take", "sound", f"{held} of {player.played} events, {len(gaps)} gaps", "", sound)
    goal(
        f"{what}: drift",
        "none",
        f"{watch.off_time:g} s, {watch.different} of {watch.compared} pictures differ",
        "by 1 step of 255 at most",
        watch.off_time == 0.0 and watch.widest <= 1 and due < 1e-6 and watch.tally.skipped == 0,
    )


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else WEEK)
