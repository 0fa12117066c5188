"""Draws the pictures of examples/textures: `python examples/make_pictures.py [FOLDER]`. All of it is ours.

A sky at dusk that can be moved, rain on a pane, the lake's swell as an animated image, and lettering.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

HERE = Path(__file__).parent / "textures" / "pictures"


def codes(light: np.ndarray) -> Image.Image:
    """Linear light 0..1 of shape (H, W, 3) as an sRGB picture (IEC 61966-2-1)."""
    x = np.clip(light, 0.0, 1.0)
    signal = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    return Image.fromarray((signal * 255 + 0.5).astype(np.uint8), "RGB")


def dusk() -> Image.Image:
    """Clouds at dusk, warm below and blue above, that repeat from side to side."""
    y, x = np.mgrid[0:96, 0:192] / 96.0
    wave = np.zeros_like(x)
    for turns, lift, late in ((1, 2, 0.0), (2, 5, 1.7), (3, 9, 4.1), (5, 14, 2.2)):
        wave += np.sin(2 * np.pi * turns * x / 2 + lift * y + late) / turns
    cloud = np.clip(0.5 + 0.4 * wave, 0, 1) ** 2
    warm, cold = np.array([1.0, 0.45, 0.12]), np.array([0.05, 0.08, 0.25])
    ground = warm * y[..., None] + cold * (1 - y[..., None])
    return codes(ground * (0.15 + 0.85 * cloud[..., None]))


def lake(frames: int = 32) -> list[Image.Image]:
    """Light on the swell of the lake: wavelets that come back to where they were."""
    y, x = np.mgrid[0:36, 0:64] / 36.0
    out = []
    for n in range(frames):
        turn = 2 * np.pi * n / frames
        high = np.sin(9 * x + 4 * y - turn) + np.sin(5 * x - 11 * y + 2 * turn) + np.sin(15 * y - turn)
        glow = np.clip(high / 3, 0, 1) ** 2
        out.append(codes(glow[..., None] * np.array([1.0, 0.75, 0.4]) + np.array([0.0, 0.01, 0.03])))
    return out


def fireflies(frames: int = 24) -> list[Image.Image]:
    """A few lights that wander and breathe, each on a closed path."""
    y, x = np.mgrid[0:30, 0:48].astype(float)
    rng = np.random.default_rng(11)
    paths = rng.uniform(0.2, 0.8, (7, 2)), rng.uniform(0.08, 0.2, (7, 2)), rng.uniform(0, 2 * np.pi, (7, 3))
    out = []
    for n in range(frames):
        turn = 2 * np.pi * n / frames
        light = np.zeros((30, 48, 3))
        for middle, reach, late in zip(*paths, strict=True):
            u = 48 * (middle[0] + reach[0] * np.cos(turn + late[0]))
            v = 30 * (middle[1] + reach[1] * np.sin(2 * turn + late[1]))
            breath = (0.5 + 0.5 * np.sin(turn * 2 + late[2])) ** 2
            spot = breath * np.exp(-((x - u) ** 2 + (y - v) ** 2) / 24)
            light += spot[..., None] * np.array([1.0, 0.8, 0.15])
        out.append(codes(light))
    return out


def lettering() -> Image.Image:
    """A word that runs over the lamps, white on black, with room to come and go."""
    font = ImageFont.load_default(36)
    text = "BOATHOUSE  "
    image = Image.new("L", (round(font.getlength(text)), 40), 0)
    ImageDraw.Draw(image).text((0, 19), text, font=font, fill=255, anchor="lm")
    return image


def main() -> None:
    """Write them all."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    folder.mkdir(parents=True, exist_ok=True)
    dusk().save(folder / "dusk.png", optimize=True)
    lettering().save(folder / "lettering.png", optimize=True)
    first, *rest = lake()
    first.save(folder / "lake.webp", save_all=True, append_images=rest, duration=125, loop=0, lossless=False)
    first, *rest = [picture.quantize(32) for picture in fireflies()]
    first.save(folder / "fireflies.gif", save_all=True, append_images=rest, duration=100, loop=0)


if __name__ == "__main__":
    main()
