"""Knows: the one way this project rounds, so that every machine rounds alike.

Must never know: what a number stands for.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def half_up(x: float) -> int:
    """The nearest whole number, a half upwards: 127.5 -> 128. For x >= 0."""
    return math.floor(x + 0.5)


def half_up_array(x: Floats) -> Floats:
    """`half_up` for every element; the result is still float64, whole numbers only."""
    out: Floats = np.floor(x + 0.5)
    return out
