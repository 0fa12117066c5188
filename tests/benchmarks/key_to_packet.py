"""From a key to the packet that lights its lamp: beside the time that MIDI itself takes, early and steady.

A JACK server of our own with a dummy sound card (48 kHz, periods of 128 frames, 2.7 ms) carries the keys. A
plain rtmidi listener in a process of its own hears the same keyboard: what it takes is the transport's time,
and is taken off key by key. `lampwright play` with 24 lamps sends sACN to 127.0.0.44, once steadily, and once
with `early: true` on the output. The kernel stamps the packets (CLOCK_REALTIME); keys and listener are
stamped by `time.perf_counter` (CLOCK_MONOTONIC), and stamps are brought over by the difference of both
clocks, read once a second to 0.1 microseconds.

Keys go down at moments of chance (a fixed seed), at least 60 ms after the last key went up, so that the line
is free. Guards are off, so that none holds a key back; a frame for 24 slots is sent as ever.
Linux only; needs jackd.

Run it by hand: `python -m tests.benchmarks.key_to_packet [KEYS OF EACH]`, 500 unless given. Not part of the
test run.
"""

from __future__ import annotations

import contextlib
import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.show import LAMPWRIGHT, end, goal, machine, spread, table
from tests.benchmarks.wire_ear import WireEar
from tests.shell.jack import ALIVE, Keyboard, jack_server

HOST, HZ, LAMPS, FIRST_NOTE = "127.0.0.44", 40, 24, 48
PERIOD_MS = 1000 / HZ
RIG = f"""\
rig: Benchmark
refresh_hz: {HZ}
grids: [{{name: g, columns: 6, rows: 4, at: [0, 0], spacing: [1, 1], slot: 1}}]
outputs: [{{kind: sacn, host: {HOST}, universe: 1, pad_to: {LAMPS}EARLY}}]
guards: {{load: off, flash: off, heat: off}}
"""
MAPPING = f"""\
mapping: Benchmark
inputs: {{keys: benchkeys}}
keys: [{{notes: {FIRST_NOTE}..{FIRST_NOTE + LAMPS - 1}, from: keys, lamps: all, spread: each}}]
"""


def listen(name: str) -> None:
    """A plain listener: stamps each note-on in rtmidi's callback; prints [[note, moment]] once stdin ends."""
    import rtmidi

    heard: list[tuple[int, float]] = []
    alive = []

    def take(message: tuple[list[int], float], _data: object) -> None:
        at = time.perf_counter()
        if message[0][0] == 0x90:
            heard.append((message[0][1], at))
        elif not alive:
            alive.append(True)
            print("ready", flush=True)

    port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="bench listener")
    port.ignore_types(active_sense=False)
    port.set_callback(take)
    place = next(n for n, text in enumerate(port.get_ports()) if name in text)
    port.open_port(place, "in")
    sys.stdin.read()
    port.close_port()
    port.delete()
    print(json.dumps(heard), flush=True)


def measure(early: bool, keys: int) -> tuple[list[float], list[float], int]:
    """Milliseconds from each key to its packet, to the plain listener, and keys that lit nothing.

    Raises:
        RuntimeError: the show did not begin, with what it said.
    """
    came: dict[int, float] = {}

    def told(_universe: int, at: float, slots: bytes) -> None:
        for place, value in enumerate(slots[:LAMPS]):
            if value and place not in came:
                came[place] = at

    sent: list[tuple[int, float]] = []
    packets: list[float | None] = []
    with (
        tempfile.TemporaryDirectory() as name,
        WireEar(HOST, told=told) as ear,
        Keyboard("benchkeys", "out") as keyboard,
    ):
        Path(name, "rig.yaml").write_text(RIG.replace("EARLY", ", early: true" if early else ""))
        Path(name, "mapping.yaml").write_text(MAPPING)
        plain = subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.key_to_packet", "listen", "benchkeys"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        args = [*LAMPWRIGHT, "play", "--midi-in", "benchkeys", "--no-page", "--seconds", "600"]
        show = subprocess.Popen(
            args,
            cwd=name,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert plain.stdin is not None
        assert plain.stdout is not None
        try:
            while show.poll() is None and not ear.heard:
                time.sleep(0.05)
            if show.poll() is not None:
                raise RuntimeError(show.communicate()[0])
            until = time.monotonic() + 20
            while True:  # until both hear the keyboard
                keyboard.play(ALIVE)
                keyboard.play([0x90, FIRST_NOTE, 100], [0x80, FIRST_NOTE, 0])
                time.sleep(0.1)
                if came:
                    break
                if time.monotonic() > until:
                    raise RuntimeError("the keyboard is not heard")
            assert plain.stdout.readline() == "ready\n"
            time.sleep(1.0)
            chance = random.Random(1)
            for n in range(keys):
                place = n % LAMPS
                came.pop(place, None)
                note = FIRST_NOTE + place
                before = keyboard.play([0x90, note, 100])
                sent.append((note, before))
                due = time.perf_counter() + 0.050
                while time.perf_counter() < due or (place not in came and time.perf_counter() < due + 0.2):
                    time.sleep(0.005)
                packets.append(came.get(place))
                keyboard.play([0x80, note, 0])
                time.sleep(0.060 + chance.uniform(0.0, 2 / HZ))
        finally:
            heard = json.loads(plain.communicate()[0] or "[]")
            end(show)
    mine, transport, lost = [], [], 0
    heard = heard[-len(sent) :]
    for (note, before), packet, (heard_note, at) in zip(sent, packets, heard, strict=True):
        assert note == heard_note, "the listener missed a key"
        if packet is None:
            lost += 1
            continue
        mine.append((packet - before) * 1e3)
        transport.append((at - before) * 1e3)
    return mine, transport, lost


def main(keys: int) -> None:
    """Print the table."""
    conditions = machine()
    rows, notes = [], []
    early_what = f"key to packet, early, {LAMPS} slots, beyond the transport"
    steady_what = "key to packet, steady, beyond the transport: the longest"
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(jack_server())
        except pytest.skip.Exception as reason:
            print(f"key to packet: not measured, {reason}")
            goal(early_what, "p50 < 0.5 ms, p99 < 2 ms", "not measured", "", None)
            goal(steady_what, f"<= {PERIOD_MS + 1:g} ms", "not measured", "", None)
            return
        for early in (False, True):
            name = "early" if early else "steady"
            try:
                mine, transport, lost = measure(early, keys)
            except RuntimeError as error:
                print(f"key to packet, {name}: not measured: {str(error).strip()[:300]}")
                goal(early_what if early else steady_what, "", "not measured", "", None)
                continue
            beyond = [a - b for a, b in zip(mine, transport, strict=True)]
            rows.append((f"{name}: key to packet", len(mine), *spread(mine, 3)))
            rows.append((f"{name}: MIDI transport alone", len(mine), *spread(transport, 3)))
            rows.append((f"{name}: beyond it", len(mine), *spread(beyond, 3)))
            if lost:
                notes.append(f"{name}: {lost} keys lit nothing within a quarter of a second")
            p50, p99 = np.quantile(beyond, [0.5, 0.99])
            limit = f"transport p50 {np.median(transport):.2f} ms"
            if early:
                met = p50 < 0.5 and p99 < 2.0 and not lost
                goal(early_what, "p50 < 0.5 ms, p99 < 2 ms", f"p50 {p50:.3f}, p99 {p99:.3f} ms", limit, met)
            else:
                worst = max(beyond)
                met = worst <= PERIOD_MS + 1.0 and not lost
                goal(steady_what, f"<= {PERIOD_MS + 1:g} ms", f"{worst:.3f} ms", limit, met)
    head = ("way", "keys", "p50 ms", "p99 ms", "max ms")
    table(f"From a key to its packet: {LAMPS} lamps, {HZ} Hz, over JACK", head, rows, (*notes, conditions))


if __name__ == "__main__":
    if sys.argv[1:2] == ["listen"]:
        listen(sys.argv[2])
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
