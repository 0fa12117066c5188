"""Knows: how light becomes pixels: linear light to sRGB, the ground and the inks of every picture.

Must never know: rigs, frames, files.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageFont

Light = npt.NDArray[np.float32]
"""Linear light 0..1, red, green and blue in the last axis."""

GROUND = (13, 20, 40)
"""Enamel blue, sRGB."""

INK = (214, 220, 234)
FAINT = (124, 138, 170)
RULE = (38, 50, 84)


def to_light(srgb: tuple[int, int, int]) -> Light:
    """sRGB 0..255 to linear light 0..1 (IEC 61966-2-1)."""
    x = np.asarray(srgb, dtype=np.float64) / 255.0
    return np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _shown() -> npt.NDArray[np.uint8]:
    x = np.linspace(0.0, 1.0, 4096)
    y = np.where(x <= 0.0031308, x * 12.92, 1.055 * x ** (1 / 2.4) - 0.055)
    return np.floor(y * 255.0 + 0.5).astype(np.uint8)


SHOWN = _shown()
"""sRGB 0..255 for linear light in 4096 steps (IEC 61966-2-1)."""


def to_srgb(light: Light) -> npt.NDArray[np.uint8]:
    """Linear light to sRGB 0..255; what is over 1 is cut."""
    steps = np.minimum(light, np.float32(1.0))
    steps *= np.float32(4095.0)
    steps += np.float32(0.5)
    return SHOWN[steps.astype(np.uint16)]


def ground(size: tuple[int, int], even: bool = False) -> Light:
    """The ground as light: enamel blue, unless it shall be even a little lighter where the sky would be."""
    width, height = size
    if even:
        return np.tile(to_light(GROUND), (height, width, 1))
    fall = np.linspace(1.5, 0.7, height, dtype=np.float32)[:, None, None]
    across = np.linspace(-1.0, 1.0, width, dtype=np.float32)[None, :, None]
    return np.asarray(to_light(GROUND) * fall * (1.0 - 0.25 * across**2), dtype=np.float32)


def font(size: float) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Pillow's own font at `size` pixels, so that every machine draws alike."""
    return ImageFont.load_default(size)


def as_image(light: Light) -> Image.Image:
    """Light of shape (height, width, 3) as an RGB picture."""
    return Image.fromarray(to_srgb(light), "RGB")
