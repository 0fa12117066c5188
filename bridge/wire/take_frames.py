"""Knows: a row of frames: which frame numbers went out, which did not, and the pictures that changed.

Must never know: databases, events, what a slot lights, when rows are written.

A row stands alone: its first picture is whole, the others are differences to the one before, so that seeking
reads one row and damage costs one. Differences lie slot by slot (each slot's course in time together), which
deflate packs a tenth smaller than frame by frame.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bridge.values.errors import WireError
from bridge.values.frame import SLOTS
from bridge.wire.take_rows import FRAMES, MOST_EARLY, REAL, inflate, pack, place, put_int, unpack

SHOWN, SKIPPED, LOST, EARLY = 0, 1, 2, 3
"""What a run of numbers is: steady frames; left out by the clock; lost before the disk; an early frame."""

MOST_SHOWN = 65_536
"""Frames in a row: far over half a minute at any rate, and a bound for what a bad row can ask for."""

MOST_RAW = 1 << 26
"""Bytes of the pictures of a row that has several; rows are written with a thousandth of it."""

LAST_NUMBER = 1 << 50
"""No take has a frame beyond it: 890,000 years at 40 Hz, and its key still fits SQLite's 64 bits."""

LEVEL = 6
"""Of deflate: 0.5 ms for a quarter second of 512 moving slots."""

Slots = npt.NDArray[np.uint8]
"""uint8, shape (universes, 512)."""

Pictures = npt.NDArray[np.uint8]
"""uint8, shape (pictures, universes, 512)."""

Run = tuple[int, int, float]
"""(SHOWN, SKIPPED or LOST, how many numbers, 0.0) or (EARLY, j, t)."""


class FramesDraft:
    """Frames on their way into rows; the first steady frame is number 0.

    Args:
        universes: how many universes each frame has.
    """

    def __init__(self, universes: int) -> None:
        self._bytes = universes * SLOTS
        self._last: Slots | None = None
        self.next_k = 0
        """The number that comes next."""
        self._clear()

    def _clear(self) -> None:
        self._first_k = self.next_k
        self._runs: list[Run] = []
        self._changes: list[int] = []
        self._pictures: list[Slots] = []
        self.shown = 0
        """Frames in it so far."""

    @property
    def raw(self) -> int:
        """Bytes its pictures take before they are packed."""
        return len(self._pictures) * self._bytes

    @property
    def empty(self) -> bool:
        """True if nothing is in it."""
        return not self._runs

    def show(self, slots: Slots) -> None:
        """The next steady frame went out.

        Raises:
            ValueError: another number of universes (our own mistake).
        """
        self._picture(slots)
        self._run(SHOWN, 1)

    def early(self, j: int, t: float, slots: Slots) -> None:
        """Early frame (next_k - 1, j) went out at t seconds.

        Raises:
            ValueError: no frame before it, or j outside 1..999 (our own mistake).
        """
        if not 1 <= j <= MOST_EARLY or self.next_k == 0:
            raise ValueError(f"no early frame {j} fits after frame {self.next_k - 1}")
        self._picture(slots)
        self._runs.append((EARLY, j, t))

    def miss(self, count: int, lost: bool) -> None:
        """The next `count` numbers have no frame: left out by the clock, or lost on the way to the disk."""
        if count > 0:
            self._run(LOST if lost else SKIPPED, count)

    def _run(self, kind: int, count: int) -> None:
        self.next_k += count
        if self._runs and self._runs[-1][0] == kind:
            count += self._runs.pop()[1]
        self._runs.append((kind, count, 0.0))

    def _picture(self, slots: Slots) -> None:
        if slots.size != self._bytes:
            raise ValueError(f"a frame of {slots.size} slots in a take of {self._bytes}")
        if self.shown == 0 or not (slots is self._last or np.array_equal(slots, self._last)):  # type: ignore[arg-type]
            self._changes.append(self.shown)
            self._pictures.append(slots)
        self._last = slots
        self.shown += 1

    def row(self, n: int, events: int, remarks: int) -> tuple[int, bytes]:
        """(key, row), the n-th of its kind from 1, after so many rows of the others; empties the draft."""
        body = bytearray()
        for value in (n, events, remarks, self._first_k, len(self._runs)):
            put_int(body, value)
        for kind, count, t in self._runs:
            put_int(body, count << 2 | kind)
            if kind == EARLY:
                body += REAL.pack(t)
        put_int(body, len(self._changes))
        for before, change in zip([0, *self._changes], self._changes, strict=False):
            put_int(body, change - before)
        if self._pictures:
            pictures = np.stack(self._pictures).reshape(len(self._pictures), self._bytes)
            whole = zlib.compress(pictures[0].tobytes(), LEVEL)
            steps = pictures[1:] - pictures[:-1]  # uint8 wraps round, and so does the sum that undoes it
            put_int(body, len(whole))
            body += whole
            if len(steps):
                body += zlib.compress(np.ascontiguousarray(steps.T).tobytes(), LEVEL)
        key = _key(self._first_k, self._runs)
        self._clear()
        return key, pack(FRAMES, bytes(body))


def _key(first_k: int, runs: list[Run] | tuple[Run, ...]) -> int:
    if runs and runs[0][0] == EARLY:
        return place(first_k - 1, runs[0][1])
    return place(first_k, 0)


@dataclass(frozen=True, slots=True)
class FramesRow:
    """A row of frames as read.

    Args:
        n: its number among the rows of frames, from 1.
        events, remarks: rows of these kinds written up to it.
        first_k: the first steady number it speaks of (the next one, where it begins with an early frame).
        next_k: the number after the last it speaks of.
        runs: what became of the numbers.
        changes: which of its frames, from 0, have a picture of their own; the others repeat the one before.
        shown: how many frames it has.
        whole, steps: the first picture and the differences of the others, packed.
    """

    n: int
    events: int
    remarks: int
    first_k: int
    next_k: int
    runs: tuple[Run, ...]
    changes: tuple[int, ...]
    shown: int
    whole: bytes
    steps: bytes

    @property
    def key(self) -> int:
        """Its place in the table."""
        return _key(self.first_k, self.runs)

    def frames(self, refresh_hz: float) -> Iterator[tuple[int, int, float, int]]:
        """(k, j, t, number of its picture) of each frame."""
        k, shown, picture = self.first_k, 0, -1
        for kind, count, t in self.runs:
            if kind in (SKIPPED, LOST):
                k += count
                continue
            for _ in range(count if kind == SHOWN else 1):
                if picture + 1 < len(self.changes) and self.changes[picture + 1] == shown:
                    picture += 1
                shown += 1
                if kind == EARLY:
                    yield k - 1, count, t, picture
                else:
                    yield k, 0, k / refresh_hz, picture
                    k += 1

    def missing(self, kind: int) -> Iterator[tuple[int, int]]:
        """(first number, how many) of each run of SKIPPED or LOST numbers."""
        k = self.first_k
        for run, count, _ in self.runs:
            if run == kind:
                yield k, count
            k += 0 if run == EARLY else count

    def pictures(self, universes: int) -> Pictures:
        """The pictures, shape (len(changes), universes, 512), read-only.

        Raises:
            WireError: the bytes are not such pictures.
        """
        count, size = len(self.changes), universes * SLOTS
        if count > 1 and count * size > MOST_RAW:
            raise WireError(f"{count} pictures of {size} slots, more than a row can hold")
        out = np.zeros((count, size), dtype=np.uint8)
        if count:
            out[0] = _bytes(self.whole, size)
        if count > 1:
            out[1:] = _bytes(self.steps, size * (count - 1)).reshape(size, count - 1).T
            np.cumsum(out, axis=0, dtype=np.uint8, out=out)
        elif self.steps:
            raise WireError("a row of one picture has differences to others")
        out.flags.writeable = False
        return out.reshape(count, universes, SLOTS)


def _bytes(data: bytes, size: int) -> Slots:
    found = inflate(data, size, "a picture")
    if len(found) != size:
        raise WireError(f"expected {size} slots, found {len(found)}")
    return np.frombuffer(found, dtype=np.uint8)


def read_frames(row: bytes) -> FramesRow:
    """A row of frames, its pictures still packed.

    Raises:
        WireError: damaged, or not such a row.
    """
    body = unpack(row, FRAMES)
    n = body.integer("the row's number")
    events, remarks = body.integer("a count of rows"), body.integer("a count of rows")
    first_k = k = body.integer("a frame's number", LAST_NUMBER)
    shown = 0
    runs: list[Run] = []
    for _ in range(body.integer("a number of runs")):
        word = body.integer("a run of frames")
        kind, count, t = word & 3, word >> 2, 0.0
        if kind == EARLY:
            t = body.real("the time of an early frame")
            if not 1 <= count <= MOST_EARLY or k == 0:
                raise WireError(f"no early frame {count} fits after frame {k - 1}")
        else:
            k += count
        shown += {SHOWN: count, EARLY: 1}.get(kind, 0)
        if count == 0 or shown > MOST_SHOWN or k > LAST_NUMBER:
            raise WireError(f"a run of {count} frames where at most {MOST_SHOWN} stand in a row")
        runs.append((kind, count, t))
    changes: list[int] = []
    at = 0
    for _ in range(body.integer("a number of pictures", shown)):
        step = body.integer("the frame of a picture")
        if bool(changes) != bool(step):
            raise WireError("the first frame of a row, and each later one once, can have a picture")
        at += step
        changes.append(at)
    if at >= max(1, shown) or bool(changes) != bool(shown):
        raise WireError("a picture for no frame")
    whole = body.take(body.integer("the length of a picture"), "a picture") if changes else b""
    return FramesRow(n, events, remarks, first_k, k, tuple(runs), tuple(changes), shown, whole, body.rest())
