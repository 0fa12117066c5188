"""Knows: what hangs in one place: the lights of an entry and its type, and how many slots they take.

Must never know: where a lamp hangs, its name, or which universe it is on.

The nearest word counts: the entry's own, else the part's, else the type's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bridge.shell.files.check import Item, check, entries
from bridge.shell.files.compound import is_colour
from bridge.shell.files.name_leaves import unfit
from bridge.shell.files.nodes import Table
from bridge.shell.files.report import Report
from bridge.shell.files.rig_model import HungEntry, LampType, Light, Part
from bridge.values.rig import Led, Points

Types = Mapping[str, Item[LampType] | None]
"""Lamp types by name; None for one that could not be read and has been reported."""


@dataclass(frozen=True, slots=True)
class Bulb:
    """One light of a place: `part` is empty for the only one; `offset` counts slots from the first, 0."""

    part: str
    offset: int
    at: tuple[float, float]
    bits: int
    colour: str
    response: str | Points
    floor: float
    ceiling: float
    rest: float
    watts: float
    amps: float
    heat: tuple[float, float] | None
    led: Led | None


def read_types(top: Table, report: Report) -> dict[str, Item[LampType] | None]:
    """The section `lamp_types`."""
    types: dict[str, Item[LampType] | None] = {}
    for name, node in entries(top, "lamp_types", report):
        item = check(LampType, node, report, "a lamp type")
        types[name.raw] = item if item and item.good("parts", "bits") else None
        parts = item.node.get("parts") if item else None
        for at in parts.keys_at.values() if isinstance(parts, Table) else ():
            if reason := unfit(at.raw):
                report.error(at, *reason)
    return types


def bulbs(entry: HungEntry, kind: LampType | None) -> tuple[Bulb, ...]:
    """The lights of a place, in the order of the type's parts."""
    parts = kind.parts if kind else None
    if not parts:
        return (_bulb("", None, entry, kind, 0),)
    out = []
    following = 0
    for name, part in parts.items():
        bulb = _bulb(name, part, entry, kind, following if part.slot is None else part.slot)
        following = bulb.offset + bulb.bits // 8
        out.append(bulb)
    return tuple(out)


def span(lights: tuple[Bulb, ...]) -> int:
    """Slots from the first to the last that a place takes."""
    return max(bulb.offset + bulb.bits // 8 for bulb in lights)


def _bulb(name: str, part: Part | None, entry: HungEntry, kind: LampType | None, offset: int) -> Bulb:
    layers: list[Light] = [layer for layer in (entry, part, kind) if layer is not None]
    heat = _nearest(layers, "heat", None)
    led = _nearest(layers, "led", None)
    watts, amps = _power(layers)
    return Bulb(
        part=name,
        offset=offset,
        at=part.at if part else (0.0, 0.0),
        bits=_nearest(layers, "bits", 8),
        colour=_colour(name, part, layers),
        response=_nearest(layers, "response", "linear"),
        floor=_nearest(layers, "floor", 0.0),
        ceiling=_nearest(layers, "ceiling", 1.0),
        rest=_nearest(layers, "rest", 0.0),
        watts=watts,
        amps=amps,
        heat=(heat.full_s, heat.rest_s) if heat else None,
        led=Led(led.drop_v, led.amps, led.in_series, led.strings) if led else None,
    )


def _nearest(layers: list[Light], key: str, default: Any) -> Any:
    return next((value for layer in layers if (value := getattr(layer, key)) is not None), default)


def _power(layers: list[Light]) -> tuple[float, float]:
    """Watts and amps by the nearest layer that says anything about them; LEDs say amps."""
    for layer in layers:
        if layer.watts is not None or layer.amps is not None:
            return layer.watts or 0.0, layer.amps or 0.0
        if layer.led is not None:
            return 0.0, layer.led.strings * layer.led.amps
    return 0.0, 0.0


def _colour(name: str, part: Part | None, layers: list[Light]) -> str:
    """A part's own colour, or that of its name, goes before the head's, or all would be alike."""
    own = part.colour if part else None
    if own is None and is_colour(name):
        own = name
    return own or str(_nearest(layers, "colour", "white"))
