"""Runs the benchmarks one after the other, prints one table of all goals, and writes results.txt beside it.

Run it by hand, on a machine that does nothing else: `python -m tests.benchmarks.run_all`; forty minutes, or
with `--quick` ten minutes of shorter runs. The hour (`python -m tests.benchmarks.hour`) is run apart; the
hour.txt that it left is quoted. Names of benchmarks, like `run_all --quick loaded`, run these alone and write
nothing.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.show import GOAL, ROOT

PARTS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "steadiness": (("600",), ("30",)),
    "steadiness one after another": (("120", "--one-after-another"), ("20", "--one-after-another")),
    "loaded": (("60",), ("15",)),
    "key_to_packet": (("500",), ("100",)),
    "engine_time": ((), ()),
    "engine_sizes": (("800",), ("200",)),
    "universes": ((), ()),
    "full_wire": (("20",), ("5",)),
    "render_speed": ((), ()),
    "start_and_memory": ((), ()),
    "help_time": ((), ()),
    "textures": (("10",), ("3",)),
    "week": ((), ("16800",)),
}
"""Module, and what tells two runs of one apart -> its arguments, and those of a quick run."""
PATIENCE = 1800.0
HEAD = ("what", "goal", "ours", "peer or limit", "met")


def run(name: str, args: tuple[str, ...]) -> str:
    """What a benchmark prints; its failure is printed and does not end the others."""
    command = [sys.executable, "-m", f"tests.benchmarks.{name.split()[0]}", *args]
    try:
        done = subprocess.run(
            command,
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            check=False,
            timeout=PATIENCE,
        )
    except subprocess.TimeoutExpired:
        return f"\n{name}: did not end within {PATIENCE:g} s\n"
    failed = f"\n{name}: ended with {done.returncode}\n" if done.returncode else ""
    return done.stdout + failed


def main(quick: bool, names: list[str]) -> None:
    """Print and write."""
    written, goals = ["Lampwright, measured by tests/benchmarks/run_all.py\n"], []

    def take(said: str) -> None:
        lines = said.splitlines()
        goals.extend(json.loads(line[len(GOAL) :]) for line in lines if line.startswith(GOAL))
        text = "\n".join(line for line in lines if not line.startswith(GOAL)) + "\n"
        print(text, flush=True)
        written.append(text)

    for name, choices in PARTS.items():
        if not names or name.split()[0] in names:
            take(run(name, choices[quick]))
    hour = Path(__file__).with_name("hour.txt")
    if hour.exists():
        take(hour.read_text("utf-8"))
    print("\nAll goals")
    text = as_table(goals)
    print(text)
    written.insert(1, text)
    if not names:
        Path(__file__).with_name("results.txt").write_text("".join(written), encoding="utf-8")


def as_table(goals: list[list[str]]) -> str:
    """The rows of all goals, as they are printed and as DEVELOPERS.md quotes them (Markdown)."""
    rows = [HEAD, *goals]
    wide = [max(len(row[column]) for row in rows) for column in range(len(HEAD))]
    lines = ["| " + " | ".join(c.ljust(w) for c, w in zip(row, wide, strict=True)) + " |" for row in rows]
    lines.insert(1, "|" + "|".join("-" * (w + 2) for w in wide) + "|")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    words = sys.argv[1:]
    main("--quick" in words, [word for word in words if not word.startswith("--")])
