"""Runs the benchmarks one after the other and writes what they print to results.txt beside this file.

Run it by hand, on a machine that does nothing else: `python -m tests.benchmarks.run_all`; two minutes.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.benchmarks.show import ROOT

PARTS = ("steadiness", "engine_time", "render_speed", "help_time", "start_and_memory")


def main() -> None:
    """Print and write."""
    written = ["Lampwright, measured by tests/benchmarks/run_all.py\n"]
    for name in PARTS:
        args = [sys.executable, "-m", f"tests.benchmarks.{name}"]
        done = subprocess.run(args, cwd=ROOT, stdout=subprocess.PIPE, text=True, encoding="utf-8", check=True)
        print(done.stdout, flush=True)
        written.append(done.stdout)
    Path(__file__).with_name("results.txt").write_text("".join(written), encoding="utf-8")


if __name__ == "__main__":
    main()
