"""The engine at the sizes that we promise: a full universe with everything on, and 64 universes, at 44 Hz.

512 lamps, 128 keys down and four textures; 32,768 lamps, 128 keys and one plain texture. 44 frames a second
is the most that ANSI E1.11 lets a full universe carry. All levels move all the time: keys with a decay of a
minute, textures that run. Guards: off; all three at `limit` (a supply that holds half of the lamps at
full, a flash count for every field of view, a heat limit for every lamp); and at work, where all keys go down
and up again five times a second, so that the flash guard must hold back. With `sent`, each frame also leaves
as one sACN packet a universe for 127.0.0.46, where a socket takes what it has room for. A share is processor
time of this process over the time that the frames stand for, so other programs show little.

Run it by hand: `python -m tests.benchmarks.engine_sizes [FRAMES] [--profile]`, 400 unless given. Not part of
the test run.
"""

from __future__ import annotations

import cProfile
import gc
import pstats
import socket
import sys
import time
from collections.abc import Callable
from dataclasses import replace

from bridge.core.engine import Engine
from bridge.parts.textures import USUAL
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.values.mapping import Feel, KeyRule, Mapping
from bridge.values.rig import Lamp, OutputSpec, Rig, Supply
from bridge.values.texture import Texture
from tests.benchmarks.show import goal, machine, spread, table
from tests.benchmarks.wire_ear import PORT

HOST, HZ, KEYS = "127.0.0.46", 44.0, 128
SLOW = Feel(attack=0.05, decay=60.0, sustain=0.2, release=0.5)
SIZES = {
    "512 lamps, 128 keys, 4 textures": (512, ("wave", "rings", "drift", "drops"), 0.08),
    "32768 lamps, 128 keys, 1 texture": (32768, ("wave",), 0.90),
}
ON = {"load": "limit", "flash": "limit", "heat": "limit"}


def rig_of(count: int) -> Rig:
    """Lamps half a metre apart in rows of 64, 512 to a universe."""
    lamps = tuple(
        Lamp(
            f"l{n}",
            n,
            n // 512 + 1,
            n % 512 + 1,
            at=(n % 64 * 0.5, n // 64 * 0.5),
            response="cie",
            floor=0.02,
            watts=8.0,
            supply="main",
            heat=(300.0, 60.0),
        )
        for n in range(count)
    )
    supply = Supply("main", 12.0, max(1.0, count * 8 / 12 / 2), 0.2)
    return Rig("bench", lamps, HZ, supplies=(supply,), groups={"all": tuple(range(count))}, guards=ON)


def mapping_of(count: int, textures: tuple[str, ...]) -> Mapping:
    """All lamps dealt out among 128 keys, and textures over all of them."""
    deal = tuple(tuple(range(note, count, KEYS)) for note in range(KEYS))
    lamps = tuple(range(count))
    moving = {name: Texture(name, name, lamps, hz=0.3, settings=USUAL[name], run=True) for name in textures}
    return Mapping("bench", keys=(KeyRule(tuple(range(KEYS)), deal, feel=SLOW),), textures=moving)


def rattle(k: int) -> list[Event]:
    """All keys down and up again five times a second."""
    place, t = k % 9, k / HZ
    if place == 0:
        return [NoteOn(t, "file", 1, note, 127) for note in range(KEYS)]
    return [NoteOff(t, "file", 1, note) for note in range(KEYS)] if place == 4 else []


def run(
    rig: Rig, mapping: Mapping, frames: int, send: Callable[[Frame], object] | None, work: bool = False
) -> tuple[list[float], float]:
    """Milliseconds of processor for each frame, and the share of a core at 44 Hz."""
    engine = Engine(rig, mapping)
    engine.advance([NoteOn(0.0, "file", 1, note, 64 + note // 2) for note in range(KEYS)], 0.0)
    took = []
    gc.collect()
    gc.disable()
    for k in range(1, frames + 1):
        begin = time.process_time()
        frame = engine.advance(rattle(k) if work else [], k / HZ)
        if send is not None:
            send(frame)
        took.append((time.process_time() - begin) * 1e3)
    gc.enable()
    took = took[min(40, frames // 2) :]
    return took, sum(took) / len(took) * HZ / 1e3


def drain(ear: socket.socket) -> int:
    """How many packets wait."""
    count = 0
    ear.setblocking(False)
    while True:
        try:
            ear.recv(2048)
        except BlockingIOError:
            return count
        count += 1


def main(frames: int, profile: bool) -> None:
    """Print the table."""
    conditions = machine()
    rows = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear:
        ear.bind((HOST, PORT))
        for what, (count, textures, most) in SIZES.items():
            on = rig_of(count)
            off = replace(on, guards=dict.fromkeys(ON, "off"))
            mapping = mapping_of(count, textures)
            quick = tuple(replace(rule, feel=Feel()) for rule in mapping.keys)
            spec = OutputSpec("sacn", sends=0, host=HOST, whole=True, discover=False)
            output = SacnOutput(spec, dict.fromkeys(on.universes, 512))
            output.open()
            output.send(Engine(on, mapping).advance([], 0.0))
            came = drain(ear)
            assert came == len(on.universes), f"{came} packets of {len(on.universes)} universes"
            for name, rig, send in (
                ("off", off, None),
                ("on", on, None),
                ("on, sent", on, output.send),
                ("at work, sent", on, output.send),
            ):
                work = name.startswith("at work")
                used = replace(mapping, keys=quick, textures={}) if work else mapping
                took, share = run(rig, used, frames, send, work)
                rows.append((what, name, *spread(took, 3), f"{100 * share:.1f} %"))
                if name.startswith("on"):
                    title = (
                        "engine" if send is None else f"engine and {len(on.universes)} sACN packets a frame"
                    )
                    goal(
                        f"{title}, {HZ:g} Hz: {what}, guards on",
                        f"< {100 * most:g} % of a core",
                        f"{100 * share:.1f} %",
                        f"a core: {1e3 / HZ:.1f} ms a frame",
                        share < most,
                    )
            output.close(None)
            drain(ear)
            if profile:
                engine = Engine(on, mapping)
                engine.advance([NoteOn(0.0, "file", 1, note, 64 + note // 2) for note in range(KEYS)], 0.0)
                watch = cProfile.Profile()
                watch.enable()
                for k in range(1, 201):
                    engine.advance([], k / HZ)
                watch.disable()
                print(f"\n{what}, 200 frames")
                pstats.Stats(watch).sort_stats("tottime").print_stats(18)
    head = ("rig", "guards", "p50 ms", "p99 ms", "max ms", "of a core at 44 Hz")
    table("Engine at size: processor time per frame", head, rows, (conditions,))


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    main(numbers[0] if numbers else 400, "--profile" in sys.argv)
