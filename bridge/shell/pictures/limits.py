"""Knows: how much of a picture or film is decoded at most, and the one error of this folder.

Must never know: formats, lamps.
"""

from __future__ import annotations

MOST_PIXELS = 40_000_000
"""A single picture, 8000 x 5000: more than any camera a lamp could do justice to."""

MOST_FRAME = 9_500_000
"""A frame of something that moves: 4096 x 2304."""

MOST_FRAMES = 40_000
MOST_SECONDS = 900.0
"""A quarter of an hour: longer than any song."""

MOST_LEVELS = 128_000_000
"""Lamps x frames, at two bytes each: 256 MB."""

MOST_ANIMATED = 1_000_000_000
"""Pixels of all frames of an animated image together: what takes about half a minute to decode."""

SLOWEST = 300.0
"""Seconds that a film may take to decode."""


class PictureError(Exception):
    """A picture that cannot be used: what is wrong with it, and what would be right."""

    def __init__(self, what: str, right: str) -> None:
        super().__init__(f"{what}; {right}")
        self.what, self.right = what, right
