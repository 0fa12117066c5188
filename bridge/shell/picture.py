"""Knows: how the newest frame and its news cross to another process that may stall or die.

Must never know: who looks at it, or what is drawn.

One writer, any readers, no lock: a counter that is odd while a picture is being written. A reader that finds
it odd or changed takes another look, so that a stalled reader can never block the writer.
"""

from __future__ import annotations

import contextlib
import json
import struct
from collections.abc import Sequence
from multiprocessing.shared_memory import SharedMemory
from typing import Any

import numpy as np

from bridge.values.beat import Beat
from bridge.values.frame import SLOTS, Frame

HEAD = struct.Struct("<Qqddqq")
NEWS_BYTES = 16384
TRIES = 50


def _buffer(memory: SharedMemory) -> memoryview:
    """A view of our own, which can be let go of before the memory is."""
    return memoryview(memory.buf)  # type: ignore[arg-type]


class PictureWriter:
    """The show's end: makes the shared memory, writes a frame in microseconds, removes it at the end."""

    def __init__(self, universes: Sequence[int]) -> None:
        self._size = len(universes) * SLOTS
        self._memory = SharedMemory(create=True, size=HEAD.size + 4 + NEWS_BYTES + self._size)
        self._buffer = _buffer(self._memory)
        self._count = 0
        self._news = b""
        self.name = self._memory.name

    def tell(self, news: dict[str, Any]) -> None:
        """Set the news (outputs, notices, totals) that goes with the next frames; at most 16 KB as JSON."""
        text = json.dumps(news, separators=(",", ":")).encode()
        self._news = text if len(text) <= NEWS_BYTES else b"{}"

    def post(self, beat: Beat, frame: Frame) -> None:
        """Write one frame."""
        buffer = self._buffer
        self._count += 1
        struct.pack_into("<Q", buffer, 0, self._count)
        HEAD.pack_into(buffer, 0, self._count, beat.number, frame.t, beat.late, beat.skipped, beat.errors)
        at = HEAD.size
        struct.pack_into("<I", buffer, at, len(self._news))
        buffer[at + 4 : at + 4 + len(self._news)] = self._news
        at += 4 + NEWS_BYTES
        buffer[at : at + self._size] = frame.slots.tobytes()
        self._count += 1
        struct.pack_into("<Q", buffer, 0, self._count)

    def close(self) -> None:
        """Remove the shared memory; readers that still hold it keep their last look."""
        self._buffer.release()
        self._memory.close()
        with contextlib.suppress(FileNotFoundError):
            self._memory.unlink()


class PictureReader:
    """The looker's end."""

    def __init__(self, name: str, universes: Sequence[int]) -> None:
        self._universes = tuple(universes)
        self._size = len(universes) * SLOTS
        self._memory = SharedMemory(name=name)
        self._buffer = _buffer(self._memory)

    def look(self) -> tuple[int, Beat, Frame, dict[str, Any]] | None:
        """(counter, beat, frame, news) of the newest frame; None where there is none to read."""
        buffer = self._buffer
        for _ in range(TRIES):
            count, number, t, late, skipped, errors = HEAD.unpack_from(buffer, 0)
            if count == 0:
                return None
            if count % 2:
                continue
            (length,) = struct.unpack_from("<I", buffer, HEAD.size)
            at = HEAD.size + 4
            news = bytes(buffer[at : at + min(length, NEWS_BYTES)])
            at += NEWS_BYTES
            slots = bytes(buffer[at : at + self._size])
            if struct.unpack_from("<Q", buffer, 0)[0] != count:
                continue
            array = np.frombuffer(slots, dtype=np.uint8).reshape(len(self._universes), SLOTS)
            frame = Frame(t, self._universes, array)
            return count, Beat(number, late, skipped, 0, errors), frame, json.loads(news or b"{}")
        return None

    def close(self) -> None:
        """Let go of the shared memory."""
        self._buffer.release()
        self._memory.close()
