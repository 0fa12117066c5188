"""Knows: how a loudness becomes a level that looks right: attack and release, automatic gain, gate.

Must never know: filters, lamps, hops; how much time passed is handed in.

Everything is exact for a loudness that stands still between two calls, whatever time lies between them, so
that long and short hops agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from bridge.values.numbers import Floats


@dataclass(frozen=True, slots=True)
class Following:
    """How levels follow loudness.

    Args:
        attack, release: seconds in which a level has gone 63 % of its way up or down; 0 at once.
        gain: automatic gain: each band is measured against its own loudest of late.
        ceiling: decibels that automatic gain adds at most.
        gate: loudness, in decibels below full scale, under which a band is taken for silent.
        memory: seconds in which what counts as loudest falls by half.
    """

    attack: float = 0.005
    release: float = 0.15
    gain: bool = True
    ceiling: float = 40.0
    gate: float = -60.0
    memory: float = 8.0


USUAL = Following()
"""Quick up, slow down, as lamps want it (common practice)."""

APART = 10.0 ** (-24.0 / 20.0)
"""How far full level of a quiet band may lie under that of the loudest: 24 dB."""

OVERSHOOT = 0.02
"""Seconds in which the loudest of late rises: a single click does not dim a band for long."""


@dataclass(frozen=True, slots=True)
class Followed:
    """Where the levels of all bands are.

    Args:
        levels: 0..1. loudest: what full level stands for, as a loudness.
    """

    levels: Floats
    loudest: Floats


def start(bands: int, how: Following = USUAL) -> Followed:
    """Dark, nothing heard yet."""
    return Followed(np.zeros(bands), np.full(bands, _floor(how)))


def follow(state: Followed, loudness: Floats, dt: float, how: Following = USUAL) -> Followed:
    """The levels after `dt` seconds of this loudness.

    Args:
        loudness: root mean square of each band, 1 at most; what is not a number counts as silence.
    """
    loudness = np.nan_to_num(loudness, nan=0.0, posinf=1.0, neginf=0.0)
    open_ = loudness >= 10.0 ** (how.gate / 20.0)
    heard = np.where(open_, loudness, 0.0)
    if how.gain:
        fallen = np.where(open_, state.loudest * 0.5 ** (dt / how.memory), state.loudest)
        risen = state.loudest + (heard - state.loudest) * _share(dt, OVERSHOOT)
        loudest = np.where(heard > state.loudest, risen, np.maximum(fallen, heard))
        # A gain without a ceiling would turn the hiss between two songs into light; and what a filter lets
        # through of a neighbour's music is no music of its own.
        loudest = np.maximum(loudest, max(_floor(how), float(loudest.max(initial=0.0)) * APART))
        target = np.minimum(1.0, heard / np.maximum(loudest, 1e-12))
    else:
        loudest = state.loudest
        # A sine at full scale has a root mean square of 0.707: that is full.
        target = np.minimum(1.0, heard * math.sqrt(2.0))
    up, down = _share(dt, how.attack), _share(dt, how.release)
    share = np.where(target > state.levels, up, down)
    return Followed(state.levels + (target - state.levels) * share, loudest)


def _floor(how: Following) -> float:
    """The least that full level may stand for."""
    return float(10.0 ** (-how.ceiling / 20.0))


def _share(dt: float, seconds: float) -> float:
    """How much of a way is gone after `dt` where 63 % take `seconds`."""
    return 1.0 if seconds <= 0.0 else 1.0 - math.exp(-dt / seconds)
