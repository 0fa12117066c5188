"""Knows: how the levels of many voices become one level a lamp: highest, latest, solo.

Must never know: what a voice is, or who struck it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bridge.values.numbers import Floats

Indices = npt.NDArray[np.intp]

Part = tuple[Indices, float, bool, bool]
"""Lamps, level, `latest` with its gate open, `solo` with its gate open; in the order of strikes."""


def mix_voices(levels: Floats, parts: Sequence[Part], layered: bool) -> None:
    """Raise `levels` (N lamps, in place) to what the parts give.

    Args:
        layered: some rule says latest or solo, so that the order of strikes matters.
    """
    if layered:
        _mix_layers(levels, parts)
        return
    singles: list[int] = []
    values: list[float] = []
    sets: dict[int, tuple[Indices, float]] = {}
    for lamps, level, _, _ in parts:
        if len(lamps) == 1:
            singles.append(int(lamps[0]))
            values.append(level)
        elif level > sets.get(id(lamps), (lamps, 0.0))[1]:
            sets[id(lamps)] = (lamps, level)
    if singles:
        np.maximum.at(levels, singles, values)
    for lamps, level in sets.values():
        levels[lamps] = np.maximum(levels[lamps], level)


def _mix_layers(levels: Floats, parts: Sequence[Part]) -> None:
    """From the oldest strike on: `latest` replaces what was struck before it, others add by highest."""
    alone = any(solo for _, _, _, solo in parts)
    keys: Floats = np.zeros(len(levels))
    for lamps, level, latest, solo in parts:
        if alone and not solo:
            continue
        keys[lamps] = level if latest else np.maximum(keys[lamps], level)
    np.maximum(levels, keys, out=levels)
