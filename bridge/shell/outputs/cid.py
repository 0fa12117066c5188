"""Knows: this program's CID, the number that tells sACN sources apart, kept between runs.

Must never know: packets or sockets.

ANSI E1.31 clause 5.6 (after RFC 4122) wants one CID for the life of a sender, so that a receiver does not
take the next evening's run for a second source and merge both. Nor may two sources at once share one: a
receiver takes their packets for one stream whose numbers jump (clause 6.7.2). So a program holds a lock for
its CID: the first on a machine gets the one that is kept, each further one a CID of its own made from it, the
same again next time. The lock is the system's, on one byte of a file, and falls with the program however it
ends.
"""

from __future__ import annotations

import os
import sys
import uuid
from pathlib import Path

FILE_NAME = "sacn-cid"
LOCK_NAME = "sacn-cid.lock"

MOST_AT_ONCE = 64
"""Programs on one machine that get a CID which is theirs again next time."""

_held: dict[Path, uuid.UUID] = {}
"""What this process holds, by folder. A lock belongs to the process and not to any object of ours, and ends
with it: giving it up in between would let another program take up the numbers in the middle of a stream."""


def config_folder(platform: str = sys.platform) -> Path:
    """The user's folder for our settings, as each system has it; it may not exist."""
    if platform == "win32":
        base = os.environ.get("APPDATA", "")
        return Path(base or Path.home() / "AppData" / "Roaming") / "lampwright"
    if platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "lampwright"
    base = os.environ.get("XDG_CONFIG_HOME", "")
    # The XDG base directory specification: a relative path there is to be ignored.
    return (Path(base) if os.path.isabs(base) else Path.home() / ".config") / "lampwright"


def sender_cid(folder: Path | None = None) -> bytes:
    """The 16 bytes of this program's CID, the same at every call.

    The first program on this machine has the one made at the first run; others at the same time have theirs.
    Where nothing can be kept or locked, it is a fresh one for this run.
    """
    try:
        folder = folder or config_folder()
    except RuntimeError:  # Path.home() where the system knows no home
        return uuid.uuid4().bytes
    if folder not in _held:
        _held[folder] = _take(folder)
    return _held[folder].bytes


def _take(folder: Path) -> uuid.UUID:
    fresh = uuid.uuid4()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        place = _lock(folder / LOCK_NAME)
        if place is None:
            return fresh
        path = folder / FILE_NAME
        kept = _read(path) or _keep(path, fresh)
    except OSError:
        return fresh
    # RFC 4122 clause 4.3: a name within the space of another UUID gives one that is the same every time.
    return kept if place == 0 else uuid.uuid5(kept, str(place + 1))


def _lock(path: Path) -> int | None:
    """Which byte of the file is ours from now on, the first that is free; None when all are taken.

    Raises:
        OSError: the file cannot be made, or the system locks no byte of it.
    """
    # Never closed, for closing would give the lock up; it is not handed on to programs we start.
    number = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    mine: int | None = None
    try:
        mine = next((place for place in range(MOST_AT_ONCE) if _lock_byte(number, place)), None)
    finally:
        if mine is None:
            os.close(number)
    return mine


if sys.platform == "win32":
    import msvcrt

    def _lock_byte(number: int, place: int) -> bool:
        os.lseek(number, place, os.SEEK_SET)
        try:
            msvcrt.locking(number, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock_byte(number: int, place: int) -> bool:
        try:
            fcntl.lockf(number, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, place)
        except (BlockingIOError, PermissionError):  # POSIX lets a system say EAGAIN or EACCES
            return False
        return True


def _read(path: Path) -> uuid.UUID | None:
    try:
        return uuid.UUID(path.read_text("ascii").strip())
    except (FileNotFoundError, ValueError):  # ValueError: not a CID, or not even text
        return None


def _keep(path: Path, fresh: uuid.UUID) -> uuid.UUID:
    # Whole or not at all: two programs may start at the same moment.
    part = path.with_name(f"{path.name}.{fresh.hex}")
    try:
        part.write_text(f"{fresh}\n", "ascii")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return _read(path) or fresh
