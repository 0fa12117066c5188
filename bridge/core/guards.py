"""Knows: which guards a rig has and in which order they act, by the registry GUARDS.

Must never know: how a guard decides; where a drive came from.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import Protocol

import numpy as np

from bridge.parts.colours import linear
from bridge.parts.guard_flash import FlashGuard, is_saturated_red
from bridge.parts.guard_heat import HeatGuard
from bridge.parts.guard_load import LoadGuard
from bridge.values.numbers import Floats
from bridge.values.rig import Lamp, Rig


class Guard(Protocol):
    """A limit that protects people or hardware: `out = min(in, cap(memory))`, memory fed by `out` alone."""

    @property
    def settled(self) -> bool:
        """True if the same drive at any later time would pass as it did last."""

    @property
    def held(self) -> tuple[float, int]:
        """The largest share 0..1 of a lamp's drive held back now, and how often holding has begun."""

    def apply(self, drive: Floats, t: float) -> Floats:
        """The drive 0..1 of N lamps that may go out at `t`; never above `drive`."""


def amps_of(lamp: Lamp, volts: dict[str, float]) -> float:
    """Amps of a lamp at full drive: as the file says, else its watts over its supply's volts."""
    if lamp.amps:
        return lamp.amps
    supply = volts.get(lamp.supply, 0.0)
    return lamp.watts / supply if supply else 0.0


def _heat(rig: Rig, steps: Floats, mode: str) -> Guard:
    return HeatGuard([lamp.heat for lamp in rig.lamps], steps, mode)


def _load(rig: Rig, steps: Floats, mode: str) -> Guard:
    volts = {supply.name: supply.volts for supply in rig.supplies}
    names = [supply.name for supply in rig.supplies]
    boxes = [_box(rig, lamp) for lamp in rig.lamps]
    amps = [amps_of(lamp, volts) for lamp in rig.lamps]
    on_slot: dict[tuple[int, int], float] = defaultdict(float)
    for lamp, each in zip(rig.lamps, amps, strict=True):
        on_slot[lamp.universe, lamp.slot] += each
    # Lamps that share an output share what it may carry, each by its current.
    per_slot = [
        rig.decoders[box].amps_per_slot * each / (on_slot[lamp.universe, lamp.slot] or 1.0)
        if box >= 0
        else 0.0
        for lamp, box, each in zip(rig.lamps, boxes, amps, strict=True)
    ]
    return LoadGuard(
        np.array(amps),
        steps,
        [names.index(lamp.supply) if lamp.supply in names else -1 for lamp in rig.lamps],
        [supply.amps * (1.0 - supply.headroom) for supply in rig.supplies],
        boxes if rig.decoders else None,
        [decoder.amps or np.inf for decoder in rig.decoders],
        np.array([share or np.inf for share in per_slot]) if any(per_slot) else None,
        mode,
    )


def _box(rig: Rig, lamp: Lamp) -> int:
    """The decoder a lamp hangs on, -1 for none."""
    for number, box in enumerate(rig.decoders):
        if box.universe == lamp.universe and box.start <= lamp.slot < box.start + box.slots:
            return number
    return -1


def _flash(rig: Rig, steps: Floats, mode: str) -> Guard:
    # Watts stand for light only where every lamp gives them; beside unknown ones all count alike.
    known = all(lamp.watts > 0.0 for lamp in rig.lamps)
    weights = np.array([lamp.watts if known else 1.0 for lamp in rig.lamps])
    slots: dict[tuple[int, int], list[int]] = defaultdict(list)
    for lamp in rig.lamps:
        slots[lamp.universe, lamp.slot].append(lamp.index)
    return FlashGuard(
        np.array([lamp.at for lamp in rig.lamps]).reshape(-1, 2),
        weights,
        [is_saturated_red(*linear(lamp.colour)) for lamp in rig.lamps],
        steps,
        mode,
        rig.view_deg,
        rig.distance_m,
        [lamps for lamps in slots.values() if len(lamps) > 1],
    )


GUARDS: dict[str, Callable[[Rig, Floats, str], Guard]] = {"heat": _heat, "load": _load, "flash": _flash}
"""Word of the rig file -> factory of (rig, slot steps, mode); in the order in which they act."""


def build_guards(rig: Rig, steps: Floats) -> dict[str, Guard]:
    """The guards of a rig that are not off, in the order in which they act."""
    modes = {name: rig.guards.get(name, "limit") for name in GUARDS}
    return {name: GUARDS[name](rig, steps, mode) for name, mode in modes.items() if mode != "off"}
