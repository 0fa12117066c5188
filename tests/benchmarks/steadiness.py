"""How evenly 40 packets a second leave, beside the `sacn` library's own sender and a plain sleep loop.

Each sender has a process of its own and sends to 127.0.0.42; ours plays the demo's song through the whole
program (`lampwright play`, its house process included). This process listens; the kernel stamps each packet
as it arrives (SO_TIMESTAMPNS), so that the listener's own waking does not count. Frames missed are counted by
the packets' own sequence numbers (E1.31 clause 6.2.5). Linux only.

All three run at once, or with `--one-after-another` each alone: then nobody disturbs, or is spared, another.
The library sends at a tick only what changed since the last, so its levels are set 100 times a second. The
sleep loop sends and then sleeps for 25 ms.

Run it by hand: `python -m tests.benchmarks.steadiness [SECONDS] [--one-after-another]`, ten minutes unless
given. Not part of the test run.
"""

from __future__ import annotations

import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.show import LAMPWRIGHT, SONG, boathouse, end, goal, machine, spread, table
from tests.benchmarks.wire_ear import PORT, Heard, WireEar

HOST, HZ = "127.0.0.42", 40
SENDERS = {1: "lampwright play", 2: "sacn library's sender", 3: "plain sleep loop"}
"""Universe -> who sends it."""
WARM_UP = 2.0
GOAL_PPM = 10.0


def send_with_library(seconds: float) -> None:
    """The `sacn` library at 40 frames a second."""
    import sacn

    sender = sacn.sACNsender(bind_address="127.0.0.1", bind_port=0, fps=HZ, universeDiscovery=False)
    sender.start()
    sender.activate_output(2)
    output = sender[2]
    assert output is not None
    output.destination = HOST
    end_at, number = time.monotonic() + seconds, 0
    while time.monotonic() < end_at:
        number += 1
        output.dmx_data = (number % 256,) * 512
        time.sleep(0.01)
    sender.stop()


def send_and_sleep(seconds: float) -> None:
    """A loop as one writes it first."""
    packet = bytearray(638)
    packet[113:115] = (3).to_bytes(2)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        end_at = time.monotonic() + seconds
        while time.monotonic() < end_at:
            packet[111] = (packet[111] + 1) % 256
            out.sendto(packet, (HOST, PORT))
            time.sleep(1 / HZ)


def sender(universe: int, seconds: float, folder: Path) -> subprocess.Popen[str]:
    """One of the three in a process of its own."""
    if universe == 1:
        args = [*LAMPWRIGHT, "play", "--midi-file", str(SONG), "--out", f"sacn:{HOST}/1"]
        args += ["--seconds", str(seconds)]
        return subprocess.Popen(args, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)
    word = "library" if universe == 2 else "loop"
    args = [sys.executable, "-m", "tests.benchmarks.steadiness", str(seconds), word]
    return subprocess.Popen(args, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)


def measure(seconds: float, together: bool) -> dict[int, Heard]:
    """Run all three for so long; what was heard of each."""
    whole = seconds + 2 * WARM_UP + 1.0
    turns = [list(SENDERS)] if together else [[universe] for universe in SENDERS]
    with tempfile.TemporaryDirectory() as name, WireEar(HOST) as ear:
        boathouse(Path(name))
        for turn in turns:
            running = {universe: sender(universe, whole, Path(name)) for universe in turn}
            try:
                for universe, process in running.items():
                    said = process.communicate(timeout=whole + 60)[0]
                    if universe == 1:
                        print(next(line for line in said.splitlines() if "left out" in line))
            finally:
                for process in running.values():
                    end(process)
    return ear.heard


def main(seconds: float, together: bool) -> None:
    """Print the table."""
    conditions = machine()
    heard = measure(seconds, together)
    rows = []
    tails: dict[int, float] = {}
    for universe, name in SENDERS.items():
        # Without the first and last two seconds: starting is measured elsewhere, and others start then.
        begin = heard[universe].at[0] + WARM_UP
        mine = heard[universe].cut(begin, begin + seconds)
        errors = mine.errors_ms(HZ)
        tails[universe] = float(np.quantile(errors, 0.99))
        ppm = mine.ppm(HZ)
        rows.append((name, len(mine.at), mine.missed(), f"{ppm:+.1f}", *spread(errors.tolist(), 3)))
        if universe == 1:
            ours = mine
    head = ("sender", "packets", "missed", "rate, ppm off", "error p50 ms", "p99 ms", "max ms")
    notes = ("error: how far the interval between two packets is from 25 ms", conditions)
    how = "all three at once" if together else "one after another"
    table(f"Steadiness: {HZ} packets a second for {seconds:g} s on loopback, {how}", head, rows, notes)
    here = f"40 Hz, one universe, {seconds:g} s, {how}"
    peer = f"sacn library {tails[2]:.3f} ms; sleep loop {tails[3]:.3f} ms"
    goal(
        f"interval error p99, {here}", "<= library / 3", f"{tails[1]:.3f} ms", peer, tails[1] <= tails[2] / 3
    )
    missed, ppm = ours.missed(), ours.ppm(HZ)
    goal(
        f"frames missed and mean rate, {here}",
        f"0; within {GOAL_PPM:g} ppm",
        f"{missed}; {ppm:+.1f} ppm",
        f"library {rows[1][2]}; {rows[1][3]} ppm",
        missed == 0 and abs(ppm) <= GOAL_PPM,
    )


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if not word.replace(".", "").isdigit()]
    numbers = [float(word) for word in sys.argv[1:] if word.replace(".", "").isdigit()]
    length = numbers[0] if numbers else 600.0
    if words in (["library"], ["loop"]):
        {"library": send_with_library, "loop": send_and_sleep}[words[0]](length)
    else:
        main(length, "--one-after-another" not in words)
