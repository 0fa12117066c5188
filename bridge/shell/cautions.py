"""Knows: the cautions a rig calls for, in words a person on a ladder can use.

Must never know: how they are shown; any local code (which decides in every case).
"""

from __future__ import annotations

from bridge.parts.electrical import ELV_AC_V, TOUCHABLE_AC_V
from bridge.values.rig import Rig

GENERAL = (
    "Old lamp housings may still carry mains: disconnect them before you open one, and let a licensed "
    "electrician judge what stays. The local code decides; no figure of ours replaces it.",
    "Old housings shed dust and paint that may hold lead or asbestos: do not sand or drill them dry.",
    "LEDs, their resistors and their housings get hot: mount them on metal, keep paper and cloth away.",
    "Fuse every output of a supply for the thinnest wire behind it, not for its lamp, and choose the wire's "
    "gauge as the code asks.",
    "What hangs over heads has a second, independent safety line, and every cable a strain relief, so that "
    "no joint carries weight.",
    "Never control anything by DMX that could hurt somebody if it started or stopped by itself: no motor, no "
    "flame, no smoke, no lock.",
)
FLASHING = (
    "Flashing light can set off seizures in photosensitive people: warn the audience at the door, keep to "
    "three flashes a second or fewer, and stop if anyone is unwell."
)
NO_LOAD_GUARD = (
    "The load guard of this rig does not limit (guards: load): nothing but the player keeps the supplies and "
    "decoders from more current than they may give. Its fuses must."
)
ON_THE_LADDER = (
    "The lamps are powered and get hot: touch none while this runs, and unplug them before you mend anything."
)
"""Said where lamps are lit while somebody may stand beside one."""
NO_FLASH_GUARD = (
    "The flash guard of this rig does not limit (guards: flash): nothing but the player keeps the light to "
    "three flashes a second."
)
SIGNALS = (
    "Red, amber and green lamps in sight of a road, a railway or a waterway can be taken for signals: screen "
    "them, or ask the authority."
)
MAINS = (
    f"A supply of this rig gives more than {ELV_AC_V:g} V: that is above extra-low voltage, and its "
    "wiring is work for a licensed electrician."
)
TOUCHABLE = (
    f"A supply of this rig gives more than {TOUCHABLE_AC_V:g} V: cover every bare part, above all out "
    "of doors and where it is wet (limits for bare parts in dry places: 25 V AC, 60 V DC; IEC 61140)."
)
ADAPTER = (
    "Use an isolated adapter between computer and data line: without one, a fault in any lamp finds its way "
    "through the computer, and through whoever touches it."
)
TERMINATOR = (
    "Put a terminator, 120 ohm across the pair, at the far end of every data line: without it lamps flicker "
    "for no reason that shows."
)
SIGNAL_COLOURS = frozenset(("red", "amber", "green"))


def cautions(rig: Rig) -> list[str]:
    """The cautions for this rig, the gravest first."""
    highest = max((supply.volts for supply in rig.supplies), default=0.0)
    out = [MAINS] if highest > ELV_AC_V else [TOUCHABLE] if highest > TOUCHABLE_AC_V else []
    out.append(FLASHING)
    if rig.guards.get("flash", "limit") != "limit":
        out.append(NO_FLASH_GUARD)
    if rig.guards.get("load", "limit") != "limit":
        out.append(NO_LOAD_GUARD)
    out += GENERAL
    if any(spec.kind == "serial" for spec in rig.outputs):
        out.append(ADAPTER)
    if _has_open_end(rig):
        out.append(TERMINATOR)
    if SIGNAL_COLOURS & {lamp.colour for lamp in rig.lamps}:
        out.append(SIGNALS)
    return out


def _has_open_end(rig: Rig) -> bool:
    """True unless the file says of every universe that its line ends in a terminator."""
    ended = {line.universe for line in rig.dmx if line.terminated}
    return not set(rig.universes) <= ended
