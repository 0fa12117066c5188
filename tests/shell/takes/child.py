"""Knows: how to record in processes of their own that are killed, or whose files may not grow.

Must never know: what a test expects. Run as `python -m tests.shell.takes.child MODE FOLDER ...`.

Frames and events are a function of their number, so that a test can say what was sent without being told.
"""

from __future__ import annotations

import json
import mmap
import os
import random
import signal
import struct
import sys
import time
from pathlib import Path

import numpy as np

from bridge.shell.takes.batch import Batcher
from bridge.shell.takes.recorder import Recorder
from bridge.shell.takes.store import TakeFile, reserve
from bridge.values.beat import Beat
from bridge.values.events import Control, Event
from bridge.values.frame import Frame
from bridge.wire.take_header import TakeHeader

HZ = 40.0
HEADER = TakeHeader(HZ, (1,), rig="rig: killed\n", mapping="mapping: killed\n")
COUNTS = struct.Struct("<qq")


def frame(k: int) -> Frame:
    """Frame k: 512 slots, all on the move."""
    return Frame(k / HZ, (1,), ((np.arange(512) * 7 + k * k) % 251).astype(np.uint8).reshape(1, 512))


def events(k: int) -> list[Event]:
    """The events that frame k took."""
    return [Control(k / HZ - 0.001, "port", 1, 1, k % 128)] if k % 3 == 0 else []


def play(path: Path, shared: mmap.mmap, every: float, paced: bool) -> None:
    """Record without end; the shared memory says how many frames were sent, and how many were safe."""
    recorder = Recorder(path, HEADER, every)
    recorder.ready()
    begun, k = time.monotonic(), 0
    while True:
        while recorder.waiting > 400:
            time.sleep(0.0002)
        recorder.tap(Beat(k, 0.0), frame(k), events(k))
        k += 1
        COUNTS.pack_into(shared, 0, k, recorder.written)
        if paced:
            time.sleep(max(0.0, begun + k / HZ - time.monotonic()))


def kill(folder: Path, count: int, at_once: int, every: float, paced: bool, longest: int, seed: int) -> None:
    """Start recordings, some at a time, and kill each when it has sent a random number of frames."""
    chance = random.Random(seed)
    for first in range(0, count, at_once):
        running = {}
        for number in range(first, min(count, first + at_once)):
            shared = mmap.mmap(-1, COUNTS.size)
            pid = os.fork()
            if pid == 0:
                play(folder / f"{number}.take", shared, every, paced)
            running[number] = pid, shared, chance.randint(1, longest)
        while running:
            for number, (pid, shared, at) in list(running.items()):
                if COUNTS.unpack_from(shared, 0)[0] < at:
                    continue
                time.sleep(chance.random() * 0.01)
                os.kill(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
                sent, written = COUNTS.unpack_from(shared, 0)
                print(json.dumps({"path": f"{number}.take", "sent": sent, "written": written}), flush=True)
                del running[number]
            time.sleep(0.0005)


def fill(path: Path, limit: int) -> None:
    """Record into a file that may not grow over `limit` bytes; say how it went."""
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
    recorder = Recorder(path, HEADER, every=0.01)
    sent = 0
    while not recorder.failed and sent < 20_000:
        recorder.tap(Beat(sent, 0.0), frame(sent), events(sent))
        sent += 1
        time.sleep(0.0002)
    for k in range(sent, sent + 100):
        recorder.tap(Beat(k, 0.0), frame(k), events(k))
    recorder.close()
    print(json.dumps({"failed": recorder.failed, "sent": sent, "written": recorder.written}))


def commit(path: Path, count: int) -> None:
    """Write a take commit by commit, five frames each; say after each how many frames are safe."""
    file, batcher = TakeFile(reserve(path), HEADER), Batcher(HEADER)
    for k in range(count):
        batcher.turn(k, 0, frame(k), events(k))
        if k % 5 == 4:
            file.write(batcher.rows())
            os.write(1, b"safe %d\n" % (k + 1))
    file.close()


if __name__ == "__main__":
    mode, where = sys.argv[1], Path(sys.argv[2])
    if mode == "kill":
        n, together, seconds, pace, most, start = sys.argv[3:]
        kill(where, int(n), int(together), float(seconds), pace == "paced", int(most), int(start))
    elif mode == "commit":
        commit(where / "cut.take", int(sys.argv[3]))
    else:
        fill(where / "full.take", int(sys.argv[3]))
