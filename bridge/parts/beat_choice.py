"""Knows: which of two findings of the beats of a piece fits what is struck in it better.

Must never know: how beats are found, files, lamps.

A finding is good where much of what is struck falls on its beats, and where the music of a bar, three or four
beats, comes again in the next: a wrong tempo of 2:3 or 3:4 may well hit strokes, but its bars repeat nothing.
(That music repeats by the bar is how bars are found in sound, e.g. M. Gainza, "Automatic musical meter
detection", ICASSP 2009; the product of the two is ours, chosen on the songs of `tests/shell/sound`.)
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bridge.values.numbers import Floats

Beats = list[tuple[float, float]]
"""(second, beats a minute)."""

MARGIN = 1.25
"""How many times better another finding must be; where both are right they differ by a fifth."""

FEWEST = 12
"""Beats under which nothing can be said."""

NEAR = 0.03
"""Seconds by which a stroke may miss its beat."""

SHIFTS = np.arange(-0.06, 0.0601, 0.01)
"""Seconds by which a finding may be early or late throughout."""

CELLS = 12
"""Parts of a beat in which the music of two bars is compared: both halves and thirds of it fall on one."""

BARS = (3, 4)
"""Beats in a bar."""

AROUND = 4
"""Beats to each side from which the tempo at a beat is taken."""


def choose(struck: Floats, frame: float, ours: Beats, other: Sequence[float]) -> tuple[Beats, bool]:
    """Our beats, or another finding of them where it is clearly better.

    Args:
        struck: what was struck in each step of `frame` seconds, 0 or more.
        other: seconds, rising.

    Returns:
        The beats, and True if they are the other's, moved to where the strokes are.
    """
    moved = in_place(struck, frame, np.asarray(other, dtype=np.float64))
    mine = merit(struck, frame, np.array([at for at, _ in ours]))
    if merit(struck, frame, moved) <= MARGIN * mine:
        return ours, False
    return _with_tempo(moved), True


def merit(struck: Floats, frame: float, beats: Floats) -> float:
    """How well beats fit what is struck: 0 or more, for comparing two findings of one piece."""
    if len(beats) < FEWEST or not len(struck):
        return 0.0
    on = float(_near(struck, frame, beats).mean())
    again = max(_repeats(struck, frame, beats, bar) for bar in BARS)
    return on / float(np.median(np.diff(beats))) * max(0.0, again)


def in_place(struck: Floats, frame: float, beats: Floats) -> Floats:
    """The beats, all moved by what puts most strokes on them: finders differ in what they call the moment."""
    if not len(beats) or not len(struck):
        return beats
    smooth, steps = _smooth(struck), np.arange(len(struck))
    best = max(SHIFTS, key=lambda shift: float(np.interp((beats + shift) / frame, steps, smooth).mean()))
    moved: Floats = beats + best
    return moved[moved >= 0.0]


def _near(struck: Floats, frame: float, moments: Floats) -> Floats:
    """The hardest that is struck around each moment."""
    steps = round(NEAR / frame)
    at = np.round(moments / frame).astype(np.intp)
    around = np.clip(at[:, None] + np.arange(-steps, steps + 1), 0, len(struck) - 1)
    hardest: Floats = struck[around].max(axis=1)
    return hardest


def _repeats(struck: Floats, frame: float, beats: Floats, bar: int) -> float:
    """How alike each beat's music is to that one bar later: the correlation, at most 1."""
    smooth = _smooth(struck)
    cells = np.interp(np.arange(0, len(beats) - 1, 1.0 / CELLS), np.arange(len(beats)), beats)
    music = np.interp(cells / frame, np.arange(len(smooth)), smooth)
    music -= music.mean()
    now, then = music[: -bar * CELLS], music[bar * CELLS :]
    power = float(np.sqrt((now @ now) * (then @ then)))
    return float(now @ then) / power if power > 0.0 else 0.0


def _smooth(struck: Floats) -> Floats:
    """The same, each stroke as a bell of half its height at 20 ms to each side."""
    bell = np.hanning(9)[1:-1]
    smooth: Floats = np.convolve(struck, bell / bell.sum(), "full")[len(bell) // 2 :][: len(struck)]
    return smooth


def _with_tempo(beats: Floats) -> Beats:
    out = []
    for n, at in enumerate(beats):
        low, high = max(0, n - AROUND), min(len(beats) - 1, n + AROUND)
        out.append((float(at), 60.0 * (high - low) / float(beats[high] - beats[low])))
    return out
