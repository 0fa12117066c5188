"""The disk fills up under the real program while it records."""

from __future__ import annotations

import contextlib
import random
import shutil
import signal
import subprocess
from pathlib import Path

import mido
import pytest

from bridge.shell.takes.reader import Take
from tests.acceptance.ears import Ear
from tests.acceptance.programs import LAMPWRIGHT, NEEDS_POSIX, NEEDS_PROC, Piped, Running, until
from tests.acceptance.scenes import SACN, slot_value

HELD = 60

pytestmark = NEEDS_POSIX


def busy_song(path: Path, seconds: float) -> Path:
    """A held note, and forty times a second sixty others of chance, so that a take grows fast."""
    chance = random.Random(1)
    song = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack([mido.Message("note_on", note=HELD, velocity=100)])
    song.tracks.append(track)
    step = round(mido.second2tick(1 / 40, 480, 500_000))
    for _ in range(round(40 * seconds)):
        for number in range(60):
            velocity = chance.randrange(128)
            track.append(mido.Message("note_on", note=number, velocity=velocity, time=0 if number else step))
    song.save(path)
    return path


def plays_on(wire: Ear) -> None:
    """A second with the held note lit, no packet missing."""
    wire.rest()
    before = len(wire.packets)
    while len(wire.packets) < before + 40:
        assert wire.take(1.0).dmxData[HELD] == slot_value(100)
    numbers = [packet.sequence for packet in wire.packets[before:]]
    assert numbers == [(numbers[0] + number) % 256 for number in range(len(numbers))]


def test_a_file_that_may_not_grow(scene: Path, wire: Ear) -> None:
    """The show says that the take has failed and plays on; what was written is there; exit code 1."""
    resource = pytest.importorskip("resource")
    if not hasattr(resource, "prlimit"):
        pytest.skip("only Linux changes the limits of a program that runs")
    song = busy_song(scene / "song.mid", 5.0)
    with Piped(
        *("play", "--no-page", "--midi-file", song, "--out", SACN, "--record", "a.take"), folder=scene
    ) as show:
        wire.take()
        take = scene / "a.take"
        until(lambda: take.exists() and take.stat().st_size > 20_000, "the take has begun")
        plays_on(wire)
        # From here on nothing can be written that lies further back in a file than this.
        resource.prlimit(show.pid, resource.RLIMIT_FSIZE, (4096, resource.RLIM_INFINITY))
        show.says("recording failed: cannot write the take")
        plays_on(wire)
        assert show.ended(10.0) == 1
        assert "has room" in show.out
        assert show.errors == ""
    with Take.open(take) as kept:
        frames = [frame for _, _, _, frame in kept.frames()]
        assert len(frames) >= 20, "a second was played, and half of one may be lost"
        assert not kept.complete


ON_A_SMALL_DISK = 'mount -t tmpfs -o size="$1" small disk && shift && exec "$@"'


class SmallDisk(Running):
    """A show whose folder `disk` is a file system of a megabyte that it alone sees."""

    def __init__(self, folder: Path, *args: object) -> None:
        (folder / "disk").mkdir()
        command = ["unshare", "--map-root-user", "--mount", "sh", "-c", ON_A_SMALL_DISK, "sh", "1000k"]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
        super().__init__([*command, *LAMPWRIGHT, *map(str, args)], folder, pipes, {})
        assert self.process.stdout is not None
        self._listen("stdout", self.process.stdout)
        self.disk = Path(f"/proc/{self.pid}/root{folder}/disk")


@NEEDS_PROC
def test_a_disk_without_room(scene: Path, wire: Ear, tmp_path_factory: pytest.TempPathFactory) -> None:
    """A full file system costs the take its end and nothing else: frames go on, and the take opens."""
    allowed = shutil.which("unshare") and subprocess.run(
        ["unshare", "--map-root-user", "--mount", "mount", "-t", "tmpfs", "small", scene],
        capture_output=True, check=False,
    ).returncode == 0  # fmt: skip
    if not allowed:
        pytest.skip("this machine lets its users mount nothing of their own")
    song = busy_song(scene / "song.mid", 30.0)
    copy = tmp_path_factory.mktemp("copy") / "a.take"
    with SmallDisk(
        scene, "play", "--no-page", "--midi-file", song, "--out", SACN, "--record", "disk/a.take"
    ) as show:
        wire.take()
        take = show.disk / "a.take"
        until(lambda: take.exists() and take.stat().st_size > 20_000, "the take has begun")
        plays_on(wire)
        with open(show.disk / "ballast", "wb", buffering=0) as ballast:

            def failed() -> bool:
                # Again and again, since what SQLite puts aside for a moment gives room back.
                with contextlib.suppress(OSError):
                    while ballast.write(bytes(4096)):
                        pass
                return "recording failed: cannot write the take" in show.heard("stdout")

            until(failed, "the failure is said")
        plays_on(wire)
        shutil.copy(take, copy)
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
    with Take.open(copy) as kept:
        assert len(list(kept.frames())) >= 20, "a second was played, and half of one may be lost"
