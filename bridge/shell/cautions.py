"""Knows: the cautions a rig calls for, in words a person on a ladder can use.

Must never know: how they are shown; any local code (which decides in every case).
"""

from __future__ import annotations

from bridge.values.rig import Rig

EXTRA_LOW_VOLTS = 50.0
"""Volts up to which a supply counts as extra-low voltage (IEC 61140 draws the line at 50 V AC, 120 V DC)."""

GENERAL = (
    "Old lamp housings may still carry mains: disconnect them, and let a licensed electrician judge what "
    "stays. The local code decides, no figure of ours replaces it.",
    "Old housings shed dust and paint that may hold lead or asbestos: do not sand or drill them dry.",
    "LEDs, their resistors and their housings get hot: mount them on metal, keep paper and cloth away.",
    "Fuse every output of a supply for its wire, not for its lamp; wire gauge and strain relief as the code "
    "asks.",
    "What hangs over heads needs a second, independent fastening.",
    "Never control anything by DMX that could hurt somebody if it switched by itself.",
)
FLASHING = (
    "Flashing light can set off seizures in photosensitive people: warn the audience at the door, keep "
    "flashes to three a second or fewer, and stop if anyone is unwell."
)
SIGNALS = (
    "Red, amber and green lamps in sight of a road, a railway or water can be taken for signals: screen "
    "them, or ask the authority."
)
MAINS = "A supply of this rig is above extra-low voltage: its wiring is work for a licensed electrician."


def cautions(rig: Rig) -> list[str]:
    """The cautions for this rig, the gravest first."""
    out = [MAINS] if any(supply.volts > EXTRA_LOW_VOLTS for supply in rig.supplies) else []
    out += [FLASHING, *GENERAL]
    if {"red", "amber", "green"} & {lamp.colour for lamp in rig.lamps}:
        out.append(SIGNALS)
    return out
