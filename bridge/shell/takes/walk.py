"""Knows: how to go through the rows of a take and notice what is damaged or missing.

Must never know: what frames and events mean; times.

SQLite is asked first. At the first sign of damage (its own errors, a wrong check, a number missing)
the whole file is searched for rows instead, and the walk goes on from there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from bridge.shell.takes.rows import TROUBLE, FoundRows, SqliteRows, not_a_take, open_rows
from bridge.shell.takes.store import EVENTS, FRAMES, REMARKS
from bridge.values.errors import WireError
from bridge.wire.take_events import EventsRow
from bridge.wire.take_frames import FramesRow, read_frames
from bridge.wire.take_header import End, RemarksRow, TakeHeader, decode_header, join_texts, read_end

R = TypeVar("R", FramesRow, EventsRow, RemarksRow)


class Walker:
    """The rows of one file.

    Raises:
        FileError: there is no take there that could be read at all.
        DeviceError: it is being recorded just now.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._rows: SqliteRows | FoundRows = open_rows(path)
        try:
            self.header, self.texts = self._read_header()
            self.last = self._read_last()
            self.end = self._read_end()
            if self.end is not None and self.end.next_k != (self.last.next_k if self.last else 0):
                self._distrust()
                self.last = self._read_last()
        except BaseException:
            self.close()
            raise
        wanted = self.wanted
        self._counts = {FRAMES: wanted.frames, EVENTS: wanted.events, REMARKS: wanted.remarks}

    @property
    def wanted(self) -> End:
        """What there should be at least: by the closing mark, or without one by the last row of frames."""
        if self.end is not None:
            return self.end
        if self.last is None:
            return End(0, 0, 0, 0, 0)
        return End(self.last.n, self.last.events, self.last.remarks, self.last.next_k, 0)

    def _read_header(self) -> tuple[TakeHeader, dict[int, bytes]]:
        for _ in range(2):
            with suppress(*TROUBLE, WireError, KeyError):
                texts = join_texts(self._rows.texts())
                return decode_header(texts[0]), texts
            self._distrust()
        raise not_a_take(self._path, "is a take whose header is damaged; nothing of it can be read")

    def _read_last(self) -> FramesRow | None:
        for _ in range(2):
            with suppress(*TROUBLE, WireError):
                row = self._rows.last(FRAMES)
                return read_frames(row) if row is not None else None
            self._distrust()
        return None

    def _read_end(self) -> End | None:
        with suppress(*TROUBLE, WireError):
            row = self._rows.end()
            return read_end(row) if row is not None else None
        return None

    def _distrust(self) -> None:
        """From now on look for rows rather than ask SQLite for them."""
        if isinstance(self._rows, SqliteRows):
            before = self._rows
            self._rows = FoundRows(self._path, before)
            before.close()

    def walk(self, table: str, at: int, read: Callable[[bytes], R]) -> Iterator[R]:
        """Rows from the last one at or before key `at` on; a damaged one never comes."""
        done, n = -1, 0
        rows = self._rows.scan(table, at)
        while True:
            row = None
            try:
                key, data = next(rows)
                if key <= done:
                    continue
                row = read(data)
                sound = row.key == key and (row.n == n + 1 or (n == 0 and at > 0))
            except StopIteration:
                sound = n >= self._counts[table]
            except (*TROUBLE, WireError):
                sound = False
            if not sound and isinstance(self._rows, SqliteRows):
                self._distrust()
                rows = self._rows.scan(table, max(at, done))
            elif row is None:
                return
            else:
                done, n = key, row.n
                yield row

    def close(self) -> None:
        """Let go of the file."""
        self._rows.close()
