"""Knows: small rigs whose light is an exact fraction, and the reference counter to judge them by.

Must never know: the guard's own way of counting.
"""

from __future__ import annotations

import importlib.util
import math
from fractions import Fraction
from types import ModuleType

import numpy as np

from bridge.parts.guard_flash import FlashGuard
from bridge.values.numbers import half_up_array
from tests.reference_rows import FOLDER


def counter(step: float, dark: float) -> ModuleType:
    """The reference counter, with its own thresholds or those of red."""
    spec = importlib.util.spec_from_file_location("flash_count", FOLDER / "flash_count.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.STEP, module.DARK = step, dark  # type: ignore[attr-defined]
    return module


GENERAL = counter(0.10, 0.80)
RED = counter(20 / 320, math.inf)
RADIUS = 5.0 * math.tan(math.radians(5.0))

Frames = list[tuple[float, list[int]]]
Series = list[tuple[float, Fraction]]


class Rig:
    """Some lamps with whole weights, so that their light is an exact fraction."""

    def __init__(self, at: list[tuple[float, float]], weights: list[int], red: list[bool], steps: int = 255):
        self.at, self.weights, self.red, self.steps = at, weights, red, steps
        sets = {frozenset(range(len(at)))}
        for x, y in at:
            sets.add(frozenset(i for i, (u, v) in enumerate(at) if math.hypot(u - x, v - y) <= RADIUS + 1e-6))
        self.parts: list[tuple[ModuleType, list[int], int]] = []
        for lamps in sets:
            total = sum(weights[i] for i in lamps)
            self.parts.append((GENERAL, sorted(lamps), total))
            self.parts.append((RED, sorted(i for i in lamps if red[i]), total))

    def guard(self, mode: str = "limit") -> FlashGuard:
        n = len(self.at)
        return FlashGuard(
            np.array(self.at), np.array(self.weights, float), self.red, np.full(n, self.steps), mode
        )

    def play(self, frames: Frames, guard: FlashGuard | None = None) -> Frames:
        guard = guard or self.guard()
        out = []
        for t, values in frames:
            got = guard.apply(np.array(values, dtype=np.float64) / self.steps, t)
            out.append((t, [int(v) for v in half_up_array(got * self.steps)]))
        return out

    def light(self, frames: Frames) -> list[tuple[ModuleType, Series]]:
        """For each part its counter and its light, dark before the first frame."""
        out = []
        for count, lamps, total in self.parts:
            series: Series = [(frames[0][0], Fraction(0))]
            series += [
                (t, Fraction(sum(self.weights[i] * v[i] for i in lamps), total * self.steps))
                for t, v in frames
            ]
            out.append((count, series))
        return out

    def worst(self, frames: Frames) -> int:
        return max(count.worst_second(series)[1] for count, series in self.light(frames))

    def keeps_three(self, frames: Frames) -> bool:
        """True if in no part a rise reaches a step less than a second after the peak of the third before."""
        for count, series in self.light(frames):
            peaks: list[float] = []
            crossings: list[float] = []
            marks = count.transitions(series)
            for peak, low, high in marks:
                if high > low:
                    first = min(
                        t
                        for t, light in series
                        if t <= peak and light - low >= count.STEP - 1e-8 and t >= start_of(series, low, peak)
                    )
                    peaks.append(peak)
                    crossings.append(first)
            pairs = zip(peaks, crossings[3:], strict=False)
            if any(crossing < peak + 1.0 - 1e-9 for peak, crossing in pairs):
                return False
        return True


def start_of(series: Series, low: Fraction, peak: float) -> float:
    """The last time before `peak` at which the light was at the valley `low`."""
    return max((t for t, light in series if t < peak and light == low), default=-math.inf)


def line(n: int, spacing: float = 1.2) -> Rig:
    return Rig([(spacing * i, 0.0) for i in range(n)], [1] * n, [False] * n)
