"""Knows: what in a rig asks for more current or volts than there is, told where it is written.

Must never know: how lamps and boxes are read, or how a sum is shown in full.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from math import fsum

from bridge.core.guards import amps_of
from bridge.shell.files.nodes import Table
from bridge.shell.files.report import Placed, Report, listed, quote
from bridge.shell.files.rig_wiring import Boxes
from bridge.values.rig import Lamp, Supply

_HAIR = 1.0 + 1e-9
"""A sum of floats is off in its last digits."""


def check_supplies(
    top: Table, supplies: Mapping[str, Supply | None], lamps: Sequence[Lamp], report: Report
) -> None:
    """Tell of supplies that cannot give what hangs on them.

    Drive is guarded as an average; but all lamps in the on part of their cycle at once draw what they draw at
    full, and a supply may switch off or sag on that, whatever a program does.
    """
    section = top.get("supplies")
    draws: dict[str, list[float]] = defaultdict(list)
    volts = _volts(supplies)
    for lamp in lamps:
        draws[lamp.supply].append(amps_of(lamp, volts))
    for supply in supplies.values():
        if supply is None or not isinstance(section, Table):
            continue
        total = fsum(draws[supply.name])
        if total > supply.amps * _HAIR:
            node = section[supply.name]
            place = node.place("amps") if isinstance(node, Table) else node
            what = (
                f"supply {quote(supply.name)} gives {supply.amps:g} A, and its lamps draw {total:.4g} A "
                f"when all are in the on part of their cycle at once"
            )
            report.warn(place, what, "the guard keeps the average; divide the lamps, or take a larger supply")


def check_outputs_of_boxes(
    boxes: Boxes, supplies: Mapping[str, Supply | None], lamps: Sequence[Lamp], report: Report
) -> None:
    """Tell of lamps that draw more than an output of their decoder may carry."""
    volts = _volts(supplies)
    heavy: dict[str, list[Lamp]] = defaultdict(list)
    for lamp in lamps:
        box = boxes.of(lamp)
        if box is not None and 0.0 < box.amps_per_slot * _HAIR < amps_of(lamp, volts):
            heavy[box.name].append(lamp)
    for name, found in heavy.items():
        most = max(amps_of(lamp, volts) for lamp in found)
        what = (
            f"{listed([lamp.name for lamp in found], 6)} draw up to {most:.4g} A at full, and an output "
            f"of decoder {quote(name)} may carry {boxes.decoders[name].amps_per_slot:g} A"
        )
        report.warn(
            boxes.places[name], what, "the guard keeps the average, not the peak: take a stronger box"
        )


def check_leds(
    supplies: Mapping[str, Supply | None], lamps: Sequence[Lamp], places: Sequence[Placed], report: Report
) -> None:
    """Tell of LEDs that drop as much as their supply gives, once for each entry.

    Args:
        places: where the entry of each lamp stands.
    """
    told: set[int] = set()
    for lamp in lamps:
        supply = supplies.get(lamp.supply)
        if lamp.led is None or supply is None or lamp.line in told:
            continue
        drop = lamp.led.drop_v * lamp.led.in_series
        if drop >= supply.volts:
            told.add(lamp.line)
            what = (
                f"the LEDs of {quote(lamp.name)} drop {drop:g} V, and supply {quote(supply.name)} "
                f"gives {supply.volts:g}"
            )
            report.warn(places[lamp.index], what, "put fewer in series, or no resistor can be found")


def _volts(supplies: Mapping[str, Supply | None]) -> dict[str, float]:
    return {supply.name: supply.volts for supply in supplies.values() if supply is not None}
