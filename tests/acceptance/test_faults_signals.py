"""Told to end while it starts or writes files: exit code 130, no traceback, nothing half made left behind."""

from __future__ import annotations

import signal
import threading
from pathlib import Path

import pytest

from tests.acceptance.programs import NEEDS_POSIX, NEEDS_PROC, Piped, run, until
from tests.acceptance.scenes import write_song

ENDINGS = ("SIGINT", "SIGTERM", "SIGHUP")
MOMENTS_MS = (0, 20, 40, 60, 90, 120, 160, 200, 250, 300, 400)
"""After our own first line ran; before it the interpreter is not yet ours to speak for."""

pytestmark = [NEEDS_POSIX, NEEDS_PROC]


def listens(pid: int) -> bool:
    """True once the program has a handler of its own for SIGTERM, which the bare interpreter has not."""
    for line in Path(f"/proc/{pid}/status").read_text("ascii").splitlines():
        if line.startswith("SigCgt:"):
            return bool(int(line.split()[1], 16) >> (signal.SIGTERM - 1) & 1)
    return False


def left_in(folder: Path) -> set[str]:
    """Names of the files there, hidden ones too."""
    return {path.name for path in folder.iterdir()}


@pytest.mark.parametrize("after_ms", MOMENTS_MS)
def test_a_start_can_be_interrupted_at_any_moment(scene: Path, after_ms: int) -> None:
    """Ctrl-C while everything is still being loaded ends with 130, and no line of ours is a traceback."""
    song = write_song(scene / "song.mid", (60, 100))
    with Piped("play", "--no-page", "--midi-file", song, "--out", "memory", folder=scene) as show:
        until(lambda: listens(show.pid), "it listens to signals")
        threading.Event().wait(after_ms / 1000)
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        assert show.errors == ""


WRITING = {
    "render": ("render", "--midi-file", "song.mid", "--csv", "o.csv", "--png", "o.png", "--gif", "o.gif"),
    "import": ("take", "import", "song.mid", "o.take"),
    "csv": ("take", "export", "long.take", "o.csv"),
    "png": ("take", "export", "long.take", "o.png"),
    "gif": ("take", "export", "long.take", "o.gif"),
}


@pytest.fixture(scope="module")
def long_take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take that takes longer to be written out than to be interrupted."""
    from tests.acceptance.scenes import write_scene

    folder = tmp_path_factory.mktemp("long")
    write_scene(folder)
    write_song(folder / "song.mid", *((note, 100) for note in range(128)), seconds=900.0)
    done = run("take", "import", "song.mid", "long.take", folder=folder)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.mark.parametrize("name", ENDINGS)
@pytest.mark.parametrize("what", WRITING)
def test_a_file_half_written_is_put_away(long_take: Path, what: str, name: str) -> None:
    """Told to end in the middle of its work, a command leaves the folder as it found it and ends with 130."""
    before = left_in(long_take)
    with Piped(*WRITING[what], folder=long_take) as command:
        until(
            lambda: command.process.poll() is not None or left_in(long_take) > before, "it has begun to write"
        )
        command.signal(getattr(signal, name))
        assert command.ended(20.0) == 130
        assert command.errors == ""
    assert left_in(long_take) == before


def test_what_was_there_stays(long_take: Path) -> None:
    """An export that is interrupted leaves the file that had its name as it was."""
    old = long_take / "kept.csv"
    old.write_text("mine\n", "utf-8")
    before = left_in(long_take)
    with Piped("take", "export", "long.take", "kept.csv", folder=long_take) as command:
        until(lambda: left_in(long_take) > before, "it has begun to write")
        for _ in range(5):
            command.signal(signal.SIGTERM)
        assert command.ended(20.0) == 130
    assert left_in(long_take) == before
    assert old.read_text("utf-8") == "mine\n"
