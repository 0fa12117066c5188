"""Draws the gallery of the README, each of examples/textures in motion: `python examples/make_gallery.py`.

What needs hands is played by a few notes written here. All of it together stays under 1.5 MB.
"""

from __future__ import annotations

import sys
from pathlib import Path

from bridge.core.engine import Engine
from bridge.core.ports import FILE_PORT
from bridge.shell.draw import Film
from bridge.shell.feeds import ListFeed
from bridge.shell.files import read_mapping, read_rig
from bridge.shell.loop import offline
from bridge.values.events import Event, NoteOff, NoteOn

HERE = Path(__file__).parent
SECONDS = 5.0
RATE = 8.0
"""Pictures a second: enough for slow textures, at less than half the bytes of a smooth film."""

SIZE = (204, 142)

PLAYED: dict[str, list[tuple[float, float, int, int]]] = {
    "ripples": [(0.2, 0.5, 55, 110), (1.6, 0.5, 65, 90), (2.9, 0.5, 50, 120), (3.9, 0.5, 70, 100)],
    "fireflies": [(0.8, 2.0, note, 110) for note in (60, 64, 67)]
    + [(3.2, 1.5, note, 110) for note in (57, 60, 64)],
    "light_on_the_lake": [(0.4 * n, 0.8, 48 + (7 * n) % 24, 100) for n in range(14)],
    "pads_change_the_scene": [(0.0, 0.1, 36, 110), (2.0, 0.1, 37, 110), (4.0, 0.1, 38, 110)],
    "rain_on_the_roof": [(2.5, 1.8, 36, 120)],
    "whole_song": [(3.0, 1.0, 36, 120)],
}
"""Seconds, how long, note, velocity."""


def events(name: str) -> list[Event]:
    """What is played to an example."""
    out: list[Event] = []
    for start, length, note, velocity in PLAYED.get(name, []):
        out.append(NoteOn(start, FILE_PORT, 1, note, velocity))
        out.append(NoteOff(start + length, FILE_PORT, 1, note))
    return out


def draw(path: Path, folder: Path, seconds: float = SECONDS) -> Path:
    """Write the moving picture of one example."""
    rig, _ = read_rig(HERE / "boathouse" / "rig.yaml")
    mapping, _ = read_mapping(path, rig)
    out = folder / f"{path.stem}.gif"
    with Film(rig, out, SIZE) as film:
        frames = offline(Engine(rig, mapping), [ListFeed(events(path.stem))], RATE, int(seconds * RATE))
        for _, frame, _ in frames:
            film.add(frame)
    return out


def main() -> None:
    """Draw them all."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "gallery"
    folder.mkdir(parents=True, exist_ok=True)
    drawn = [draw(path, folder) for path in sorted((HERE / "textures").glob("*.yaml"))]
    print(f"{len(drawn)} pictures, {sum(path.stat().st_size for path in drawn) / 1000:.0f} kB, in {folder}")


if __name__ == "__main__":
    main()
