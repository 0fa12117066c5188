"""Knows: how to write a file so that it is there whole or not at all.

Must never know: what is written.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from bridge.values.errors import DeviceError


@contextmanager
def whole_file(path: str | Path) -> Iterator[BinaryIO]:
    """Open a file for writing bytes; it takes its name only when the block ends well.

    Until then it stands beside its place under a name of its own, so that an interrupt or a full
    disk leaves whatever was there before. A path that is there and is no plain file (a pipe, a
    terminal) is written to directly, since renaming over it would destroy it.

    Raises:
        DeviceError: the file cannot be opened, written or renamed.
    """
    # Asked of the path as it was given: /dev/stdout leads to a pipe that has no path of its own.
    direct = Path(path).exists() and not Path(path).is_file()
    place = Path(path) if direct else Path(os.path.realpath(path))
    part = place if direct else place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        with open(part, "wb") as file:
            yield file
        if not direct:
            os.replace(part, place)
    except BrokenPipeError as error:
        raise DeviceError(f"cannot write all of {path}: whoever read it has left") from error
    except OSError as error:
        raise DeviceError(
            f"cannot write {path}: {error.strerror or error}", "name a folder that exists and has room"
        ) from error
    finally:
        if not direct:
            with suppress(OSError):
                part.unlink(missing_ok=True)
