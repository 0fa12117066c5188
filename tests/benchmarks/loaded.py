"""Steadiness where the machine is busy: a process for every core that never rests, and ten pages open.

`lampwright play` with the demo's song sends 40 packets a second to 127.0.0.43, once as it is started by
somebody who may have real-time priority, once by somebody who may not. Meanwhile two processes count as fast
as they can, and ten browsers look at the stage page (sockets of ours that see every picture, as a page does;
they share the cores with the show, as a browser on the same machine would). The kernel stamps the packets as
they arrive; missed frames are counted by sequence numbers, skipped ones by the show. Linux only.

Run it by hand: `python -m tests.benchmarks.loaded [SECONDS OF EACH]`, two minutes unless given. Not part of
the test run.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.pages import PAGES, part
from tests.benchmarks.show import (
    LAMPWRIGHT,
    SONG,
    boathouse,
    end,
    free_port,
    goal,
    machine,
    spread,
    table,
    without_priority,
)
from tests.benchmarks.wire_ear import Heard, WireEar

HOST, HZ, BUSY = "127.0.0.43", 40, 2
GOALS = {True: 1.0, False: 5.0}
"""With real-time priority or without -> most milliseconds of interval error, p99."""
BUSY_LOOP = "import os\nparent = os.getppid()\nwhile os.getppid() == parent:\n    sum(range(100000))\n"
"""Ends by itself if this process dies."""


def measure(seconds: float, priority: bool) -> tuple[Heard, str]:
    """One show under load: what was heard in so many seconds, and what the show said at its end."""
    port = free_port()
    with tempfile.TemporaryDirectory() as name, WireEar(HOST) as ear:
        boathouse(Path(name))
        args = [*LAMPWRIGHT, "play", "--midi-file", str(SONG), "--out", f"sacn:{HOST}/1"]
        args += ["--page-port", str(port), "--seconds", str(seconds + 120)]
        show = subprocess.Popen(
            args,
            cwd=name,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            text=True,
            preexec_fn=None if priority else without_priority,
        )
        busy: list[subprocess.Popen[str]] = []
        try:
            ear.first(1)
            time.sleep(4.0)  # until the page is served
            with part("look", port):
                for _ in range(BUSY):
                    busy.append(subprocess.Popen([sys.executable, "-c", BUSY_LOOP], text=True))
                time.sleep(2.0)
                begin = time.perf_counter()
                time.sleep(seconds)
                done = time.perf_counter()
                for one in busy:
                    one.kill()
                    one.wait()
        finally:
            for one in busy:
                one.kill()
            said = end(show)
        return ear.heard[1].cut(begin, done), said


def main(seconds: float) -> None:
    """Print the table."""
    conditions = machine()
    rows, notes = [], []
    for priority, most in GOALS.items():
        heard, said = measure(seconds, priority)
        errors = heard.errors_ms(HZ)
        name = "real-time priority" if priority else "without"
        rows.append(
            (name, len(heard.at), heard.missed(), f"{heard.ppm(HZ):+.1f}", *spread(errors.tolist(), 3))
        )
        line = next((line for line in said.splitlines() if "left out" in line), "")
        notes.append(f"{name}, from its start to its end: {line}")
        # A frame that the show leaves out sends no number: it shows as a gap of two periods.
        skipped = round((heard.at[-1] - heard.at[0]) * HZ) - (len(heard.at) - 1)
        p99 = float(np.quantile(errors, 0.99))
        goal(
            f"{BUSY} busy loops, {PAGES} pages, {seconds:g} s, {name}: interval error p99",
            f"< {most:g} ms",
            f"{p99:.3f} ms",
            "",
            p99 < most,
        )
        goal(
            f"{BUSY} busy loops, {PAGES} pages, {seconds:g} s, {name}: frames skipped",
            "0",
            f"{max(skipped, 0)}, {heard.missed()} lost",
            "",
            skipped <= 0 and heard.missed() == 0,
        )
    head = ("show", "packets", "missed", "rate, ppm off", "error p50 ms", "p99 ms", "max ms")
    title = f"Under load: {BUSY} busy loops on {os.cpu_count()} cores, {PAGES} pages, {seconds:g} s each"
    table(title, head, rows, (*notes, conditions))


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 120.0)
