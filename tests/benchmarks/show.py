"""Knows: how benchmarks print a table and find a command; shared by the scripts beside it.

Must never know: what is measured.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
from collections.abc import Sequence
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
