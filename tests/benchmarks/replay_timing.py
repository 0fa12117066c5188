"""Replaying notes on time: our loop beside mido's own player of the same notes, in one run.

`python -m tests.benchmarks.replay_timing [seconds]` prints how late each note comes: p50, p99, the latest.
"""

from __future__ import annotations

import io
import sys
import time
from collections.abc import Sequence

import mido

from bridge.core.engine import Engine
from bridge.shell.clock import Clock, claim_priority
from bridge.shell.feeds import ListFeed
from bridge.shell.loop import Loop
from bridge.values.beat import Beat
from bridge.values.events import Event, NoteOn
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from bridge.wire import smf
from tests.core.builders import each, rig

HZ = 40
TICKS = 480


def song(seconds: float) -> bytes:
    """A note every frame of 25 ms, at 120 beats a minute."""
    file, track = mido.MidiFile(ticks_per_beat=TICKS), mido.MidiTrack()
    file.tracks.append(track)
    for n in range(int(seconds * HZ)):
        track.append(mido.Message("note_on", note=60 + n % 4, velocity=100, time=TICKS * 2 // HZ if n else 0))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def by_mido(data: bytes) -> list[float]:
    """Seconds by which mido hands over each note after its moment."""
    late, moment = [], 0.0
    start = time.perf_counter()
    for message in mido.MidiFile(file=io.BytesIO(data)).play(now=time.perf_counter):
        moment += message.time
        if message.type == "note_on":
            late.append(time.perf_counter() - start - moment)
    return late


def by_us(data: bytes) -> list[float]:
    """Seconds by which our loop hands over the frame of each note after its moment."""
    clock, late, start = Clock(), [], [0.0]

    def tap(beat: Beat, _frame: Frame, events: Sequence[Event]) -> None:
        now = clock.now()
        if beat.number == 0:
            start[0] = now - beat.late
        late.extend(now - start[0] - event.stamp for event in events if isinstance(event, NoteOn))

    parsed = smf.parse(data)
    loop = Loop(Engine(rig(), Mapping(keys=(each(),))), [ListFeed(parsed.events)], [tap], clock, HZ, False)
    loop.run(lambda: False, parsed.ends)
    clock.close()
    return late


def row(name: str, late: list[float]) -> str:
    """One line of the table."""
    found = sorted(1000 * abs(one) for one in late)
    p50, p99 = found[len(found) // 2], found[int(len(found) * 0.99)]
    return f"  {name:18}  {len(found):6}  {p50:8.3f}  {p99:8.3f}  {found[-1]:8.3f}"


def main() -> None:
    """Measure and print."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    data = song(seconds)
    print(f"Replay timing: a note every 25 ms for {seconds:g} s, milliseconds off its moment")
    print("  player               notes       p50       p99    latest")
    print(row("mido's player", by_mido(data)))
    print(row("ours, no priority", by_us(data)))
    claim_priority()
    print(row("ours, as in a show", by_us(data)))


if __name__ == "__main__":
    main()
