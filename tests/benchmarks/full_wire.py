"""Sixteen MIDI ports at the full rate of a wire, 1,000 messages a second each: is one lost, a frame late?

31,250 baud, 10 bits a byte and 3 bytes a message make 1,042 messages a second (MIDI 1.0 Detailed
Specification, Hardware). A program of its own offers 16 ports on a JACK server of our own and sends to each,
every millisecond, a note-on or its note-off, as a keyboard with every key rattling would. `lampwright play
--record` listens to them all and plays 24 lamps to sACN. How many notes of each port arrived is counted in
the take; late frames are those that the take marks as late (5 ms and more) and those left out. Linux only;
needs jackd.

Run it by hand: `python -m tests.benchmarks.full_wire [SECONDS] [PORTS]`, 10 and 16 unless given. Not part of
the test run.
"""

from __future__ import annotations

import collections
import contextlib
import json
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import LATE_WORD
from bridge.values.events import NoteOff, NoteOn
from tests.benchmarks.show import LAMPWRIGHT, end, goal, machine, spread, table
from tests.benchmarks.wire_ear import WireEar
from tests.shell.jack import ALIVE, JACK, jack_server

HOST, HZ, RATE = "127.0.0.45", 40, 1000
CLIENT = "benchwire"
RIG = f"""\
rig: Benchmark
refresh_hz: {HZ}
grids: [{{name: g, columns: 6, rows: 4, at: [0, 0], spacing: [1, 1], slot: 1}}]
outputs: [{{kind: sacn, host: {HOST}, universe: 1}}]
guards: {{load: off, flash: off, heat: off}}
"""
MAPPING = """\
mapping: Benchmark
keys: [{notes: 0..127, lamps: all, spread: wrap}]
"""


def send(ports: int, seconds: float) -> None:
    """The keyboards: signs of life until told to begin; then a message a millisecond and port."""
    import rtmidi

    outs = []
    for number in range(ports):
        out = rtmidi.MidiOut(JACK, name=CLIENT)
        out.open_virtual_port(f"wire {number + 1:02}")
        outs.append(out)
    print("ready", flush=True)
    asked = threading.Thread(target=sys.stdin.readline)
    asked.start()
    while asked.is_alive():
        for out in outs:
            out.send_message(ALIVE)
        asked.join(0.05)
    late = []
    start = time.perf_counter()
    for turn in range(int(seconds * RATE)):
        left = start + turn / RATE - time.perf_counter()
        if left > 0:
            time.sleep(left)
        late.append(-left)
        message = [0x80 if turn % 2 else 0x90, turn // 2 % 128, 0 if turn % 2 else 100]
        for out in outs:
            out.send_message(message)
    took = time.perf_counter() - start
    print(json.dumps([int(seconds * RATE), took, max(late)]), flush=True)
    sys.stdin.read()
    for out in outs:
        out.close_port()
        out.delete()


def measure(seconds: float, ports: int, folder: Path) -> tuple[list[float], str, list[float], float]:
    """What the sender says, what the show says, interval errors (ms), share of a core of the show."""
    (folder / "rig.yaml").write_text(RIG)
    (folder / "mapping.yaml").write_text(MAPPING)
    command = [sys.executable, "-m", "tests.benchmarks.full_wire", str(seconds), str(ports), "send"]
    keys = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert keys.stdin is not None
    assert keys.stdout is not None
    with WireEar(HOST) as ear:
        show = None
        try:
            assert keys.stdout.readline() == "ready\n"
            args = [*LAMPWRIGHT, "play", "--no-page", "--record", "wire.take", "--seconds", "600"]
            for number in range(ports):
                args += ["--midi-in", f"wire {number + 1:02}"]
            show = subprocess.Popen(
                args, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
            )
            ear.first(1)
            time.sleep(4.0 + ports / 8)  # until every port is open
            before = used(show.pid)
            begin = time.perf_counter()
            keys.stdin.write("go\n")
            keys.stdin.flush()
            sender = json.loads(keys.stdout.readline())
            done = time.perf_counter()
            share = (used(show.pid) - before) / (done - begin)
            time.sleep(1.0)
        finally:
            said = end(show) if show is not None else ""
            keys.communicate(timeout=20)
    return sender, said, ear.heard[1].cut(begin, done).errors_ms(HZ).tolist(), share


def used(pid: int) -> float:
    """Processor seconds of a process so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / 100


def main(seconds: float, ports: int) -> None:
    """Print the table."""
    conditions = machine()
    what = f"{ports} ports at {RATE} messages a second each, {seconds:g} s"
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(jack_server())
        except pytest.skip.Exception as reason:
            print(f"{what}: not measured, {reason}")
            goal(what, "none lost, no frame late", "not measured", "", None)
            return
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        (each, took, behind), said, errors, share = measure(seconds, ports, folder)
        found: collections.Counter[str] = collections.Counter()
        with Take.open(folder / "wire.take") as take:
            for _k, _j, event in take.events():
                if isinstance(event, NoteOn | NoteOff):
                    found[event.port] += 1
            late = [float(remark.data) for remark in take.remarks() if remark.kind == LATE_WORD]
            gaps = len(take.check())
    lost = each * ports - sum(found.values())
    out = next((line for line in said.splitlines() if "left out" in line), "")
    rows = [(f"{ports}", each * ports, sum(found.values()), lost, len(late), *spread(errors, 3))]
    head = (
        "ports",
        "sent",
        "in the take",
        "lost",
        "late frames",
        "interval error p50 ms",
        "p99 ms",
        "max ms",
    )
    notes = (
        f"sent in {took:.2f} s, the sender itself at most {behind * 1e3:.1f} ms behind; "
        f"ports with all messages: {sum(1 for count in found.values() if count == each)}",
        f"the show: {100 * share:.0f} % of a core; {out}; take: {gaps} gaps",
        conditions,
    )
    table(f"The full wire: {what}", head, rows, notes)
    skipped = "none left out" not in out
    late_text = f"{len(late)} late (5 ms)" + (f", by {max(late):.1f} ms at most" if late else "")
    goal(
        f"{what}: messages lost, frames late",
        "0, 0",
        f"{lost} of {each * ports}; {late_text}{', some left out' if skipped else ''}",
        f"the wire's limit {31250 / 30:.0f}/s",
        lost == 0 and not late and not skipped,
    )
    assert np.isfinite(share)


if __name__ == "__main__":
    length = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 16
    if sys.argv[3:4] == ["send"]:
        send(count, length)
    else:
        main(length, count)
