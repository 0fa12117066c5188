"""Knows: where an evening was when the program ended badly, kept in the user's cache folder.

Must never know: what an evening is made of.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any


def cache_folder(platform: str = sys.platform) -> Path:
    """Where this system keeps what programs can do without."""
    home = Path.home()
    if platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "lampwright"
    if platform == "darwin":
        return home / "Library" / "Caches" / "lampwright"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "lampwright"


class Bookmark:
    """A mark that a clean end takes out; one that is still there tells of a crash.

    Args:
        about: the file the mark is about. folder: where marks are kept.

    A folder that cannot be written costs the mark and nothing else.
    """

    def __init__(self, about: Path, folder: Path | None = None) -> None:
        name = hashlib.sha256(os.fsencode(about.resolve())).hexdigest()[:16]
        self._path = (cache_folder() if folder is None else folder) / f"evening-{name}.json"

    def read(self) -> dict[str, Any]:
        """What was marked last; empty where nothing is."""
        try:
            found = json.loads(self._path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}

    def put(self, **marks: Any) -> None:
        """Mark; written aside first, so that a crash leaves the mark before."""
        aside = self._path.with_suffix(f".{os.getpid()}")
        with suppress(OSError):
            self._path.parent.mkdir(parents=True, exist_ok=True)
            aside.write_text(json.dumps(marks), encoding="utf-8")
            os.replace(aside, self._path)

    def clear(self) -> None:
        """Take the mark out."""
        with suppress(OSError):
            self._path.unlink(missing_ok=True)
