"""Knows: the file of a take: one SQLite database of rows, how it is made, added to and closed.

Must never know: what a row says, threads, clocks, or how a take is read.

Rows go in by transactions with `synchronous=FULL`: what was committed outlives `kill -9`, a full disk and a
power cut. A rollback journal rather than a write-ahead log, because a log keeps the newest rows in a second
file, and a full disk cannot even read it back. Source: the SQLite documentation, "Atomic Commit In SQLite".
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from bridge.values.errors import DeviceError
from bridge.wire.take_header import TakeHeader, encode_header, text_rows
from bridge.wire.take_rows import VERSION

APPLICATION_ID = 0x4C77546B
"""Tells a take from any other SQLite file (the four bytes at 68 of its header)."""

TABLES = ("head", "events", "remarks", "frames")
HEAD, EVENTS, REMARKS, FRAMES = TABLES
MADE = {table: f"CREATE TABLE {table}(at INTEGER PRIMARY KEY, row BLOB NOT NULL)" for table in TABLES}
"""How each table is made, letter for letter."""
END_KEY = 1 << 60
"""Where the closing mark stands in `head`, after all texts."""

Row = tuple[str, int, bytes]
"""Table, key, row."""


def page_size(universes: int) -> int:
    """Bytes of a page, so that a quarter second of frames fits in one and can be found without tables."""
    return 16384 if universes <= 2 else 65536


def room(universes: int) -> int:
    """Bytes of pictures, before packing, that surely fit in one page."""
    return page_size(universes) - 2048


def reserve(path: Path) -> Path:
    """Make an empty file at `path`, or at the next free name: evening.take, evening-2.take, evening-3.take.

    Raises:
        DeviceError: no file can be made there.
    """
    number = 1
    while True:
        place = path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
        try:
            os.close(os.open(place, os.O_CREAT | os.O_EXCL | os.O_RDWR | getattr(os, "O_BINARY", 0), 0o666))
        except FileExistsError:
            number += 1
        except (OSError, ValueError) as error:
            raise cannot_write(path, error) from error
        else:
            return place


def cannot_write(path: Path, error: BaseException) -> DeviceError:
    """The error of a take that cannot be written."""
    why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return DeviceError(f"cannot write the take {path}: {why}", "name a folder that exists and has room")


class TakeFile:
    """A take being written.

    Args:
        path: an empty file, as `reserve` makes it.
        header: what the take says about itself.
        lasting: each commit waits until the disk has it. False for a file that counts only once finished.

    Raises:
        DeviceError: it cannot be written.
    """

    def __init__(self, path: Path, header: TakeHeader, lasting: bool = True) -> None:
        self.path = path
        universes = len(header.universes)
        try:
            self._base = sqlite3.connect(path, isolation_level=None)
            try:
                for setting in (
                    f"page_size={page_size(universes)}",
                    f"application_id={APPLICATION_ID}",
                    f"user_version={VERSION}",
                    "locking_mode=EXCLUSIVE",
                    f"journal_mode={'DELETE' if lasting else 'OFF'}",
                    f"synchronous={'FULL' if lasting else 'OFF'}",
                    "cell_size_check=OFF",
                    # In KiB. Rows are only added, so pages once written are not needed again; the usual two
                    # megabytes would fill up over an hour, like a leak.
                    "cache_size=-256",
                ):
                    self._base.execute(f"PRAGMA {setting}").fetchall()
                self._base.execute("BEGIN IMMEDIATE")
                for statement in MADE.values():
                    self._base.execute(statement)
                texts = text_rows(0, encode_header(header))
                self._insert((HEAD, at, row) for at, row in texts)
                # The same again on other pages: without a header nothing of a take can be read.
                self._insert((REMARKS, -1 - at, row) for at, row in texts)
                self._base.execute("COMMIT")
            except BaseException:
                self._base.close()
                raise
            self._made = _identity(path)
        except (sqlite3.Error, OSError) as error:
            with suppress(OSError):
                path.unlink()  # it was empty, and holds no take
            raise cannot_write(path, error) from error

    def _insert(self, rows: Iterable[Row]) -> None:
        for table, at, row in rows:
            self._base.execute(f"INSERT INTO {table} VALUES (?, ?)", (at, row))

    def write(self, rows: Iterable[Row]) -> None:
        """Add rows, all or none.

        Raises:
            DeviceError: the disk is full or gone, or the file was removed; what was committed before stays.
        """
        try:
            # A file removed under us can still be written to on most systems, and nobody would find it.
            if _identity(self.path) != self._made:
                raise DeviceError(f"the take {self.path} was removed or replaced while it was being written")
            self._base.execute("BEGIN IMMEDIATE")
            try:
                self._insert(rows)
                self._base.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self._base.execute("ROLLBACK")
                raise
        except FileNotFoundError as error:
            raise DeviceError(f"the take {self.path} was removed while it was being written") from error
        except (sqlite3.Error, OSError) as error:
            raise cannot_write(self.path, error) from error

    def close(self) -> None:
        """Let go of the file; never raises."""
        with suppress(sqlite3.Error):
            self._base.close()


def _identity(path: Path) -> tuple[int, int]:
    found = os.stat(path)
    return found.st_dev, found.st_ino
