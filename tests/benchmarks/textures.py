"""Four textures over a rig, timed: `python -m tests.benchmarks.textures [SECONDS]`.

Issue 7's goals: over 512 lamps at 44 Hz under 5 % of a core, over 4,096 under 40 %; beside a plain loop over
the lamps in Python, and OpenCV's area resize (opencv-python-headless, if it is there), in the same run. A
share is processor time of this process over the time that the frames stand for.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections.abc import Callable

import numpy as np

from bridge.core.engine import Engine
from bridge.core.feels import Feels
from bridge.core.ports import PortNames
from bridge.core.texture_source import TextureSource
from bridge.parts.textures import TEXTURES, USUAL
from bridge.shell.pictures.layout import plan_for
from bridge.shell.pictures.sampled import Levels, _eyes, picture_of
from bridge.values.mapping import Mapping
from bridge.values.numbers import Floats
from bridge.values.rig import Lamp, Rig
from bridge.values.texture import Options, Places, Texture

HZ = 44.0
FOUR = ("wave", "rings", "drift", "drops")
GOALS = {512: 0.05, 4096: 0.40}


def rig_of(count: int) -> Rig:
    """Lamps in rows of 64, half a metre apart, 512 to a universe."""
    lamps = tuple(
        Lamp(f"l{n}", n, n // 512 + 1, n % 512 + 1, at=(n % 64 * 0.5, n // 64 * 0.5)) for n in range(count)
    )
    return Rig("bench", lamps, groups={"all": tuple(range(count))})


def share(step: Callable[[float], object], seconds: float) -> tuple[float, float]:
    """Share of a core that a step a frame takes, and the median milliseconds of one."""
    frames = max(20, int(seconds * HZ))
    for k in range(10):
        step(k / HZ)
    each = []
    begun = time.process_time()
    for k in range(10, 10 + frames):
        at = time.perf_counter()
        step(k / HZ)
        each.append(time.perf_counter() - at)
    return (time.process_time() - begun) / (frames / HZ), 1000 * statistics.median(each)


def plain_loop(places: Places) -> Callable[[float], Floats]:
    """One of the four, a plane wave, lamp by lamp in Python; times four it is what one would write first."""
    at = list(zip(places.x.tolist(), places.y.tolist(), strict=True))
    scale = USUAL["wave"].scale

    def step(t: float) -> Floats:
        out = [0.0] * len(at)
        for _ in FOUR:
            for n, (x, y) in enumerate(at):
                since = 0.3 * t - (x * math.cos(0.1) + y * math.sin(0.1)) / scale
                part = since - math.floor(since)
                out[n] = max(out[n], math.sin(part * math.pi) ** 2)
        return np.array(out)

    return step


def measure(count: int, seconds: float) -> bool:
    """Print what `count` lamps cost; True if the goal is met."""
    rig = rig_of(count)
    lamps = tuple(range(count))
    four = {name: Texture(name, name, lamps, hz=0.3, settings=USUAL[name], run=True) for name in FOUR}
    mapping = Mapping("bench", textures=four)
    source = TextureSource(rig, mapping, PortNames({}), Feels(120.0))
    levels: Floats = np.zeros(count)

    def mix(t: float) -> None:
        levels[:] = 0.0
        source.mix(levels, t)

    engine = Engine(rig, mapping)
    bare = Engine(Rig("bare", rig.lamps, groups=rig.groups, guards=dict.fromkeys(rig.guards, "off")), mapping)
    places = Places(
        np.array([lamp.at[0] for lamp in rig.lamps]), np.array([lamp.at[1] for lamp in rig.lamps])
    )
    print(f"\n{count} lamps, {HZ:g} frames a second")
    goal = GOALS[count]
    used, middle = share(mix, seconds)
    met = used < goal
    verdict = f"goal {100 * goal:g} %: {'met' if met else 'MISSED'}"
    print(f"  {'four textures, mixed':36} {100 * used:6.2f} % of a core  {middle:7.3f} ms  {verdict}")
    rows: list[tuple[str, Callable[[float], object]]] = [
        ("the engine with them, no guards", lambda t, engine=bare: engine.advance([], t)),
        ("the engine with them and guards", lambda t, engine=engine: engine.advance([], t)),
        ("plain loop over the lamps in Python", plain_loop(places)),
        *(alone(name, places) for name in FOUR),
        *pictures(rig),
    ]
    for name, step in rows:
        used, middle = share(step, seconds / 2)
        print(f"  {name:36} {100 * used:6.2f} % of a core  {middle:7.3f} ms")
    return met


def alone(name: str, places: Places) -> tuple[str, Callable[[float], object]]:
    """One generator by itself."""
    draw = TEXTURES[name](Options())
    return f"{name} alone", lambda t: draw(places, 0.3 * t, USUAL[name])


def pictures(rig: Rig) -> list[tuple[str, Callable[[float], object]]]:
    """A moved picture, and a frame of a film sampled for all lamps: ours beside OpenCV's area resize."""
    image = np.random.default_rng(1).integers(0, 256, (360, 640, 3), dtype=np.uint8)
    hung = list(rig.lamps)
    moved = picture_of(
        lambda rows: (image[n : n + rows] for n in range(0, 360, rows)),
        (640, 360),
        plan_for(hung, "stretch", "box", None, False, True),
    )
    texture = Texture("p", "still", tuple(range(len(hung))), hz=0.1, still=moved, run=True)  # type: ignore[arg-type]
    source = TextureSource(rig, Mapping("p", textures={"p": texture}), PortNames({}), Feels(120.0))
    levels: Floats = np.zeros(len(hung))
    plan = plan_for(hung, "stretch", "box", None, False, False)
    (eyes,), to_levels = _eyes(plan, (640, 360)), Levels(plan)
    rows: list[tuple[str, Callable[[float], object]]] = [
        ("a picture moved over the lamps", lambda t: source.mix(levels, t)),
        ("sampling a frame of 640 x 360", lambda _t: to_levels.of(eyes.of_pixels(image))),
    ]
    try:
        import cv2
    except ImportError:
        print("  (OpenCV is not installed, so its area resize is left out)")
        return rows
    size = (64, len(hung) // 64)
    # OpenCV averages the codes, or floats already decoded: the second is the like of ours.
    rows.append(
        ("OpenCV area resize of the codes", lambda _t: cv2.resize(image, size, interpolation=cv2.INTER_AREA))
    )
    table = (np.arange(256) / 255.0).astype(np.float32) ** 2.2
    rows.append(
        (
            "OpenCV, decoded to light first",
            lambda _t: cv2.resize(table[image], size, interpolation=cv2.INTER_AREA),
        )
    )
    return rows


def main() -> int:
    """Both sizes; 0 if the goals are met."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    met = [measure(count, seconds) for count in GOALS]
    return 0 if all(met) else 1


if __name__ == "__main__":
    sys.exit(main())
