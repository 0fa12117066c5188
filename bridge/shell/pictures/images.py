"""Knows: pictures and animated images, read by Pillow frame by frame.

Must never know: lamps, films, mappings.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from bridge.parts.sampling import Bytes
from bridge.shell.pictures.limits import MOST_ANIMATED, MOST_FRAME, MOST_PIXELS, PictureError

FORMATS = ("PNG", "JPEG", "GIF", "WEBP", "BMP", "PPM")
"""Only what is decoded inside this process, and what a player would draw a picture in."""

UNTIMED = 0.1
"""Seconds of a frame that gives none: what viewers make of it (common practice)."""

Frame = tuple[float, Bytes]
"""Seconds from the beginning, and sRGB codes of shape (H, W, 3), or (H, W, 4) with cover."""


class Picture:
    """An open picture or animated image.

    Args:
        path: the file, which must be there.

    Raises:
        PictureError: it is broken or too large.
        NotAPicture: it is something else; perhaps a film.
    """

    def __init__(self, path: Path) -> None:
        # Not above: Pillow takes 10 ms of every start, and most mappings have no pictures.
        from PIL import Image, UnidentifiedImageError

        try:
            with quiet():
                self._image = Image.open(path, formats=FORMATS)
        except UnidentifiedImageError:
            raise NotAPicture from None
        except Image.DecompressionBombError as error:
            raise too_large("a picture", MOST_PIXELS, str(error)) from None
        except Exception as error:
            # Decoders raise what they like at bytes that are not theirs.
            raise broken(error) from error
        self.size = self._image.size
        try:
            # A GIF's second frame is looked for, and may not be whole.
            with quiet():
                self.moves = bool(getattr(self._image, "is_animated", False))
        except Exception as error:
            self._image.close()
            raise broken(error) from error
        self.length = 0.0
        """Seconds of all of it, known once the last frame was read; 0 for one that stands."""
        most = MOST_FRAME if self.moves else MOST_PIXELS
        if self.size[0] * self.size[1] > most:
            self._image.close()
            raise too_large(f"a {'frame' if self.moves else 'picture'} of {shape(self.size)}", most)

    def close(self) -> None:
        """Let go of the file."""
        self._image.close()

    def strips(self, rows: int) -> Iterator[Bytes]:
        """A picture that stands, from the top down, so many rows at once: (rows, W, 3 or 4)."""
        for top in range(0, self.size[1], rows):
            try:
                with quiet():
                    self._image.load()
                    box = (0, top, self.size[0], min(self.size[1], top + rows))
                    strip = np.asarray(self._image.crop(box).convert(self._mode()))
            except Exception as error:
                raise broken(error) from error
            yield strip

    def frames(self) -> Iterator[Frame]:
        """The frames of one that moves.

        Raises:
            PictureError: it is broken, or more than can be decoded in good time.
        """
        number, start = 0, 0.0
        while True:
            if (number + 1) * self.size[0] * self.size[1] > MOST_ANIMATED:
                what = f"more than {number} frames of {shape(self.size)} are too many"
                raise PictureError(what, "make it smaller or shorter; 200 pixels across are plenty")
            try:
                with quiet():
                    self._image.seek(number)
                    self._image.load()
                    frame = np.asarray(self._image.convert(self._mode()))
            except EOFError:
                break
            except Exception as error:
                raise broken(error) from error
            yield start, frame
            seconds = float(self._image.info.get("duration", 0) or 0) / 1000.0
            start += seconds if seconds > 0.0 else UNTIMED
            number += 1
        self.length = start

    def _mode(self) -> str:
        clear = "A" in self._image.mode or "a" in self._image.mode or "transparency" in self._image.info
        return "RGBA" if clear else "RGB"


class NotAPicture(Exception):  # noqa: N818 - no fault of anybody's
    """The file is no picture that we know."""


def broken(error: Exception) -> PictureError:
    """What is said of a picture that a decoder gave up on."""
    reason = " ".join(str(error).split())[:100] or type(error).__name__
    return PictureError(f"the picture is broken ({reason})", "save it again, or give another")


def shape(size: tuple[int, int]) -> str:
    """A size as people say it."""
    return f"{size[0]} x {size[1]} pixels"


def too_large(what: str, most: int, told: str = "") -> PictureError:
    """What is said of one with too many pixels; `told`: Pillow's words, with their number in brackets."""
    found = re.search(r"\((\d+) pixels\)", told)
    shown = f"{what} of {int(found[1]) // 1_000_000} million pixels" if found else what
    return PictureError(f"{shown} is too large", f"at most {most / 1e6:g} million; make it smaller")


@contextmanager
def quiet() -> Iterator[None]:
    """Without the decoder's warnings: what matters is raised, and told with its place in the mapping."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
