"""Knows: how colours are told apart on paper, in black and white too: a letter and a pale tint for each.

Must never know: lamps, places, or where a letter is written.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.parts.colours import rgb

LETTERS = {
    "white": "W",
    "warm": "Wm",
    "cool": "C",
    "red": "R",
    "orange": "O",
    "amber": "A",
    "yellow": "Y",
    "lime": "L",
    "green": "G",
    "cyan": "Cy",
    "blue": "B",
    "indigo": "I",
    "violet": "V",
    "purple": "P",
    "magenta": "M",
    "pink": "Pk",
    "uv": "UV",
}
"""Colour -> what stands for it. Our own letters, each its own."""

PALE = 0.62
"""Share of white in a tint, so that black print on it keeps its contrast."""


def letters(colours: Iterable[str]) -> dict[str, str]:
    """A letter for every colour of a rig, those of no name (`#0a0b0c`) numbered in their order."""
    out: dict[str, str] = {}
    for colour in colours:
        if colour not in out:
            unnamed = sum(one not in LETTERS for one in out) + 1
            out[colour] = LETTERS.get(colour, f"#{unnamed}")
    return out


def tint(colour: str) -> str:
    """The pale tint of a colour as `#rrggbb`; white stays white."""
    if colour == "white":
        return "#ffffff"
    return "#" + "".join(f"{round(part + (255 - part) * PALE):02x}" for part in rgb(colour))
