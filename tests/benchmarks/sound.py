"""How much of a core the analysis of sound takes: `python tests/benchmarks/sound.py`.

48 kHz, two channels, a minute of noise with strokes, heard in hops of 10 ms as from an input.
"""

from __future__ import annotations

import time

import numpy as np

from bridge.shell.sound.ear import Ear
from bridge.values.sound import USUAL_HEARING, Hearing

RATE, SECONDS = 48000, 60
ALLOWED = 0.15
"""Share of a core."""

TEN = tuple(31.25 * 2**n * 1.41 for n in range(9))


def share(hearing: Hearing) -> tuple[float, float]:
    """Share of a core, and the longest hop in seconds."""
    chance = np.random.default_rng(1)
    sound = 0.05 * chance.standard_normal((RATE * SECONDS, 2))
    sound[:: RATE // 4] += 0.5
    ear = Ear(RATE, hearing, "noise")
    longest, begin = 0.0, time.process_time()
    for at in range(0, len(sound), ear.hop):
        before = time.perf_counter()
        ear.hear(sound[at : at + ear.hop])
        longest = max(longest, time.perf_counter() - before)
    return (time.process_time() - begin) / SECONDS, longest


if __name__ == "__main__":
    for name, hearing in (
        ("three bands", USUAL_HEARING),
        ("ten bands", Hearing(crossovers=TEN, bands=tuple(f"band {n}" for n in range(10)))),
    ):
        part, longest = share(hearing)
        verdict = "within" if part <= ALLOWED else "OVER"
        print(
            f"{name}: {100 * part:.1f} % of a core, {verdict} {ALLOWED:.0%}; "
            f"longest hop {1000 * longest:.1f} ms"
        )
