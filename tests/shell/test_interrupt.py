"""Telling a process to end: what happens depends on what it is in the middle of."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("signals of POSIX", allow_module_level=True)

BEGIN = """\
import os, signal, sys
from bridge.shell.interrupt import leave_at_once, unwind
def tell(name="SIGTERM"):
    os.kill(os.getpid(), getattr(signal, name))
    for _ in range(10000): pass
"""


def ends(*lines: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a program of these lines to its end."""
    text = BEGIN + "\n".join(lines)
    return subprocess.run(
        [sys.executable, "-c", text], cwd=folder, capture_output=True, text=True, timeout=30, check=False
    )


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_before_any_work_it_ends_at_once(tmp_path: Path, name: str) -> None:
    """With nothing to put away the process ends with 130 and says nothing."""
    done = ends("leave_at_once()", f"tell({name!r})", "print('on')", folder=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


WORK = """\
def work():
    try:
        {}
    except KeyboardInterrupt:
        {}
        print("put away")
unwind(work.__code__)
{}
"""


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_within_the_work_it_unwinds(tmp_path: Path, name: str) -> None:
    """Whatever way it is told, the work sees a KeyboardInterrupt; a second signal disturbs nothing."""
    done = ends(WORK.format(f"tell({name!r})", f"tell({name!r})", "work()"), folder=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "put away\n", "")


def test_outside_of_the_work_it_ends_at_once(tmp_path: Path) -> None:
    """Between two works there is nothing to unwind."""
    done = ends(WORK.format("pass", "pass", "work(); tell()"), "print('on')", folder=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


def test_an_import_is_finished_first(tmp_path: Path) -> None:
    """A module that is being imported is whole when the interrupt comes, and nothing is waited for then."""
    (tmp_path / "slow.py").write_text(
        "import __main__\n__main__.tell()\nimport time\ntime.sleep(0.1)\nprint('whole')\n", "utf-8"
    )
    body = "import slow, time; time.sleep(25); print('never')"
    done = ends(WORK.format(body, "pass", "work()"), folder=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "whole\nput away\n", "")


def test_what_is_ignored_stays_ignored(tmp_path: Path) -> None:
    """A signal that the process was started to ignore, as by nohup, is left alone."""
    before = "signal.signal(signal.SIGHUP, signal.SIG_IGN)"
    done = ends(before, "leave_at_once()", "tell('SIGHUP')", "print('on')", folder=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "on\n", "")
