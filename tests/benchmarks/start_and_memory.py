"""How long from Enter to the first frame on the wire, and how much memory the processes of a show take.

Memory is read from /proc while the demo's song plays in a terminal of its own; Linux only. PSS counts a page
that n processes share as one n-th; the peak is of the resident set.

Run it by hand: `python -m tests.benchmarks.start_and_memory`. Not part of the test run.
"""

from __future__ import annotations

import socket
import statistics
import tempfile
import time
from pathlib import Path

from tests.acceptance.programs import InTerminal, Piped, children, house_of, until
from tests.benchmarks.show import BOATHOUSE, SONG, machine, table

PLAY = ("play", "--rig", BOATHOUSE / "rig.yaml", "--mapping", BOATHOUSE / "mapping.yaml", "--midi-file", SONG)
OUT = ("--out", "sacn:127.0.0.1/1")
RUNS = 5
SETTLED = 20.0


def first_packet(ear: socket.socket, folder: Path) -> float:
    """Seconds from starting the command to the first packet."""
    ear.setblocking(False)
    try:
        while True:
            ear.recv(2048)
    except BlockingIOError:
        ear.settimeout(20.0)
    begin = time.perf_counter()
    with Piped(*PLAY, *OUT, folder=folder):
        ear.recv(2048)
        return time.perf_counter() - begin


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
        ear.bind(("127.0.0.1", 5568))
        took = [first_packet(ear, folder) for _ in range(RUNS)]
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
    start = [("play, boathouse", f"{statistics.median(took):.2f}", f"{max(took):.2f}")]
    table("Start: seconds from the command to its first packet", ("command", "median s", "longest s"), start)
    notes = (f"{SETTLED:g} s after the first picture", conditions)
    table("Memory of a show drawn in a terminal", ("process", "PSS MB", "peak MB"), rows, notes)


if __name__ == "__main__":
    main()
