"""The time of day is set back and forth under the real program: nothing but a take's header may notice."""

from __future__ import annotations

import ast
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.shell.takes.reader import Take
from tests.acceptance.ears import Ear
from tests.acceptance.programs import Piped
from tests.acceptance.scenes import SACN, picture, write_song

BRIDGE = Path(__file__).parents[2] / "bridge"

OTHER_TIME = """\
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <time.h>
static long shift(void) {
  struct stat found;
  const char *name = getenv("OTHER_TIME");
  return name && stat(name, &found) == 0 ? (long)found.st_size * 60 - 1440 * 60 : 0;
}
int clock_gettime(clockid_t which, struct timespec *out) {
  static int (*real)(clockid_t, struct timespec *);
  if (!real) *(void **)&real = dlsym(RTLD_NEXT, "clock_gettime");
  int done = real(which, out);
  if (done == 0 && (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE)) out->tv_sec += shift();
  return done;
}
time_t time(time_t *out) {
  struct timespec now;
  clock_gettime(CLOCK_REALTIME, &now);
  if (out) *out = now.tv_sec;
  return now.tv_sec;
}
int gettimeofday(struct timeval *restrict out, void *restrict zone) {
  struct timespec now;
  (void)zone;
  clock_gettime(CLOCK_REALTIME, &now);
  out->tv_sec = now.tv_sec;
  out->tv_usec = now.tv_nsec / 1000;
  return 0;
}
"""
"""A day earlier while the file is there, and a minute later for each of its bytes."""


@pytest.fixture
def other_time(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library that sets the time of day of the program that loads it; the machine's own is left alone."""
    compiler = shutil.which("cc")
    if compiler is None and os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
        pytest.fail("a C compiler is missing")
    if compiler is None or sys.platform != "linux":
        pytest.skip("needs Linux and a C compiler")
    folder = tmp_path_factory.mktemp("time")
    (folder / "other.c").write_text(OTHER_TIME, "utf-8")
    command = [compiler, "-shared", "-fPIC", "-O1", "-o", "other.so", "other.c", "-ldl"]
    subprocess.run(command, cwd=folder, check=True, timeout=60)
    return folder


def test_the_time_of_day_steers_nothing(scene: Path, wire: Ear, other_time: Path) -> None:
    """A day back, then a day ahead: the same light, no packet missing, the take unharmed."""
    now = other_time / "now"
    env = {"LD_PRELOAD": str(other_time / "other.so"), "OTHER_TIME": str(now)}
    asked = [sys.executable, "-c", "import time; print(time.time())"]
    notes = {60: 100}
    song = write_song(scene / "song.mid", *notes.items())
    with Piped(
        *("play", "--page-port", "0", "--midi-file", song, "--out", SACN, "--record", "a.take"),
        folder=scene,
        env=env,
    ) as show:
        show.says("stage page")
        wire.shows(picture(notes))
        wire.rest()
        before = len(wire.packets)
        for minutes in (0, 2880, 1440, 0):
            now.write_bytes(bytes(minutes))
            while len(wire.packets) < before + 40:
                assert wire.take(1.0).dmxData == picture(notes)
            numbers = [packet.sequence for packet in wire.packets[before:]]
            assert numbers == [(numbers[0] + number) % 256 for number in range(len(numbers))]
            before = len(wire.packets)
        back = subprocess.run(asked, env=env, capture_output=True, text=True, check=True, timeout=30)
        ours = subprocess.run(asked, capture_output=True, text=True, check=True, timeout=30)
        assert float(ours.stdout) - float(back.stdout) > 80_000, "the day was indeed set back"
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        assert show.errors == ""
    with Take.open(scene / "a.take") as take:
        assert take.complete
        assert take.gaps == ()
        shown = [t for _, _, t, _ in take.frames()]
        assert shown == sorted(shown)
        assert shown[-1] < 60.0


ALLOWED = {"app.py", "reporting.py", "shell/resume.py", "shell/resume_marks.py"}
"""Where the time of day is read, to be shown to the player: none of it steers a frame."""

TIMES_OF_DAY = (
    *("time.time", "time.time_ns", "time.localtime", "time.gmtime", "time.ctime"),
    *("datetime.now", "datetime.utcnow", "datetime.today", "date.today"),
)


def test_no_other_file_reads_the_time_of_day() -> None:
    """`time.time` and its likes stand nowhere in the program, and `datetime.now` where named above."""
    found = set()
    for path in BRIDGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                name = f"{node.value.id}.{node.attr}"
                if name in TIMES_OF_DAY:
                    found.add((path.relative_to(BRIDGE).as_posix(), name))
            elif isinstance(node, ast.ImportFrom) and node.module == "time":
                found |= {
                    (path.relative_to(BRIDGE).as_posix(), alias.name)
                    for alias in node.names
                    if alias.name == "time"
                }
    places = {path for path, _ in found}
    assert "app.py" in places, "it is looked for rightly"
    assert places <= ALLOWED, found
