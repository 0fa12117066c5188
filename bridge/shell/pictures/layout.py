"""Knows: how a picture is laid over lamps: where in it each lamp looks, and how far around.

Must never know: files, formats, what is in a picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.parts.colours import share
from bridge.parts.responses import response_table
from bridge.values.numbers import Floats
from bridge.values.rig import Lamp, Points

FITS = ("fill", "fit", "stretch")
AREAS = ("box", "gauss")

LONE = 0.5
"""Metres around a lamp that has no neighbour."""

Share = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Plan:
    """How a picture is to be seen by lamps; the same plan and the same file give the same film.

    Args:
        at: metres of each lamp, x to the right, y up.
        shares: how much linear red, green and blue count for each lamp.
        responses: each lamp's response, so that light becomes the level that gives it.
        fit: fill (covers the outline of the lamps, cut where it is larger), fit (all of it within the
            outline) or stretch (as wide and as high as the outline, out of proportion).
        area: box or gauss. radius: metres: half a box's side, or the Gaussian's standard deviation.
        blend: straight lines between frames.
        moves: a single picture is to be moved over the lamps.
    """

    at: tuple[tuple[float, float], ...]
    shares: tuple[Share, ...]
    responses: tuple[str | Points, ...]
    fit: str = "fill"
    area: str = "box"
    radius: float = LONE
    blend: bool = False
    moves: bool = False


def plan_for(
    lamps: Sequence[Lamp], fit: str, area: str, radius: float | None, blend: bool, moves: bool
) -> Plan:
    """The plan for some lamps; without a radius, half the usual distance from a lamp to the next."""
    at = tuple(lamp.at for lamp in lamps)
    shares = tuple(share(lamp.colour) for lamp in lamps)
    responses = tuple(lamp.response for lamp in lamps)
    return Plan(at, shares, responses, fit, area, half_gap(at) if radius is None else radius, blend, moves)


def half_gap(at: Sequence[tuple[float, float]]) -> float:
    """Half the median distance in metres from a place to the nearest other."""
    spots = np.unique(np.array(at, dtype=np.float64).reshape(-1, 2), axis=0)
    if len(spots) < 2:
        return LONE
    nearest = []
    for number, spot in enumerate(spots):
        far = np.hypot(spots[:, 0] - spot[0], spots[:, 1] - spot[1])
        far[number] = np.inf
        nearest.append(far.min())
    return float(np.median(nearest)) / 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A plan over a picture of some size: pixels of each lamp's middle, (N, 2), and the radius each way."""

    middles: Floats
    radius: tuple[float, float]


def lay(plan: Plan, size: tuple[int, int]) -> Laid:
    """Lay a picture of `size` (width, height) over the outline of the lamps and a radius around it."""
    spots = np.array(plan.at, dtype=np.float64).reshape(-1, 2)
    margin = max(plan.radius, 1e-6)
    low, high = spots.min(axis=0) - margin, spots.max(axis=0) + margin
    wide, tall = (float(value) for value in high - low)
    across, down = size[0] / wide, size[1] / tall
    if plan.fit != "stretch":
        across = down = min(across, down) if plan.fit == "fill" else max(across, down)
    middle = (low + high) / 2.0
    x = size[0] / 2.0 + (spots[:, 0] - middle[0]) * across
    y = size[1] / 2.0 - (spots[:, 1] - middle[1]) * down
    return Laid(np.stack([x, y], axis=1), (plan.radius * across, plan.radius * down))


LEVELS: Floats = np.linspace(0.0, 1.0, 4097)


def level_tables(responses: Sequence[str | Points]) -> tuple[Floats, np.typing.NDArray[np.intp]]:
    """For each response there is, the levels that give light 0..1 in 4096 steps; and the row of each lamp."""
    kinds = list(dict.fromkeys(responses))
    # A response may stand still: then the lowest level that gives the light is as good as any.
    rows = [np.interp(LEVELS, *_rising(response_table(kind))) for kind in kinds]
    return np.array(rows), np.array([kinds.index(kind) for kind in responses], dtype=np.intp)


def _rising(drives: Floats) -> tuple[Floats, Floats]:
    keep = np.concatenate([[True], np.diff(np.maximum.accumulate(drives)) > 0.0])
    return drives[keep], LEVELS[keep]
