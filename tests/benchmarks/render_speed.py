"""How much faster than time `render` is: the demo's song over 24 lamps, 512 lamps, and the boathouse itself.

Run it by hand: `python -m tests.benchmarks.render_speed`. Not part of the test run.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from bridge.commands.loading import load, song, tail
from bridge.core.engine import Engine
from bridge.shell.csv_out import CsvOut
from bridge.shell.feeds import ListFeed
from bridge.shell.loop import offline
from tests.benchmarks.show import BOATHOUSE, SONG, machine, quiet, table


def inside(rig_path: Path, mapping_path: Path, out: Path) -> tuple[float, float]:
    """Seconds of music, and seconds from the first frame to the last row written."""
    rig, mapping, _ = load(rig_path, mapping_path)
    events, ends = song(SONG, mapping)
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
        quiet(["new", "small", "--columns", 6, "--rows", 4, "--yes"], folder)
        quiet(["new", "large", "--columns", 32, "--rows", 16, "--yes"], folder)
        for title, where in (
            ("24 lamps", folder / "small"),
            ("512 lamps", folder / "large"),
            ("boathouse, 31 lamps", BOATHOUSE),
        ):
            rig, mapping, out = where / "rig.yaml", where / "mapping.yaml", folder / "out.csv"
            music, took = min((inside(rig, mapping, out) for _ in range(3)), key=lambda pair: pair[1])
            begin = time.perf_counter()
            quiet(["render", "--rig", rig, "--mapping", mapping, "--midi-file", SONG, "--csv", out], folder)
            whole = time.perf_counter() - begin
            table_rows.append(
                (
                    title,
                    f"{music:.1f}",
                    f"{took:.2f}",
                    f"{music / took:.0f}",
                    f"{whole:.2f}",
                    f"{music / whole:.0f}",
                )
            )
    head = ("rig", "music s", "frames s", "times", "command s", "times")
    notes = (
        "frames: engine and CSV alone, the best of three; command: `lampwright render` from start to end",
        "goal: at least 100 times for 24 lamps",
        conditions,
    )
    table("Render: as a multiple of real time, guards on", head, table_rows, notes)


if __name__ == "__main__":
    main()
