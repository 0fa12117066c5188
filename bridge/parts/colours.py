"""Knows: what the colour names of lamps look like on a screen, and light as a screen shows it.

Must never know: lamps, levels of the moment, or which screen.

The RGB values of lamp colours are our own choices, made to sit on a dark blue ground; the transfer between
linear light and signal is sRGB (IEC 61966-2-1).
"""

from __future__ import annotations

Rgb = tuple[int, int, int]

COLOURS: dict[str, Rgb] = {
    "white": (255, 214, 170),  # a filament's white, not a screen's
    "warm": (255, 196, 132),
    "cool": (226, 234, 255),
    "red": (255, 58, 38),
    "orange": (255, 128, 40),
    "amber": (255, 168, 46),
    "yellow": (255, 218, 84),
    "lime": (196, 240, 80),
    "green": (72, 222, 110),
    "cyan": (84, 224, 232),
    "blue": (84, 124, 255),
    "indigo": (108, 92, 240),
    "violet": (164, 92, 246),
    "purple": (176, 84, 226),
    "magenta": (244, 84, 206),
    "pink": (255, 146, 178),
    "uv": (110, 60, 255),
}


def rgb(colour: str) -> Rgb:
    """The sRGB 0..255 of a colour's name, or of `#rrggbb`; white for a name that is not known."""
    if colour.startswith("#") and len(colour) == 7:
        try:
            return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
        except ValueError:
            return COLOURS["white"]
    words = colour.lower().replace("-", " ").replace("_", " ").split()
    return next((COLOURS[word] for word in words if word in COLOURS), COLOURS["white"])


def decode(signal: float) -> float:
    """The sRGB signal 0..1 as linear light 0..1 (IEC 61966-2-1)."""
    return signal / 12.92 if signal <= 0.04045 else float(((signal + 0.055) / 1.055) ** 2.4)


def encode(light: float) -> float:
    """Linear light 0..1 as the sRGB signal 0..1 (IEC 61966-2-1)."""
    return 12.92 * light if light <= 0.0031308 else float(1.055 * light ** (1 / 2.4) - 0.055)


def linear(colour: str) -> tuple[float, float, float]:
    """The linear light 0..1 of a colour: red, green, blue."""
    red, green, blue = rgb(colour)
    return decode(red / 255), decode(green / 255), decode(blue / 255)


LUMINANCE = (0.2126, 0.7152, 0.0722)
"""How much linear red, green and blue count in luminance (ITU-R BT.709)."""

PURE = {"red": (1.0, 0.0, 0.0), "green": (0.0, 1.0, 0.0), "blue": (0.0, 0.0, 1.0)}
"""Lenses of these names take the channel of a picture that has their name."""


def share(colour: str) -> tuple[float, float, float]:
    """How much linear red, green and blue count for a lamp that shows a picture; adds up to 1.

    White lamps take luminance. A coloured lamp takes the channels its own light has beyond white.
    """
    word = colour.lower()
    if word in PURE:
        return PURE[word]
    light = linear(colour)
    excess = [value - min(light) for value in light]
    # Within a fifth of grey it is a kind of white, as `warm` is by its name.
    if word in ("white", "warm", "cool") or max(excess) <= 0.2 * max(light) or rgb(colour) == rgb("white"):
        return LUMINANCE
    total = sum(excess)
    return excess[0] / total, excess[1] / total, excess[2] / total


def shine(colour: Rgb, light: float) -> Rgb:
    """A colour at `light` 0..1 of its full output, as a screen shows it."""
    gain = encode(min(1.0, max(0.0, light)))
    return round(colour[0] * gain), round(colour[1] * gain), round(colour[2] * gain)
