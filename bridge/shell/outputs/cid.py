"""Knows: this machine's CID, the number that tells one sACN source from another, kept between runs.

Must never know: packets or sockets.

ANSI E1.31 clause 5.6 (after RFC 4122) wants one CID for the life of a sender, so that a receiver does not
take the next evening's run for a second source and merge both. Two runs at once on one machine share it, and
must not send the same universe to one receiver.
"""

from __future__ import annotations

import os
import sys
import uuid
from pathlib import Path

FILE_NAME = "sacn-cid"


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
    """The 16 bytes of the CID, made at the first run. Where they cannot be kept, a fresh one for this run."""
    fresh = uuid.uuid4()
    try:
        path = (folder or config_folder()) / FILE_NAME
        return (_read(path) or _keep(path, fresh)).bytes
    except (OSError, RuntimeError):  # RuntimeError: Path.home() where the system knows no home
        return fresh.bytes


def _read(path: Path) -> uuid.UUID | None:
    try:
        return uuid.UUID(path.read_text("ascii").strip())
    except (FileNotFoundError, ValueError):  # ValueError: not a CID, or not even text
        return None


def _keep(path: Path, fresh: uuid.UUID) -> uuid.UUID:
    path.parent.mkdir(parents=True, exist_ok=True)
    # Whole or not at all: two programs may start at the same moment.
    part = path.with_name(f"{path.name}.{fresh.hex}")
    try:
        part.write_text(f"{fresh}\n", "ascii")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return _read(path) or fresh
