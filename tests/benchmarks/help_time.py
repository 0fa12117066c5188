"""How long `--help` of each command takes, beside Python's own start.

Run it by hand: `python -m tests.benchmarks.help_time`. Not part of the test run.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

from bridge import cli
from tests.benchmarks.show import LAMPWRIGHT, machine, table

RUNS = 7


def seconds(args: list[str]) -> list[float]:
    """What each of some runs took; the first, which may read from disk, is left out."""
    took = []
    for _ in range(RUNS + 1):
        begin = time.perf_counter()
        subprocess.run(args, stdout=subprocess.DEVNULL, check=True)
        took.append(time.perf_counter() - begin)
    return took[1:]


def main() -> None:
    """Print the table."""
    conditions = machine()
    commands = [one.name or one.callback.__name__ for one in cli.app.registered_commands if one.callback]
    cases = {"python -c pass": [sys.executable, "-c", "pass"], "lampwright --help": [*LAMPWRIGHT, "--help"]}
    cases |= {f"lampwright {name} --help": [*LAMPWRIGHT, name, "--help"] for name in commands}
    rows = []
    for name, args in cases.items():
        took = seconds(args)
        rows.append((name, f"{statistics.median(took):.3f}", f"{max(took):.3f}"))
    notes = (f"of {RUNS} runs; goal: 0.3 s", conditions)
    table("Help: seconds until it has answered", ("command", "median s", "longest s"), rows, notes)


if __name__ == "__main__":
    main()
