"""What recording does to the frame clock: lateness of frames and cost of a turn, with and without it.

Run it by hand: `python -m tests.benchmarks.take_lateness [SECONDS]`. Not part of the test run.
"""

from __future__ import annotations

import gc
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from bridge.core.engine import Engine
from bridge.shell.clock import Clock
from bridge.shell.feeds import ListFeed
from bridge.shell.loop import Loop
from bridge.shell.takes.recorder import Recorder
from bridge.shell.tally import Tally
from bridge.values.beat import Beat
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.values.mapping import Feel, KeyRule, Mapping
from bridge.values.rig import Lamp, Rig
from bridge.wire.take_header import TakeHeader

HZ, LAMPS = 40.0, 512
RIG = Rig("large", tuple(Lamp(f"l{n}", n, 1, n + 1, response="cie") for n in range(LAMPS)), HZ)
MAPPING = Mapping(
    keys=(
        KeyRule(
            tuple(range(128)),
            tuple(tuple(range(n * 4, n * 4 + 4)) for n in range(128)),
            feel=Feel(0.05, 1.0, 0.2, 1.5),
        ),
    )
)


def playing(seconds: float) -> list[Event]:
    """Forty notes a second, each of half a second, so that every lamp is always on the move."""
    events: list[Event] = []
    for n in range(int(seconds * 40)):
        events += [NoteOn(n / 40, "p", 1, n * 37 % 128, 100), NoteOff(n / 40 + 0.5, "p", 1, n * 37 % 128)]
    return events


def run(seconds: float, path: Path | None) -> tuple[Tally, float, float]:
    """Lateness; seconds of processor in the show's thread a frame; of these in the tap."""
    tally, recorder = Tally(), Recorder(path, TakeHeader(HZ, (1,))) if path is not None else None
    if recorder is not None:
        recorder.ready()
    spent = 0.0

    def tap(beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
        nonlocal spent
        tally.add(beat)
        if recorder is not None:
            begun = time.perf_counter()
            recorder.tap(beat, frame, events)
            spent += time.perf_counter() - begun

    clock = Clock()
    loop = Loop(Engine(RIG, MAPPING), [ListFeed(playing(seconds))], [tap], clock, HZ, polling=False)
    gc.collect()
    gc.freeze()
    gc.disable()
    before = time.thread_time()
    loop.run(lambda: False, seconds)
    used = time.thread_time() - before
    gc.enable()
    if recorder is not None:
        recorder.close()
        assert not recorder.failed
        assert recorder.dropped == 0
    clock.close()
    return tally, used / tally.frames, spent / tally.frames


if __name__ == "__main__":
    length = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    with tempfile.TemporaryDirectory() as folder:
        for turn in range(3):
            for name, path in (("alone", None), ("recorded", Path(folder) / f"{turn}.take")):
                tally, used, tap = run(length, path)
                print(
                    f"{name:9} late p50 {tally.late_ms(0.5):.2f} p99 {tally.late_ms(0.99):.2f} "
                    f"max {tally.worst * 1000:.2f} ms; a turn {used * 1e6:.0f} us, the tap {tap * 1e6:.2f} us"
                )
