"""Faults met by a show without a screen: what goes and comes back is said each time it does."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.acceptance.programs import LAMPWRIGHT, NEEDS_POSIX, NEEDS_PROC, Piped, house_of, until
from tests.acceptance.scenes import write_song
from tests.shell.outputs.bench import Line

pytestmark = NEEDS_POSIX


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    """Two ends of a serial line."""
    one = Line(tmp_path)
    yield one
    one.close()


def test_an_adapter_that_comes_and_goes_is_said_each_time(line: Line, scene: Path) -> None:
    """Where nothing is drawn, each loss of an output is a line with its reason, and so is each return."""
    song = write_song(scene / "song.mid", (60, 100))
    out = f"break:{line.device}"
    with Piped("play", "--no-page", "--midi-file", song, "--out", out, folder=scene) as show:
        good = f"out: serial {line.device} break\n"
        show.says(good)
        assert line.take(129, 5.0)
        for times in (1, 2):
            line.unplug()
            until(lambda: show.out.count("is it plugged in") == times, "the loss is said")  # noqa: B023
            line.plug()
            until(lambda: show.out.count(good) == times + 1, "the return is said")  # noqa: B023
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130


def test_a_show_under_nohup_outlives_its_terminal(scene: Path) -> None:
    """Started to ignore a closed terminal it plays on, and still ends when it is told to."""
    song = write_song(scene / "song.mid", (60, 100))
    command = [*LAMPWRIGHT, "play", "--no-page", "--midi-file", str(song), "--out", "memory"]
    show = subprocess.Popen(
        ["sh", "-c", 'trap "" HUP; exec "$@"', "sh", *command], cwd=scene, stdout=subprocess.PIPE, text=True
    )
    try:
        assert show.stdout is not None
        while "out: memory" not in show.stdout.readline():
            assert show.poll() is None
        show.send_signal(signal.SIGHUP)
        with pytest.raises(subprocess.TimeoutExpired):
            show.wait(1.0)
        show.send_signal(signal.SIGTERM)
        assert show.wait(5.0) == 130
    finally:
        show.kill()
        show.communicate()


@NEEDS_PROC
def test_a_house_that_cannot_be_started_again_is_tried_again(scene: Path) -> None:
    """Without a file handle left for it that is said in one line; with one it is there again."""
    resource = pytest.importorskip("resource")
    if not hasattr(resource, "prlimit"):
        pytest.skip("only Linux changes the limits of a program that runs")
    song = write_song(scene / "song.mid", (60, 100))
    with Piped("play", "--no-page", "--midi-file", song, "--out", "memory", folder=scene) as show:
        show.says("out: memory")
        house = until(lambda: house_of(show.pid), "there is a house")
        limits = resource.prlimit(show.pid, resource.RLIMIT_NOFILE)
        resource.prlimit(show.pid, resource.RLIMIT_NOFILE, (3, limits[1]))
        os.kill(house, signal.SIGKILL)
        show.says("it is tried again")
        resource.prlimit(show.pid, resource.RLIMIT_NOFILE, limits)
        until(lambda: house_of(show.pid), "another house is there")
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        assert show.errors == ""
