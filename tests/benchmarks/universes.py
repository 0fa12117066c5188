"""What 64 universes of sACN cost: packets laid out, handed to the system, and the share of a core at 44 Hz.

Run it by hand: `python -m tests.benchmarks.universes`; ten seconds; it sends to a socket of its own here.
"""

from __future__ import annotations

import socket
import time

import numpy as np

from bridge.shell.outputs import OutputWorker
from bridge.shell.outputs.sacn_source import SacnSource
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire import sacn

UNIVERSES = tuple(range(1, 65))
HZ = 44.0
TURNS = 300


def microseconds(times: list[float]) -> str:
    """Median and 99 % of some durations."""
    found = sorted(times)
    half, most = found[len(found) // 2] * 1e6, found[-len(found) // 100] * 1e6
    return f"{half:.0f} us (half of them at most), {most:.0f} us (99 %)"


def main() -> None:
    """Measure and print."""
    end = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    end.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
    end.bind(("127.0.0.1", 0))
    port = end.getsockname()[1]
    chance = np.random.default_rng(1)
    frames = [
        Frame(k / HZ, UNIVERSES, chance.integers(0, 256, (len(UNIVERSES), SLOTS), dtype=np.uint8))
        for k in range(8)
    ]
    spec = OutputSpec("sacn", host="127.0.0.1", whole=True, sync=7962)
    tops = dict.fromkeys(UNIVERSES, SLOTS)
    one = [sacn.SacnPackets(bytes(16), "x", universe) for universe in UNIVERSES]
    output = SacnOutput(spec, tops, port, SacnSource(bytes(16)))
    output.open()
    lay, single, send = [], [], []
    end.setblocking(False)
    for k in range(TURNS):
        frame = frames[k % 8]
        began = time.perf_counter()
        output._picture.data(output._rows.of(frame), 0)
        lay.append(time.perf_counter() - began)
        began = time.perf_counter()
        for packets, universe in zip(one, UNIVERSES, strict=True):
            packets.data(frame.universe(universe), 0)
        single.append(time.perf_counter() - began)
        began = time.perf_counter()
        output.send(frame)
        send.append(time.perf_counter() - began)
        for _ in range(65):
            end.recv(2048)
    output.close(None)
    print("64 universes of 512 slots, sACN with synchronization, to 127.0.0.1")
    print(f"  packets laid out as one array: {microseconds(lay)}; one by one: {microseconds(single)}")
    print(f"  laid out and handed over (65 packets): {microseconds(send)}")
    # Nobody reads from here on: the system drops what the socket has no room for, at no cost to the sender.
    worker = OutputWorker(SacnOutput(spec, tops, port, SacnSource(bytes(16))), spec)
    before, began = time.process_time(), time.perf_counter()
    for k in range(int(5 * HZ)):
        worker.post(frames[k % 8])
        time.sleep(max(0.0, began + (k + 1) / HZ - time.perf_counter()))
    share = (time.process_time() - before) / (time.perf_counter() - began)
    print(
        f"  at {HZ:g} Hz through its worker: {share:.1%} of a core, "
        f"{worker.state().sent} pictures of {int(5 * HZ)}"
    )
    worker.close(hold=True)
    end.close()


if __name__ == "__main__":
    main()
