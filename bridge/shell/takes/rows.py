"""Knows: how rows come out of the file of a take: by SQLite, or by looking for them in a damaged file.

Must never know: what a row says beyond its check, or what a take is for.

Source of what is read without SQLite: its documentation, "Database File Format", the header of 100 bytes.
"""

from __future__ import annotations

import mmap
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from urllib.parse import quote

from bridge.shell.given_file import odd
from bridge.shell.takes.store import APPLICATION_ID, END_KEY, EVENTS, FRAMES, HEAD, MADE, REMARKS
from bridge.values.errors import DeviceError, FileError, Problem, WireError
from bridge.wire import take_rows
from bridge.wire.take_events import read_events
from bridge.wire.take_frames import read_frames
from bridge.wire.take_header import read_remarks
from bridge.wire.take_rows import VERSION, find_rows

SQLITE = b"SQLite format 3\0"
TROUBLE = (sqlite3.Error, UnicodeError, OverflowError)
"""What `sqlite3` raises over a damaged file: its messages quote names that may be rubbish by then."""

A_TAKE = "a take recorded by lampwright"

MOST_SEARCHED = 4_000_000_000
"""Bytes of a file that is searched for rows though nothing at its beginning says that it is a take."""


def not_a_take(path: Path, what: str, right: str = A_TAKE) -> FileError:
    """The error of a file that cannot be read as a take."""
    return FileError([Problem(0, 0, what, right, str(path))])


class SqliteRows:
    """Rows read by SQLite, each when it is needed.

    Raises:
        one of TROUBLE: from any method, where the file is damaged.
    """

    def __init__(self, path: Path) -> None:
        where = "file:" + quote(str(path.absolute()))
        try:
            # Writing is asked for so that SQLite can undo a commit that a crash cut short.
            self._base = sqlite3.connect(
                where + "?mode=rw", uri=True, isolation_level=None, check_same_thread=False, timeout=0.2
            )
            self._base.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.OperationalError as error:
            if getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                self.close()
                raise
            self.close()
            self._base = sqlite3.connect(
                where + "?mode=ro", uri=True, isolation_level=None, check_same_thread=False, timeout=0.2
            )
        try:
            self._must_be_ours()
            self._base.execute("PRAGMA cache_size=-4000")
        except BaseException:
            self.close()
            raise

    def _must_be_ours(self) -> None:
        """Nothing but plain tables may answer: a view of the same name could go on answering for ever."""
        found = self._base.execute("SELECT name, sql FROM sqlite_master LIMIT ?", (len(MADE) + 1,)).fetchall()
        if dict(found) != MADE:
            raise sqlite3.DatabaseError("these are not the tables of a take")

    def texts(self) -> list[bytes]:
        """All rows of text."""
        found = self._base.execute(f"SELECT row FROM {HEAD} WHERE at < ? ORDER BY at", (END_KEY,))
        return [row for (row,) in found if isinstance(row, bytes)]

    def end(self) -> bytes | None:
        """The closing mark."""
        found = self._base.execute(f"SELECT row FROM {HEAD} WHERE at = ?", (END_KEY,)).fetchone()
        return found[0] if found and isinstance(found[0], bytes) else None

    def scan(self, table: str, at: int) -> Iterator[tuple[int, bytes]]:
        """(key, row) from the last key at or before `at` on (or the first), ascending."""
        query = (
            f"SELECT at, row FROM {table} WHERE at >= "
            f"coalesce((SELECT max(at) FROM {table} WHERE at BETWEEN 0 AND ?), 0) ORDER BY at"
        )
        for key, row in self._base.execute(query, (at,)):
            yield key, row if isinstance(row, bytes) else b""

    def last(self, table: str) -> bytes | None:
        """The row with the highest key."""
        query = f"SELECT row FROM {table} WHERE at >= 0 ORDER BY at DESC LIMIT 1"
        found = self._base.execute(query).fetchone()
        return found[0] if found and isinstance(found[0], bytes) else None

    def close(self) -> None:
        """Let go of the file."""
        with suppress(*TROUBLE):
            self._base.close()


class FoundRows:
    """Rows found in a file whose tables cannot be trusted; all that are whole, wherever they stand.

    Args:
        path: the file.
        also: rows that SQLite can still read count too (one longer than a page is not found otherwise).
    """

    def __init__(self, path: Path, also: SqliteRows | None = None) -> None:
        self._texts: list[bytes] = []
        self._end: bytes | None = None
        self._rows: dict[str, dict[int, bytes]] = {EVENTS: {}, FRAMES: {}, REMARKS: {}}
        for kind, row in _rows_in(path):
            with suppress(WireError):
                self._sort(kind, row)
        for table, kind in ((FRAMES, take_rows.FRAMES), (EVENTS, take_rows.EVENTS)):
            with suppress(*TROUBLE):
                for _, row in also.scan(table, 0) if also is not None else ():
                    with suppress(WireError):
                        self._sort(kind, row)

    def _sort(self, kind: int, row: bytes) -> None:
        if kind == take_rows.TEXT:
            self._texts.append(row)
        elif kind == take_rows.END:
            self._end = row
        elif kind == take_rows.FRAMES:
            self._rows[FRAMES][read_frames(row).key] = row
        elif kind == take_rows.EVENTS:
            self._rows[EVENTS][read_events(row).key] = row
        elif kind == take_rows.REMARKS:
            self._rows[REMARKS][read_remarks(row).key] = row

    def texts(self) -> list[bytes]:
        """As `SqliteRows.texts`."""
        return self._texts

    def end(self) -> bytes | None:
        """As `SqliteRows.end`."""
        return self._end

    def scan(self, table: str, at: int) -> Iterator[tuple[int, bytes]]:
        """As `SqliteRows.scan`."""
        rows = self._rows[table]
        first = max((key for key in rows if key <= at), default=0)
        for key in sorted(rows):
            if key >= first:
                yield key, rows[key]

    def last(self, table: str) -> bytes | None:
        """As `SqliteRows.last`."""
        rows = self._rows[table]
        return rows[max(rows)] if rows else None

    def close(self) -> None:
        """Nothing is open."""


def _rows_in(path: Path) -> Iterator[tuple[int, bytes]]:
    try:
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
            yield from find_rows(data)
    except (OSError, ValueError):
        return


def open_rows(path: Path) -> SqliteRows | FoundRows:
    """The rows of a take, found one way or the other.

    Raises:
        FileError: there is no take: nothing there, no file, empty, another kind of file, a newer version.
        DeviceError: the take is being recorded just now.
    """
    try:
        if what := odd(path):
            raise not_a_take(path, f"is {what}, not a file")
        with path.open("rb") as file:
            start = file.read(100)
            size = file.seek(0, 2)
    except FileNotFoundError as error:
        raise not_a_take(path, "there is no such file") from error
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise not_a_take(path, f"cannot be read: {why}") from error
    if size == 0:
        raise not_a_take(path, "is empty")
    if size > MOST_SEARCHED and start[:16] != SQLITE:
        raise not_a_take(path, f"is not a take, and {size / 1e9:.0f} GB are too many to look for one in")
    ours = start[:16] == SQLITE and int.from_bytes(start[68:72]) == APPLICATION_ID
    if ours and int.from_bytes(start[60:64]) > VERSION:
        raise not_a_take(
            path,
            f"was made by a newer version (format {int.from_bytes(start[60:64])}; this one reads {VERSION})",
            "install the newer version",
        )
    rows = _by_sqlite(path) if ours else None
    if rows is not None:
        return rows
    found = FoundRows(path)
    if not found.texts():
        found.close()
        raise not_a_take(path, _what_it_is(start, ours))
    return found


def _by_sqlite(path: Path) -> SqliteRows | None:
    try:
        rows = SqliteRows(path)
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise DeviceError(
                f"the take {path} is being recorded just now", "end the recording first"
            ) from error
        return None
    except TROUBLE:
        return None
    try:
        rows.texts()
    except TROUBLE:
        rows.close()
        return None
    return rows


def _what_it_is(start: bytes, ours: bool) -> str:
    if ours:
        return "is a take whose header is lost; nothing of it can be read"
    if start[:16] == SQLITE:
        return "is an SQLite file of another program, not a take"
    return "is not a take"
