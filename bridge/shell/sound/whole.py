"""Knows: the beats of a whole sound file, found once and kept in the user's cache folder.

Must never know: lamps, the show; nothing is ever written beside the user's files.

As a program it finds and keeps the beats of one file: `python -m bridge.shell.sound.whole FILE`.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from bridge.parts.beat_choice import choose
from bridge.parts.beats import FRAME, whole
from bridge.parts.onsets import Onsets
from bridge.shell.song.sound_file import SoundFile
from bridge.shell.sound.second_opinion import beats_by_librosa, version
from bridge.values.errors import BridgeError
from bridge.values.numbers import Floats
from bridge.values.sound import USUAL_CROSSOVERS

VERSION = 1
"""Of what is kept; one more whenever the analysis finds other beats."""

LONGEST = 7200.0
"""Seconds of a file whose beats are looked for as a whole: two hours take some 120 MB while they are."""

PIECE = 1.0
"""Seconds read at a time."""

Beats = list[tuple[float, float]]
"""(second of the file, beats a minute)."""


def cache_folder(platform: str = sys.platform) -> Path:
    """The user's folder for what can be made again, as each system has it; it may not exist."""
    if platform == "win32":
        base = os.environ.get("LOCALAPPDATA", "")
        return Path(base or Path.home() / "AppData" / "Local") / "lampwright" / "cache"
    if platform == "darwin":
        return Path.home() / "Library" / "Caches" / "lampwright"
    base = os.environ.get("XDG_CACHE_HOME", "")
    return (Path(base) if os.path.isabs(base) else Path.home() / ".cache") / "lampwright"


def beats_of(path: str | os.PathLike[str]) -> Beats | None:
    """The beats of a file where they are kept; None where they are not."""
    try:
        kept = json.loads(_place(path).read_text("utf-8"))
        return [(float(at), float(bpm)) for at, bpm in kept["beats"]]
    except (OSError, RuntimeError, ValueError, KeyError, TypeError):
        return None


def find_beats(path: str | os.PathLike[str]) -> Beats:
    """Find the beats of a file and keep them, where that can be: ours, or librosa's where those fit better.

    Raises:
        FileError, DeviceError: as `SoundFile`.
    """
    struck = strokes_of(path)
    beats, _ = choose(struck, FRAME, whole(struck), beats_by_librosa(path))
    try:
        place = _place(path)
        place.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile("w", dir=place.parent, delete=False, encoding="utf-8") as part:
            json.dump({"beats": [[round(at, 4), round(bpm, 3)] for at, bpm in beats]}, part)
        Path(part.name).replace(place)
    except (OSError, RuntimeError):
        pass
    return beats


def strokes_of(path: str | os.PathLike[str]) -> Floats:
    """What is struck in each hundredth of a second of a file, all bands together.

    Raises:
        FileError, DeviceError: as `SoundFile`.
    """
    file = SoundFile(path)
    try:
        onsets = Onsets(file.rate, USUAL_CROSSOVERS)
        struck = np.zeros(round(file.length / FRAME) + 2)
        while len(block := file.read(round(PIECE * file.rate))):
            for moment, flux in onsets.feed(block.astype(np.float64))[1]:
                at = min(len(struck) - 1, max(0, int(moment / FRAME)))
                struck[at] = max(struck[at], float(flux.sum()))
    finally:
        file.close()
    return struck


def find_elsewhere(path: str | os.PathLike[str]) -> subprocess.Popen[bytes] | None:
    """Have another process find the beats of a file and keep them; None where none can be started."""
    command = [sys.executable, "-m", "bridge.shell.sound.whole", os.fspath(path)]
    try:
        return subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
    except OSError:
        return None


def _place(path: str | os.PathLike[str]) -> Path:
    """Where the beats of a file are kept: a file of the same name, size and age is the same file.

    With librosa and without they may differ, so whoever installs it has them found anew.
    """
    found = Path(path).resolve()
    state = found.stat()
    finder = f"{VERSION} librosa {version()}" if version() else f"{VERSION}"
    text = f"{finder} {found} {state.st_size} {state.st_mtime_ns}"
    return cache_folder() / "beats" / f"{hashlib.sha256(text.encode()).hexdigest()[:32]}.json"


if __name__ == "__main__":
    # Nobody waits for this, and the show may need the machine.
    with contextlib.suppress(AttributeError, OSError):
        os.nice(10)
    try:
        find_beats(sys.argv[1])
    except BridgeError as error:
        sys.exit(str(error))
