"""How evenly 40 packets a second leave, beside the `sacn` library's own sender and a plain sleep loop.

All three run at once, each in a process of its own, to 127.0.0.1; ours plays the demo's song through the
whole program (`lampwright play`, its house process included). A fourth process listens; the kernel stamps
each packet as it arrives (SO_TIMESTAMPNS), so that the listener's own waking does not count. Linux only.

The library sends at a tick only what changed since the last, so its levels are set 100 times a second. The
sleep loop sends and then sleeps for 25 ms.

Run it by hand: `python -m tests.benchmarks.steadiness [SECONDS]`. Not part of the test run.
"""

from __future__ import annotations

import json
import select
import socket
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.show import BOATHOUSE, LAMPWRIGHT, SONG, machine, spread, table

PORT, HZ = 5568, 40
TIMESTAMPNS = 35
"""SO_TIMESTAMPNS of Linux, which Python does not name."""
SENDERS = {1: "lampwright play", 2: "sacn library's sender", 3: "plain sleep loop"}
"""Universe -> who sends it."""
WARM_UP = 2.0


def listen(_seconds: float) -> None:
    """Until stdin ends; then print {universe: [nanoseconds of arrival]} as JSON."""
    stamps: dict[int, list[int]] = {}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear:
        ear.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
        ear.setsockopt(socket.SOL_SOCKET, TIMESTAMPNS, 1)
        ear.bind(("127.0.0.1", PORT))
        print("ready", flush=True)
        while True:
            ready, _, _ = select.select([ear, sys.stdin], [], [])
            if ear not in ready:
                break
            packet, extra, _, _ = ear.recvmsg(2048, 128)
            whole, nano = struct.unpack("qq", extra[0][2])
            stamps.setdefault(int.from_bytes(packet[113:115]), []).append(whole * 1_000_000_000 + nano)
    print(json.dumps(stamps), flush=True)


def send_with_library(seconds: float) -> None:
    """The `sacn` library at 40 frames a second."""
    import sacn

    sender = sacn.sACNsender(bind_address="127.0.0.1", bind_port=0, fps=HZ, universeDiscovery=False)
    sender.start()
    sender.activate_output(2)
    output = sender[2]
    assert output is not None
    output.destination = "127.0.0.1"
    end, number = time.monotonic() + seconds, 0
    while time.monotonic() < end:
        number += 1
        output.dmx_data = (number % 256,) * 512
        time.sleep(0.01)
    sender.stop()


def send_and_sleep(seconds: float) -> None:
    """A loop as one writes it first."""
    packet = bytearray(638)
    packet[113:115] = (3).to_bytes(2)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            out.sendto(packet, ("127.0.0.1", PORT))
            time.sleep(1 / HZ)


def part(name: str, seconds: float) -> subprocess.Popen[str]:
    """One of the functions above in a process of its own."""
    args = [sys.executable, "-m", "tests.benchmarks.steadiness", str(seconds), name]
    return subprocess.Popen(args, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def measure(seconds: float) -> dict[str, list[int]]:
    """Run all three for so long; the arrivals of each in nanoseconds."""
    whole = seconds + 2 * WARM_UP
    ear = part("listen", whole)
    assert ear.stdout is not None
    assert ear.stdout.readline() == "ready\n"
    with tempfile.TemporaryDirectory() as folder:
        for name in ("rig.yaml", "mapping.yaml"):
            Path(folder, name).write_bytes((BOATHOUSE / name).read_bytes())
        options = ["play", "--midi-file", str(SONG), "--out", "sacn:127.0.0.1/1", "--seconds", str(whole)]
        show = subprocess.Popen([*LAMPWRIGHT, *options], cwd=folder, stdout=subprocess.PIPE, text=True)
        others = [part("library", whole), part("loop", whole)]
        said = show.communicate()[0]
        for other in others:
            other.communicate()
    heard = ear.communicate()[0]
    print(next(line for line in said.splitlines() if "left out" in line))
    return json.loads(heard)  # type: ignore[no-any-return]


def main(seconds: float) -> None:
    """Print the table."""
    conditions = machine()
    arrivals = measure(seconds)
    rows = []
    for universe, name in SENDERS.items():
        at = np.array(arrivals[str(universe)], dtype=np.int64)
        # Without the first and last two seconds: starting is measured elsewhere, and others start then.
        at = at[(at >= at[0] + WARM_UP * 1e9) & (at <= at[0] + (WARM_UP + seconds) * 1e9)]
        gaps = np.diff(at) / 1e6
        rate = (len(at) - 1) / ((at[-1] - at[0]) / 1e9)
        errors = np.abs(gaps - 1000 / HZ)
        rows.append((name, len(at), f"{rate:.3f}", *spread(errors.tolist())))
    head = ("sender", "packets", "mean rate Hz", "error p50 ms", "p99 ms", "max ms")
    notes = ("error: how far the interval between two packets is from 25 ms", conditions)
    table(
        f"Steadiness: {HZ} packets a second for {seconds:g} s on loopback, all three at once",
        head,
        rows,
        notes,
    )


if __name__ == "__main__":
    length = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    if len(sys.argv) > 2:
        {"listen": listen, "library": send_with_library, "loop": send_and_sleep}[sys.argv[2]](length)
    else:
        main(length)
