"""Knows: how the nine address switches of a decoder stand for a DMX address.

Must never know: lamps, decoders of a rig, or how a switch is drawn.

Common practice, not a standard: switch 1 is worth 1, each next one twice as much, switch 9 is worth 256, and
the address is the sum of those that are on. Some boxes number them the other way round, count from 0, or
have a tenth switch with a meaning of its own: the maker's sheet decides.
"""

from __future__ import annotations

from typing import Final

SWITCHES: Final = 9
"""Enough for the addresses 1 to 511."""


def switches(address: int) -> tuple[bool, ...] | None:
    """Whether each switch is on, switch 1 first; None for 512, which nine switches cannot say.

    Args:
        address: 1..512.

    Raises:
        ValueError: another address.
    """
    if not 1 <= address <= 512:
        raise ValueError(f"{address} is no DMX address")
    if address == 512:
        return None
    return tuple(bool(address >> place & 1) for place in range(SWITCHES))


def switch_text(address: int) -> str:
    """The numbers of the switches that are on: `1, 4, 5`; address as in `switches`."""
    on = switches(address)
    if on is None:
        return "nine cannot say 512; see the maker's sheet"
    return ", ".join(str(place + 1) for place, is_on in enumerate(on) if is_on)
