"""Knows: where a mark about some files is kept, in the user's cache folder, and whose mark it is.

Must never know: what is marked, or what a show is made of.

A mark's place belongs to whoever holds the lock beside it, and the system lets go of a lock when its holder
dies, however it dies. So shows at once about the same files have a mark each, and a mark that nobody holds
tells of a bad end.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO, Any

PLACES = 8
"""Shows at once about the same files that can have a mark; one more than that goes without."""

LARGEST = 4_000_000
"""Bytes of a mark; what is larger is none of ours."""


def cache_folder(platform: str = sys.platform) -> Path:
    """Where this system keeps what programs can do without."""
    home = Path.home()
    if platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "lampwright"
    if platform == "darwin":
        return home / "Library" / "Caches" / "lampwright"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "lampwright"


class Bookmark:
    """A mark that a clean end takes out; one that is still there tells of a bad end.

    Args:
        about: the file the mark is about, or several. folder: where marks are kept.

    A folder that cannot be written, or cannot lock, costs the mark and nothing else.
    """

    def __init__(self, about: Path | Sequence[Path], folder: Path | None = None) -> None:
        files = [about] if isinstance(about, Path) else about
        names = b"\0".join(os.fsencode(file.resolve()) for file in files)
        self._folder = cache_folder() if folder is None else folder
        self._stem = f"show-{hashlib.sha256(names).hexdigest()[:16]}"
        self._lock: IO[bytes] | None = None
        self._path: Path | None = None
        self._claim()

    def _claim(self) -> None:
        """Take a place: that of the newest mark nobody holds, else the first that is free."""
        paths = [self._folder / f"{self._stem}-{number}.json" for number in range(1, PLACES + 1)]
        for path in sorted(paths, key=_age):
            lock = _lock(path.with_suffix(".lock"))
            if lock is not None:
                self._lock, self._path = lock, path
                return

    def read(self) -> dict[str, Any]:
        """What was marked last; empty where nothing is."""
        if self._path is None:
            return {}
        try:
            if self._path.stat().st_size > LARGEST:
                return {}
            found = json.loads(self._path.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return {}
        return found if isinstance(found, dict) else {}

    def put(self, **marks: Any) -> None:
        """Mark; aside first, and down to the disk: a power cut leaves this mark or the one before."""
        if self._path is None:
            return
        aside = self._path.with_suffix(".new")
        with suppress(OSError):
            with aside.open("w", encoding="utf-8") as file:
                json.dump(marks, file)
                file.flush()
                os.fsync(file.fileno())
            os.replace(aside, self._path)

    def clear(self) -> None:
        """Take the mark out."""
        if self._path is not None:
            with suppress(OSError):
                self._path.unlink(missing_ok=True)

    def close(self) -> None:
        """Give the place back; the mark stays as it is."""
        lock, self._lock, self._path = self._lock, None, None
        if lock is not None:
            with suppress(OSError):
                lock.close()


def _age(path: Path) -> float:
    """For sorting: the newest mark first, places without one last, in their order."""
    try:
        return -path.stat().st_mtime
    except OSError:
        return 0.0


def _lock(path: Path) -> IO[bytes] | None:
    """The open file, locked until it is closed or its process ends; None where somebody else holds it."""
    file: IO[bytes] | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = path.open("ab")
        if sys.platform == "win32":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        if file is not None:
            file.close()
        return None
    return file
