"""Outputs that go and come back under the real program: pulled, held by others, no file handle left."""

from __future__ import annotations

import contextlib
import os
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.acceptance.programs import LAMPWRIGHT, NEEDS_POSIX, PATIENCE, InTerminal
from tests.acceptance.scenes import slot_value, write_song
from tests.shell.outputs.bench import Line

NOTES = {0: 127, 5: 64, 127: 1}
LIT = b"\0" + bytes(slot_value(NOTES.get(note, 0)) for note in range(128))
DARK = bytes(129)

pytestmark = NEEDS_POSIX


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    """Two ends of a serial line."""
    one = Line(tmp_path)
    yield one
    one.close()


def carries(line: Line, packet: bytes, seconds: float = PATIENCE) -> bytes:
    """What came over the line until this packet was in it."""
    got, end = b"", time.monotonic() + seconds
    while packet not in got:
        assert time.monotonic() < end, f"no such packet in {len(got)} bytes, the first {got[:200].hex(' ')}"
        got += line.take(64, 0.2)
    return got


@contextlib.contextmanager
def show_on(line: Line, scene: Path) -> Iterator[InTerminal]:
    """A show in a terminal that lights three lamps over this line."""
    song = write_song(scene / "song.mid", *NOTES.items())
    out = f"break:{line.device}"
    with InTerminal("play", "--no-page", "--midi-file", song, "--out", out, folder=scene) as show:
        yield show


def ends_well(show: InTerminal) -> None:
    """Ctrl-C ends it clean."""
    show.type(b"\x03")
    assert show.ended(5.0) == 130
    assert "Traceback" not in show.text_from(0)


def test_a_pulled_adapter_is_shown_and_lights_its_lamps_again(line: Line, scene: Path) -> None:
    """Unplugged the output says so; plugged in, it sends the picture of now, and no frame was left out."""
    with show_on(line, scene) as show:
        carries(line, LIT)
        for _ in range(2):
            line.unplug()
            show.shows("is it plugged in", len(show.raw))
            line.plug()
            carries(line, LIT)
            show.no_longer_shows("is it plugged in")
        ends_well(show)
        assert "none left out" in show.text_from(0)


def test_an_adapter_that_another_program_holds_is_waited_for(line: Line, scene: Path) -> None:
    """Held by a lock, as programs hold a serial port, the output says who is in the way; freed, it lights."""
    import fcntl

    holder = os.open(line.device, os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(holder, fcntl.LOCK_EX | fcntl.LOCK_NB)
    try:
        with show_on(line, scene) as show:
            show.shows(f"another program holds {line.device}")
            os.close(holder)
            holder = -1
            carries(line, LIT)
            show.no_longer_shows("another program holds")
            ends_well(show)
    finally:
        if holder >= 0:
            os.close(holder)


def test_without_a_handle_left_an_output_waits_for_one(line: Line, scene: Path) -> None:
    """At the limit of open files an adapter that came back is not opened: that is said; with room it is."""
    resource = pytest.importorskip("resource")
    if not hasattr(resource, "prlimit"):
        pytest.skip("only Linux changes the limits of a program that runs")
    with show_on(line, scene) as show:
        carries(line, LIT)
        limits = resource.prlimit(show.pid, resource.RLIMIT_NOFILE)
        line.unplug()
        show.shows("is it plugged in")
        resource.prlimit(show.pid, resource.RLIMIT_NOFILE, (3, limits[1]))
        line.plug()
        show.shows("too many open files")
        resource.prlimit(show.pid, resource.RLIMIT_NOFILE, limits)
        carries(line, LIT)
        show.no_longer_shows("too many open files")
        ends_well(show)
        assert "none left out" in show.text_from(0)


@pytest.mark.parametrize("handles", [8, 12])
def test_too_few_handles_to_start_are_one_clear_line(scene: Path, handles: int) -> None:
    """Where a show cannot even open what it needs it says why and what to do, and ends with code 1."""
    write_song(scene / "song.mid", *NOTES.items())
    command = [*LAMPWRIGHT, "play", "--no-page", "--midi-file", "song.mid", "--out", "memory"]
    done = subprocess.run(
        ["sh", "-c", f'ulimit -n {handles} && exec "$@"', "sh", *command],
        cwd=scene, capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1
    assert "too many open files" in done.stderr
    assert "ulimit -n" in done.stderr
