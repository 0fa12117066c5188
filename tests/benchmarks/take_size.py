"""How large a long take gets with four textures playing, how fast it opens, and what recording costs a frame.

Run it by hand: `python -m tests.benchmarks.take_size [HOURS]`. Not part of the test run.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt

from bridge.shell.takes.batch import Batcher
from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import Recorder
from bridge.shell.takes.store import TakeFile, reserve
from bridge.values.beat import Beat
from bridge.values.events import Control, Event, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.wire.take_header import TakeHeader

HZ, COLUMNS, ROWS = 40.0, 32, 16
HEADER = TakeHeader(HZ, (1,), rig="rig: a large one\n" * 500, mapping="mapping: large\n" * 500)


def textures(seed: int = 1) -> Callable[[float], npt.NDArray[np.uint8]]:
    """A picture of 512 lamps at t seconds: wave, clouds, rings and sparks, the brightest shown (CIE L*)."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS] / np.array([ROWS, COLUMNS]).reshape(2, 1, 1)
    clouds = rng.random((64, 6, 10))
    phase = rng.random((ROWS, COLUMNS))
    row, column = y * 4.99, x * 8.99
    r0, c0 = row.astype(int), column.astype(int)
    fr, fc = row - r0, column - c0

    def picture(t: float) -> npt.NDArray[np.uint8]:
        at = t * 0.5 % 64
        low, part = int(at), at - int(at)
        field = clouds[low] * (1 - part) + clouds[(low + 1) % 64] * part
        cloud = (field[r0, c0] * (1 - fr) + field[r0 + 1, c0] * fr) * (1 - fc)
        cloud += (field[r0, c0 + 1] * (1 - fr) + field[r0 + 1, c0 + 1] * fr) * fc
        wave = (0.5 + 0.5 * np.sin(2 * np.pi * (x * 2 - t * 0.7))) * y
        rings = 0.5 + 0.5 * np.sin(20 * np.hypot(x - 0.5 - 0.3 * np.sin(t * 0.3), y - 0.5) - t * 1.7)
        turn = (phase * 7 + t * (0.5 + phase)) % 1
        sparks = np.where(turn < 0.15, 1 - turn / 0.15, 0)
        level = np.maximum.reduce([0.6 * wave, 0.7 * cloud, 0.5 * rings * (1 - y), 0.9 * sparks])
        lightness = 100 * level
        drive = np.where(lightness <= 8, lightness * 27 / 24389, ((lightness + 16) / 116) ** 3)
        return np.floor(drive * 255 + 0.5).astype(np.uint8).reshape(1, 512)

    return picture


def playing(k: int) -> list[Event]:
    """Some 25 events a second: a chord now and then, a wheel in between."""
    t = k / HZ
    if k % 20 == 0:
        return [NoteOn(t, "piano of the boathouse", 1, 48 + (k // 20 + step) % 36, 80) for step in (0, 4, 7)]
    if k % 20 == 15:
        return [NoteOff(t, "piano of the boathouse", 1, 48 + (k // 20 + step) % 36) for step in (0, 4, 7)]
    return [Control(t - 0.004, "piano of the boathouse", 1, 1, k % 128)] if k % 3 == 0 else []


def frames(count: int) -> Iterator[Frame]:
    """Frames of the four textures."""
    picture = textures()
    for k in range(count):
        yield Frame(k / HZ, (1,), picture(k / HZ))


def size_and_opening(folder: Path, hours: float) -> None:
    """Write a take as its recorder would, open it cold, read it."""
    count = int(hours * 3600 * HZ)
    path = reserve(folder / "long.take")
    file, batcher = TakeFile(path, HEADER, lasting=False), Batcher(HEADER)
    for k, frame in enumerate(frames(count)):
        batcher.turn(k, 0, frame, playing(k))
        if k % 10 == 9:
            file.write(batcher.rows())
    file.write([*batcher.rows(), batcher.end()])
    file.close()
    size = path.stat().st_size
    print(f"{hours:g} h, {count} frames of 512 slots: {size / 1e6:.1f} MB, {size / count:.0f} B a frame")
    for how in ("cold", "warm"):
        if how == "cold" and hasattr(os, "posix_fadvise"):
            with path.open("rb") as opened:
                os.fsync(opened.fileno())
                os.posix_fadvise(opened.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        begun = time.perf_counter()
        take = Take.open(path)
        spent = (time.perf_counter() - begun) * 1000
        print(f"opened {how} in {spent:.1f} ms: {take.ends:g} s, {take.complete=}")
        for t in (take.ends / 2, 1.0, take.ends - 1):
            begun = time.perf_counter()
            take.frame_at(t)
            print(f"  the frame at {t:.0f} s in {(time.perf_counter() - begun) * 1000:.2f} ms")
        begun = time.perf_counter()
        gaps = take.check()
        print(f"  every row checked in {time.perf_counter() - begun:.2f} s: {len(gaps)} gaps")
        take.close()
    with Take.open(path) as take:
        begun = time.perf_counter()
        total = sum(1 for _ in take.frames())
        print(f"  every frame unpacked in {time.perf_counter() - begun:.2f} s: {total}")
        begun = time.perf_counter()
        total = sum(1 for _ in take.events())
        print(f"  every event read in {time.perf_counter() - begun:.2f} s: {total}")
    with path.open("r+b") as cut:
        cut.truncate(size // 2)
    begun = time.perf_counter()
    with Take.open(path) as take:
        print(f"cut in half: opened in {time.perf_counter() - begun:.2f} s, goes to {take.ends:.1f} s")


def cost_of_a_tap(folder: Path, count: int = 4000) -> None:
    """What `tap` costs the show's thread, and what the writing thread costs in all, at the pace of a show."""
    ready = list(frames(400))
    recorder = Recorder(folder / "tap.take", HEADER, room=10**6)
    recorder.ready()
    before, spent = time.process_time(), 0.0
    for k in range(count):
        begun = time.perf_counter()
        recorder.tap(Beat(k, 0.0), ready[k % 400], playing(k))
        spent += time.perf_counter() - begun
    tapped = time.process_time()
    recorder.close()
    print(f"tap: {spent / count * 1e6:.2f} us a frame in the show's thread (25,000 us long at 40 Hz)")
    used = (time.process_time() - before) / count * 1e6
    print(f"all threads: {used:.1f} us of processor a frame; {recorder.failed!r}")
    print(f"  of these after the last tap {(time.process_time() - tapped) / count * 1e6:.1f}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        cost_of_a_tap(Path(folder))
        size_and_opening(Path(folder), float(sys.argv[1]) if len(sys.argv) > 1 else 2.0)
