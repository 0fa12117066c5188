"""Knows: the table of frames that `render` writes, a column per patched slot, a row per frame.

Must never know: where frames come from, or what a lamp is for.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from types import TracebackType

import numpy as np

from bridge.shell.whole_file import whole_file
from bridge.values.frame import Frame
from bridge.values.rig import Rig

DIGITS = [str(value) for value in range(256)]


def patched_slots(rig: Rig) -> tuple[tuple[int, int], ...]:
    """Every (universe, slot) that some lamp uses, in order; a 16-bit lamp uses two."""
    used = {(lamp.universe, lamp.slot) for lamp in rig.lamps}
    used |= {(lamp.universe, lamp.slot + 1) for lamp in rig.lamps if lamp.bits == 16}
    return tuple(sorted(used))


def seconds(t: float) -> str:
    """A time to the microsecond, without the zeros that say nothing: 0.025, 3, 0.022727."""
    return f"{t:.6f}".rstrip("0").rstrip(".")


class CsvOut:
    """The table, written row by row: an hour needs no more memory than a second.

    Use it as a context manager; the file has its name once the block ends well.

    Args:
        rig: whose slots to write.
        path: where to; RFC 4180 without quotes, UTF-8, lines end with a line feed.

    Raises:
        DeviceError: the file cannot be written.
    """

    def __init__(self, rig: Rig, path: str | Path) -> None:
        self._slots = patched_slots(rig)
        self._rows = np.array([rig.universes.index(universe) for universe, _ in self._slots], dtype=np.intp)
        self._columns = np.array([slot - 1 for _, slot in self._slots], dtype=np.intp)
        self._opening = whole_file(path)
        self.count = 0
        """Rows written so far."""

    def __enter__(self) -> CsvOut:
        self._file = self._opening.__enter__()
        names = ["seconds", *(f"{universe}.{slot}" for universe, slot in self._slots)]
        self._file.write((",".join(names) + "\n").encode())
        return self

    def add(self, frame: Frame) -> None:
        """Write one frame of this rig."""
        values = frame.slots[self._rows, self._columns].tolist()
        cells = [seconds(frame.t), *[DIGITS[value] for value in values]]
        self._file.write((",".join(cells) + "\n").encode())
        self.count += 1

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._opening.__exit__(kind, error, trace)


def write_csv(rig: Rig, frames: Iterable[Frame], path: str | Path) -> int:
    """Write every frame; the number of rows below the header.

    Raises:
        DeviceError: the file cannot be written.
    """
    with CsvOut(rig, path) as out:
        for frame in frames:
            out.add(frame)
    return out.count
