"""Knows: how a file of a picture or film becomes what lamps see of it; the one door of this folder.

Must never know: mappings, what plays it.
"""

from __future__ import annotations

import contextlib
from functools import lru_cache
from pathlib import Path

from bridge.shell.given_file import odd
from bridge.shell.pictures.cut_short import cut_short
from bridge.shell.pictures.films import Film as OpenFilm
from bridge.shell.pictures.images import NotAPicture, Picture
from bridge.shell.pictures.layout import AREAS, FITS, Plan, plan_for
from bridge.shell.pictures.limits import PictureError
from bridge.shell.pictures.sampled import film_of, picture_of
from bridge.values.texture import Film, Still

__all__ = ["AREAS", "FITS", "PictureError", "Plan", "missing_of", "plan_for", "seen_by_lamps"]

REMEMBERED = 16
"""Files kept as lamps see them, so that a mapping that is saved again decodes nothing again."""


def seen_by_lamps(path: Path, plan: Plan) -> Film | Still:
    """Decode a picture or a film to its end, as the lamps of a plan see it.

    Raises:
        PictureError: it is not there, broken, cut off, too large or too long.
    """
    try:
        found = path.stat()
        if what := odd(path):
            raise PictureError(f"this is {what}, not a file", "give the name of a picture or a film")
    except FileNotFoundError:
        raise PictureError("there is no such picture", "name it from the folder of the mapping") from None
    except (OSError, ValueError) as error:
        raise PictureError(f"the picture cannot be read: {_reason(error)}", "check its name") from error
    if found.st_size == 0:
        raise PictureError("the picture is empty", "save it again, or give another")
    try:
        return _decoded(path, (found.st_mtime_ns, found.st_size, found.st_ino), plan)
    except OSError as error:
        raise PictureError(f"the picture cannot be read: {_reason(error)}", "check its name") from error
    except MemoryError:
        raise PictureError("the picture does not fit into memory", "make it smaller") from None


def missing_of(path: Path, seen: Film | Still) -> str:
    """What is missing of a film that was decoded as far as it goes; empty where nothing is known to be."""
    if isinstance(seen, Still):
        return ""
    try:
        return cut_short(path, seen.length)
    except OSError:
        return ""


def _reason(error: Exception) -> str:
    return str(getattr(error, "strerror", None) or error)


@lru_cache(maxsize=REMEMBERED)
def _decoded(path: Path, _state: tuple[int, int, int], plan: Plan) -> Film | Still:
    try:
        picture = Picture(path)
    except NotAPicture:
        film = OpenFilm(path)
        with contextlib.closing(film):
            return film_of(film, plan)
    with contextlib.closing(picture):
        if picture.moves:
            return film_of(picture, plan)
        return picture_of(picture.strips, picture.size, plan)
