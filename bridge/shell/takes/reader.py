"""Knows: a take as it can be read: its frames, events and remarks by time, how far it goes, what is damaged.

Must never know: how to play, draw or edit one; MIDI; which lamps a slot drives.

What is yielded is what was recorded, to the bit, or it is not yielded.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

from bridge.shell.takes.gaps import Gap, Progress, find_gaps, quiet
from bridge.shell.takes.rows import not_a_take
from bridge.shell.takes.store import EVENTS, FRAMES, REMARKS
from bridge.shell.takes.walk import Walker
from bridge.values.errors import WireError
from bridge.values.frame import Frame
from bridge.wire.take_events import Held, read_events
from bridge.wire.take_frames import LOST, SKIPPED, FramesRow, read_frames
from bridge.wire.take_header import Remark, TakeHeader, read_remarks
from bridge.wire.take_rows import MOST_EARLY, place

HAIR = 1e-9
"""Seconds by which times from arithmetic may miss the times of frames."""

Shown = tuple[int, int, float, Frame]
"""(k, j, t, frame): steady frame k has j 0, early frames after it 1 up; t in seconds of the take."""


class Take:
    """A take, open for reading; use it as a context manager or `close` it.

    Args:
        path: the file.

    Raises:
        FileError: there is no take there that could be read at all.
        DeviceError: it is being recorded just now.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self._walker = Walker(self.path)
        self._hz = self._walker.header.refresh_hz
        self._gaps: tuple[Gap, ...] | None = None

    @classmethod
    def open(cls, path: str | Path) -> Take:
        """As the constructor."""
        return cls(path)

    def __enter__(self) -> Take:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._walker.close()

    @property
    def header(self) -> TakeHeader:
        """What the take says about itself."""
        return self._walker.header

    @property
    def next_k(self) -> int:
        """The number after the last steady frame that was recorded, left-out ones included."""
        return self._walker.last.next_k if self._walker.last is not None else 0

    @property
    def ends(self) -> float:
        """Seconds at which the last frame gives way: how far the take goes."""
        return self.next_k / self._hz

    @property
    def complete(self) -> bool:
        """True if the recording ended as it should, its last row in place."""
        end, last = self._walker.end, self._walker.last
        return end is not None and (end.next_k, end.frames) == (self.next_k, last.n if last else 0)

    @property
    def lost(self) -> int:
        """Frames that went out and that a stalled disk kept out of the take, as its closing mark says."""
        return self._walker.wanted.lost

    @property
    def mapping_texts(self) -> dict[int, str]:
        """Number -> text of the mappings that came into force while it was recorded."""
        return {n: data.decode("utf-8", "replace") for n, data in self._walker.texts.items() if n > 0}

    def mapping_text(self, number: object) -> str | None:
        """The text of a mapping that a NewMapping event names by number; None where it is not in the take."""
        return self.mapping_texts.get(number) if isinstance(number, int) else None

    def frame_rows(self, begin: float = 0.0) -> Iterator[FramesRow]:
        """Rows of frames, packed, from one on that begins at or before `begin` seconds."""
        k = max(0, math.floor((begin - HAIR) * self._hz))
        return self._walker.walk(FRAMES, place(k, 0), read_frames)

    def unpack(self, row: FramesRow) -> list[Shown]:
        """The frames of a row; frames alike share one array.

        Raises:
            FileError: the row is whole and yet no row of this take.
        """
        numbers = self.header.universes
        try:
            views = list(row.pictures(len(numbers)))
        except WireError as error:
            raise not_a_take(self.path, f"frame {row.first_k}: {error}") from error
        return [(k, j, t, Frame(t, numbers, views[at])) for k, j, t, at in row.frames(self._hz)]

    def frames(self, begin: float = 0.0, end: float = math.inf) -> Iterator[Shown]:
        """Every frame that went out at or after `begin` and before `end`, seconds of the take, in order.

        Left-out numbers, and frames that are damaged or lost, do not come (see `gaps`).
        """
        for row in self.frame_rows(begin):
            for shown in self.unpack(row):
                if shown[2] >= end - HAIR:
                    return
                if shown[2] >= begin - HAIR:
                    yield shown

    def frame_at(self, t: float) -> Frame | None:
        """The frame that stood at `t` seconds; None before the first.

        Raises:
            FileError: what stood there is damaged or lost.
        """
        k = math.floor((t + HAIR) * self._hz)
        at = place(k, MOST_EARLY)
        while at >= 0:
            row = next(self._walker.walk(FRAMES, at, read_frames), None)
            if row is None or row.key > at:
                break
            if row.next_k <= k < self.next_k or any(a <= k < a + n for a, n in row.missing(LOST)):
                raise not_a_take(self.path, f"the frame at {t:.3f} s is damaged or lost", "")
            shown = [frame for _, _, moment, frame in self.unpack(row) if moment <= t + HAIR]
            if shown:
                return shown[-1]
            # Nothing but left-out numbers so far in this row: the picture of the row before stood on.
            k, at = row.first_k - 1, row.key - 1
        if 0 <= k < self.next_k:
            raise not_a_take(self.path, f"the frame at {t:.3f} s is damaged or lost", "")
        return None

    def events(self, begin: float = 0.0, end: float = math.inf) -> Iterator[Held]:
        """(k, j, event) of every event that a frame at or after `begin` and before `end` took, in order.

        Raises:
            FileError: a row is whole and yet no row of this take.
        """
        first = max(0, math.floor((begin - HAIR) * self._hz))
        for row in self._walker.walk(EVENTS, place(first, 0), read_events):
            if row.last_k < first:
                continue
            try:
                held = row.events()
            except WireError as error:
                raise not_a_take(self.path, f"events of frame {row.first[0]}: {error}") from error
            for item in held:
                t = item[0] / self._hz
                if t >= end - HAIR:
                    return
                if t >= begin - HAIR:
                    yield item

    def remarks(self) -> Iterator[Remark]:
        """What was noted beside frames, in order; rows that are damaged do not come."""
        for row in self._walker.walk(REMARKS, 0, read_remarks):
            yield from row.remarks

    def skipped(self) -> Iterator[tuple[int, int]]:
        """(first number, how many) of the frames the clock left out."""
        for row in self.frame_rows():
            yield from row.missing(SKIPPED)

    def check(self, progress: Progress = quiet) -> tuple[Gap, ...]:
        """Read every row and compare its check; what is missing, in order of time."""
        self._gaps = find_gaps(self._walker, progress)
        return self._gaps

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What `check` found; it is done now, if it was not done before."""
        return self.check() if self._gaps is None else self._gaps

    @property
    def reach(self) -> str:
        """One line: how far the take goes, whether it ended as it should, and what is damaged."""
        line = f"{self.ends:.3f} s"
        if self.complete:
            line += ", ended as it should"
        else:
            line += (
                ", without a closing mark: the recording was cut off there, or half a second later at most"
            )
        return "; ".join([line, *map(str, self.gaps)])
