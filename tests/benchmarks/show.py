"""Knows: how benchmarks print a table and find a command; shared by the scripts beside it.

Must never know: what is measured.
"""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import platform
import socket
import subprocess
import sys
from collections.abc import Iterator, Sequence
from importlib.metadata import version
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parent.parent.parent
BOATHOUSE = ROOT / "examples" / "boathouse"
SONG = BOATHOUSE / "evening.mid"
LAMPWRIGHT = (sys.executable, "-m", "bridge")


def table(
    title: str, head: Sequence[str], rows: Sequence[Sequence[object]], notes: Sequence[str] = ()
) -> None:
    """Print one table: the first column to the left, numbers to the right."""
    cells = [list(head), *([str(cell) for cell in row] for row in rows)]
    wide = [max(len(row[column]) for row in cells) for column in range(len(head))]
    print(f"\n{title}")
    for number, row in enumerate(cells):
        print(
            "  "
            + "  ".join(
                c.rjust(w) if at else c.ljust(w) for at, (c, w) in enumerate(zip(row, wide, strict=True))
            )
        )
        if number == 0:
            print("  " + "  ".join("-" * w for w in wide))
    for note in notes:
        print(f"  {note}")


def spread(values: Sequence[float], digits: int = 2) -> tuple[str, str, str]:
    """The median, the 99th percentile and the largest, as text."""
    p50, p99 = np.quantile(values, [0.5, 0.99])
    return f"{p50:.{digits}f}", f"{p99:.{digits}f}", f"{max(values):.{digits}f}"


def machine() -> str:
    """What it was measured on, and how busy that was."""
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg()) if hasattr(os, "getloadavg") else "not known"
    return (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, "
        f"Python {platform.python_version()}, numpy {version('numpy')}; "
        f"load (1, 5, 15 min) at the start: {load}"
    )


def quiet(args: Sequence[object], folder: Path) -> None:
    """Run a command to its end; what it says is thrown away.

    Raises:
        CalledProcessError: it failed.
    """
    command = [*LAMPWRIGHT, *map(str, args)]
    subprocess.run(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)


GOAL = "GOAL "
"""What a line begins with that `run_all` gathers for its last table."""


def goal(what: str, wanted: str, ours: str, beside: str, met: bool | None) -> None:
    """Say how one goal was met, for `run_all`.

    Args:
        what: what is measured; wanted: the goal; ours: the measure; beside: that of a peer, or the limit.
        met: None where it could not be measured here.
    """
    print(GOAL + json.dumps([what, wanted, ours, beside, {True: "yes", False: "NO", None: "-"}[met]]))


def descendants(pid: int) -> Iterator[tuple[int, str]]:
    """(id, command line) of all living processes that a process started, and that those started."""
    parents: dict[int, list[tuple[int, str]]] = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, parent = stat.read_text().rpartition(")")[2].split()[:2]
            if state != "Z":
                line = (stat.parent / "cmdline").read_bytes().replace(b"\0", b" ").decode()
                parents.setdefault(int(parent), []).append((int(stat.parent.name), line))
    waiting = [pid]
    while waiting:
        for child in parents.get(waiting.pop(), ()):
            yield child
            waiting.append(child[0])


def boathouse(folder: Path) -> None:
    """Put the demo's rig and mapping into a folder."""
    for name in ("rig.yaml", "mapping.yaml"):
        (folder / name).write_bytes((BOATHOUSE / name).read_bytes())


def free_port() -> int:
    """A TCP port nobody uses now."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def without_priority() -> None:
    """In a child, before it becomes the command: may never ask for real-time priority, as an ordinary user.

    Root may always, whatever the limit on it; so the right itself (CAP_SYS_NICE, 23 in linux/capability.h)
    is taken from the bounding set (PR_CAPBSET_DROP, 24 in linux/prctl.h). Linux only.
    """
    import resource

    resource.setrlimit(resource.RLIMIT_RTPRIO, (0, 0))
    ctypes.CDLL(None).prctl(24, 23, 0, 0, 0)


def end(process: subprocess.Popen[str]) -> str:
    """Ask a command of ours to end, and what it said on stdout."""
    if process.poll() is None:
        process.terminate()
    try:
        said = process.communicate(timeout=20)[0]
    except subprocess.TimeoutExpired:
        process.kill()
        said = process.communicate()[0]
    return said or ""
