"""How much faster than time `render` is: five minutes of song over 24 lamps, 512 lamps, and the boathouse.

The song is the demo's, again and again. Guards are off, and then all at `limit`. What counts is the time from
the first frame to the last row of the CSV; the whole command, its start included, stands beside it.

Run it by hand: `python -m tests.benchmarks.render_speed`. Not part of the test run.
"""

from __future__ import annotations

import tempfile
import time
from dataclasses import replace
from pathlib import Path

from bridge.commands.loading import load, song, tail
from bridge.core.engine import Engine
from bridge.shell.csv_out import CsvOut
from bridge.shell.feeds import ListFeed
from bridge.shell.loop import offline
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from tests.benchmarks.hour import long_song
from tests.benchmarks.show import BOATHOUSE, goal, machine, quiet, table

SECONDS = 300.0
GOALS = {"off": 500, "on": 200}
"""Guards off or on -> how many times faster than real time."""


def inside(rig: Rig, mapping: Mapping, music: Path, out: Path) -> tuple[float, float]:
    """Seconds of music, and seconds from the first frame to the last row written."""
    events, ends = song(music, mapping)
    length = ends + tail(mapping)
    engine = Engine(rig, mapping)
    begin = time.perf_counter()
    with CsvOut(rig, out) as rows:
        for _beat, frame, _events in offline(
            engine, [ListFeed(events)], rig.refresh_hz, int(length * rig.refresh_hz)
        ):
            rows.add(frame)
    return length, time.perf_counter() - begin


def main() -> None:
    """Print the table."""
    conditions = machine()
    table_rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        music_file, out = folder / "long.mid", folder / "out.csv"
        long_song(music_file, SECONDS)
        quiet(["new", "small", "--columns", 6, "--rows", 4, "--yes"], folder)
        quiet(["new", "large", "--columns", 32, "--rows", 16, "--yes"], folder)
        for title, where in (
            ("24 lamps", folder / "small"),
            ("512 lamps", folder / "large"),
            ("boathouse, 31 lamps", BOATHOUSE),
        ):
            rig_file, mapping_file = where / "rig.yaml", where / "mapping.yaml"
            rig, mapping, _ = load(rig_file, mapping_file)
            begin = time.perf_counter()
            files = ["--rig", rig_file, "--mapping", mapping_file, "--midi-file", music_file, "--csv", out]
            quiet(["render", *files], folder)
            whole = time.perf_counter() - begin
            for guards, word in (("off", "off"), ("on", "limit")):
                used = replace(rig, guards=dict.fromkeys(("load", "flash", "heat"), word))
                runs = [inside(used, mapping, music_file, out) for _ in range(3)]
                music, took = min(runs, key=lambda pair: pair[1])
                speed = music / took
                row = (title, guards, f"{music:.0f}", f"{took:.2f}", f"{speed:.0f}")
                table_rows.append(
                    (*row, *(("", "") if guards == "off" else (f"{whole:.2f}", f"{music / whole:.0f}")))
                )
                if title == "24 lamps":
                    goal(
                        f"render, 24 lamps, {music / 60:.1f} min of song, start apart, guards {guards}",
                        f">= {GOALS[guards]} times real time",
                        f"{speed:.0f} times",
                        "",
                        speed >= GOALS[guards],
                    )
    head = ("rig", "guards", "music s", "frames s", "times", "command s", "times")
    notes = (
        "frames: engine and CSV alone, the best of three; command: `lampwright render`, guards as in the rig",
        conditions,
    )
    table("Render: as a multiple of real time", head, table_rows, notes)


if __name__ == "__main__":
    main()
