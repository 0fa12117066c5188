"""Knows: the data packets of many universes as rows of one array, where a picture changes slots and numbers.

Must never know: sockets, refresh rates, which universe of the rig is which row, or where a packet goes.

Everything else in the packets is laid out once, by `wire/sacn`. One copy moves a whole picture, and the
packets are handed out as views of the array: 64 universes cost some 7 microseconds, where making them one by
one as bytes costs some 80.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bridge.values.frame import SLOTS
from bridge.wire.sacn import FIRST_SLOT_AT, OPTIONS_AT, SEQUENCE_AT, STREAM_TERMINATED, SacnPackets


class SacnPicture:
    """The packets of one picture.

    All universes count together: each sends one packet a picture, so their numbers never differ (clause 6.2.5
    wants each universe counted for itself, which this is).

    Args:
        packets: one universe each, in the order of the rows that `data` is given.

    Raises:
        ValueError: there is no packet (our own mistake).
    """

    __slots__ = ("_bytes", "_slots", "_views")

    def __init__(self, packets: Sequence[SacnPackets]) -> None:
        made = [packet.data(bytes(SLOTS), 0) for packet in packets]
        if not made:
            raise ValueError("a picture has at least one universe")
        self._slots = max(packet.slots for packet in packets)
        # Shorter packets leave the end of their row unused.
        self._bytes = np.zeros((len(made), FIRST_SLOT_AT + self._slots), np.uint8)
        for row, packet in enumerate(made):
            self._bytes[row, : len(packet)] = np.frombuffer(packet, np.uint8)
        self._views = _views(self._bytes, made)

    def data(self, rows: npt.NDArray[np.uint8], sequence: int) -> list[bytes | memoryview]:
        """The packets of a picture, good until the next call.

        Args:
            rows: uint8 of shape (universes, 512); column 0 is slot 1.
            sequence: 0..255, the same for all.
        """
        packets = self._bytes
        packets[:, FIRST_SLOT_AT:] = rows[:, : self._slots]
        packets[:, SEQUENCE_AT] = sequence
        return self._views

    def goodbye(self, sequence: int) -> list[bytes | memoryview]:
        """The packets that end the streams; send them GOODBYE_PACKETS times, each time with the next number.

        They repeat the slots sent last, which receivers ignore (clause 6.2.6).
        """
        ending = self._bytes.copy()
        ending[:, SEQUENCE_AT] = sequence
        ending[:, OPTIONS_AT] |= STREAM_TERMINATED
        return _views(ending, self._views)


def _views(packets: npt.NDArray[np.uint8], like: Sequence[bytes | memoryview]) -> list[bytes | memoryview]:
    return [memoryview(row)[: len(one)] for row, one in zip(packets, like, strict=True)]
