"""Knows: how a take is written all at once, whole or not at all, from turns that are there already.

Must never know: where the turns come from; threads, clocks.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from bridge.shell.takes.batch import Batcher, Turn
from bridge.shell.takes.gaps import Progress, quiet
from bridge.shell.takes.store import TakeFile, cannot_write, reserve
from bridge.values.events import Event
from bridge.values.frame import Frame
from bridge.wire.take_header import Remark, TakeHeader

EVERY = 10
"""Turns in a row, as a recorder at 40 Hz writes them."""

TELL_EVERY = 400

Perform = Callable[[Sequence[Event]], Iterable[tuple[int, Frame]]]
"""Plays events through an engine: (k, frame) for every steady frame, from 0 until after the last event."""


def write_take(
    path: str | Path,
    header: TakeHeader,
    turns: Iterable[Turn],
    total: int = 0,
    texts: Mapping[int, str] | None = None,
    remarks: Iterable[Remark] = (),
    progress: Progress = quiet,
) -> Path:
    """Write a take; if anything stops it, nothing is left.

    Args:
        path: where to; if that is taken, the next free name.
        turns: its frames and events, in order; about `total` of them.
        texts: number -> text of the mappings that its NewMapping events name.

    Returns:
        The path it got.

    Raises:
        DeviceError: it cannot be written.
    """
    place = reserve(Path(path))
    part = place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        file, batcher = TakeFile(part, header, lasting=False), Batcher(header)
        try:
            for number, text in (texts or {}).items():
                batcher.keep(number, text)
            for number, turn in enumerate(turns, 1):
                batcher.turn(*turn)
                if number % EVERY == 0:
                    file.write(batcher.rows())
                if number % TELL_EVERY == 0:
                    progress(number, max(number, total))
            for remark in remarks:
                batcher.remark(remark.kind, remark.data, remark.k)
            file.write([*batcher.rows(), batcher.end()])
        finally:
            file.close()
        try:
            with part.open("r+b") as written:
                os.fsync(written.fileno())
            os.replace(part, place)
        except OSError as error:
            raise cannot_write(place, error) from error
    except BaseException:
        with suppress(OSError):
            part.unlink()
        with suppress(OSError):
            place.unlink()
        raise
    progress(max(1, total), max(1, total))
    return place


def performed(events: Iterable[Event], perform: Perform) -> Iterator[Turn]:
    """The turns of events played through an engine, each event with the first frame that could take it.

    Raises:
        ValueError: `perform` ended before the last event (our own mistake).
    """
    waiting = sorted(events, key=lambda event: event.stamp)
    at = 0
    for k, frame in perform(waiting):
        first = at
        while at < len(waiting) and waiting[at].stamp <= frame.t:
            at += 1
        yield k, 0, frame, waiting[first:at], 0
    if at < len(waiting):
        raise ValueError(f"the performance ended before its event at {waiting[at].stamp} s")
