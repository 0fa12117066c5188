"""Knows: how hard a key was struck (velocity 0..127) -> level 0..1, by the registry CURVES.

Must never know: time, lamps, or which rule asks.

Sources: `square` is the law General MIDI level 1 recommends, 40*log10(v/127) dB of light power
against velocity; `cie` is CIE 1976 lightness (CIE 15:2004), so that equal steps of touch look
like equal steps of light; `soft` and `hard` are our own: a root and a cube.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

Curve = Callable[[float], float]
"""From strength 0..1 (velocity / 127) to level 0..1."""


def _cie(x: float) -> float:
    lightness = 100.0 * x
    if lightness <= 8.0:
        return lightness * 27.0 / 24389.0
    return ((lightness + 16.0) / 116.0) ** 3


CURVES: dict[str, Curve] = {
    "linear": lambda x: x,
    "square": lambda x: x * x,
    "cie": _cie,
    "soft": math.sqrt,
    "hard": lambda x: x * x * x,
    "full": lambda x: 1.0 if x > 0.0 else 0.0,
}


def through_points(points: Sequence[tuple[float, float]]) -> Curve:
    """A smooth curve through points that never falls and never overshoots.

    Monotone cubic interpolation after F. N. Fritsch and J. Butland, "A method for constructing
    local monotone piecewise cubic interpolants" (SIAM J. Sci. Stat. Comput. 5, 1984).

    Args:
        points: (velocity 0..127, level 0..1), velocities rising, levels never falling. The ends
            (0, 0) and (127, 1) are added where they are missing.

    Raises:
        ValueError: the points fall, or their velocities do not rise.
    """
    xs = [v / 127.0 for v, _ in points]
    ys = [float(level) for _, level in points]
    if not xs or xs[0] > 0.0:
        xs.insert(0, 0.0)
        ys.insert(0, 0.0)
    if xs[-1] < 1.0:
        xs.append(1.0)
        ys.append(1.0)
    if any(b <= a for a, b in itertools.pairwise(xs)):
        raise ValueError("the velocities of a curve must rise")
    if any(b < a for a, b in itertools.pairwise(ys)):
        raise ValueError("the levels of a curve must never fall")
    slopes = _slopes(xs, ys)

    def curve(x: float) -> float:
        i = 0
        while i < len(xs) - 2 and x >= xs[i + 1]:
            i += 1
        h = xs[i + 1] - xs[i]
        s = (x - xs[i]) / h
        a = ys[i] * (1 + 2 * s) * (1 - s) ** 2 + ys[i + 1] * s * s * (3 - 2 * s)
        return a + h * s * (1 - s) * (slopes[i] * (1 - s) - slopes[i + 1] * s)

    return curve


def _slopes(xs: list[float], ys: list[float]) -> list[float]:
    """The slope at each point: weighted harmonic means inside, a one-sided parabola at the ends."""
    h = [b - a for a, b in itertools.pairwise(xs)]
    d = [(b - a) / w for a, b, w in zip(ys, ys[1:], h, strict=False)]
    if len(d) == 1:
        return [d[0], d[0]]
    inner = []
    for i in range(1, len(xs) - 1):
        if d[i - 1] * d[i] <= 0.0:
            inner.append(0.0)
            continue
        left, right = 2 * h[i] + h[i - 1], h[i] + 2 * h[i - 1]
        inner.append((left + right) / (left / d[i - 1] + right / d[i]))
    return [_end(h[0], h[1], d[0], d[1]), *inner, _end(h[-1], h[-2], d[-1], d[-2])]


def _end(h0: float, h1: float, d0: float, d1: float) -> float:
    """The slope at an end, kept from overshooting."""
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if slope * d0 <= 0.0:
        return 0.0
    if d0 * d1 < 0.0 and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope


def velocity_table(
    curve: str | Sequence[tuple[float, float]], between: tuple[float, float] = (0.0, 1.0)
) -> tuple[float, ...]:
    """128 levels, one for each velocity: entry 0 is 0; what is over 0 lies from `between`'s low to its high.

    Raises:
        KeyError: no curve has that name.
        ValueError: the points are not a curve.
    """
    law = CURVES[curve] if isinstance(curve, str) else through_points(curve)
    low, high = between
    shaped = [min(1.0, max(0.0, law(v / 127.0))) for v in range(128)]
    return (0.0, *(low + (high - low) * y if y > 0.0 else 0.0 for y in shaped[1:]))
