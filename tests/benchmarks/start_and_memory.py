"""How long from Enter to the first frame on the wire, and how much memory the processes of a show take.

Python keeps what it compiled in a folder of this run, warmed by one start that is not counted, whatever
PYTHONDONTWRITEBYTECODE says here: compiling all anew would take a quarter of a second of every start, and no
installed program does. The start comes once more with the stage page off, and once as processor time of the
show's own process up to its first packet, which other programs on the machine hardly disturb.

Memory is read from /proc while the demo's song plays in a terminal of its own; Linux only. PSS counts a page
that n processes share as one n-th; the peak is of the resident set.

Run it by hand: `python -m tests.benchmarks.start_and_memory`. Not part of the test run.
"""

from __future__ import annotations

import os
import socket
import statistics
import tempfile
import time
from pathlib import Path

from tests.acceptance.programs import InTerminal, Piped, children, house_of, until
from tests.benchmarks.show import BOATHOUSE, SONG, goal, machine, table

PLAY = ("play", "--rig", BOATHOUSE / "rig.yaml", "--mapping", BOATHOUSE / "mapping.yaml", "--midi-file", SONG)
HOST = "127.0.0.47"
OUT = ("--out", f"sacn:{HOST}/1")
RUNS = 9
SETTLED = 20.0
GOAL_S, GOAL_MB = 0.5, 80.0


def first_packet(ear: socket.socket, folder: Path, *more: str) -> tuple[float, float]:
    """Seconds from starting the command to the first packet, and processor seconds of the show till then."""
    ear.setblocking(False)
    try:
        while True:
            ear.recv(2048)
    except BlockingIOError:
        ear.settimeout(20.0)
    begin = time.perf_counter()
    with Piped(*PLAY, *OUT, *more, folder=folder) as show:
        ear.recv(2048)
        took = time.perf_counter() - begin
        # Nanoseconds on a processor, of the thread that plays: Linux, Documentation/scheduler/sched-stats.
        used = int(Path(f"/proc/{show.pid}/schedstat").read_text().split()[0]) / 1e9
        return took, used


def megabytes(pid: int) -> tuple[str, str]:
    """PSS now and the peak of the resident set, as text."""
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text("ascii")
    status = Path(f"/proc/{pid}/status").read_text("ascii")
    pss = next(line for line in rollup.splitlines() if line.startswith("Pss:"))
    peak = next(line for line in status.splitlines() if line.startswith("VmHWM:"))
    return f"{int(pss.split()[1]) / 1024:.0f}", f"{int(peak.split()[1]) / 1024:.0f}"


def main() -> None:
    """Print both tables."""
    conditions = machine()
    with tempfile.TemporaryDirectory() as name, socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear:
        folder = Path(name)
        os.environ["PYTHONPYCACHEPREFIX"] = str(folder / "compiled")
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        ear.bind((HOST, 5568))
        first_packet(ear, folder)
        start = []
        fastest = []
        for title, more in (("play, boathouse", ()), ("the same with --no-page", ("--no-page",))):
            runs = [first_packet(ear, folder, *more) for _ in range(RUNS)]
            took = [one for one, _ in runs]
            used = statistics.median(one for _, one in runs)
            fastest.append(statistics.median(took))
            start.append((title, f"{min(took):.2f}", f"{fastest[-1]:.2f}", f"{max(took):.2f}", f"{used:.2f}"))
        with InTerminal(*PLAY, *OUT, folder=folder) as show:
            show.shows("Ctrl-C ends")
            house = house_of(show.pid)
            assert house is not None
            end = time.monotonic() + SETTLED
            until(lambda: time.monotonic() > end, "the show has settled", SETTLED + 5)
            rows = [("show process", *megabytes(show.pid)), ("house process", *megabytes(house))]
            rows += [
                ("helper of shared memory", *megabytes(pid)) for pid, _ in children(show.pid) if pid != house
            ]
    head = ("command", "shortest s", "median s", "longest s", "processor s")
    table("Start: seconds from the command to its first packet", head, start, (f"of {RUNS} runs",))
    notes = (f"{SETTLED:g} s after the first picture", conditions)
    table("Memory of a show drawn in a terminal", ("process", "PSS MB", "peak MB"), rows, notes)
    goal("start to first frame", f"< {GOAL_S:g} s", f"{fastest[0]:.2f} s", "", fastest[0] < GOAL_S)
    show_mb, house_mb = (float(row[1]) for row in rows[:2])
    goal(
        "memory without textures or sound, show process",
        f"< {GOAL_MB:g} MB",
        f"{show_mb:.0f} MB",
        f"house process {house_mb:.0f} MB, together {sum(float(row[1]) for row in rows):.0f}",
        show_mb < GOAL_MB,
    )


if __name__ == "__main__":
    main()
