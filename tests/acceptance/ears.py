"""Knows: the far end of sACN on this machine: the packets, read by the `sacn` library, not by our own reader.

Must never know: how they were made.

Our command line has no way to another port than the standard's, so whoever listens holds a lock: two test
runs on one machine take turns.
"""

from __future__ import annotations

import contextlib
import os
import socket
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sacn.messages.data_packet import DataPacket

from tests.acceptance.programs import PATIENCE

PORT = 5568
"""ANSI E1.31 clause 9.1.1."""


@contextlib.contextmanager
def sacn_port() -> Iterator[None]:
    """The only right to listen to sACN on this machine, among our tests."""
    path = Path(tempfile.gettempdir()) / f"lampwright-tests-udp-{PORT}.lock"
    with open(path, "ab") as file:
        if os.name == "posix":
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX)
        yield


class Ear:
    """A plain socket on 127.0.0.1 that keeps every packet of one sender.

    Attributes:
        cid: the sender's CID, 16 bytes.
        raw, packets: all that came from it, as bytes and as the library reads them.
    """

    def __init__(self, cid: bytes) -> None:
        self.cid = cid
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 20)
        self.socket.bind(("127.0.0.1", PORT))
        self.raw: list[bytes] = []
        self.packets: list[DataPacket] = []

    def take(self, seconds: float = PATIENCE) -> DataPacket:
        """The next packet."""
        packet = self._next(seconds)
        if packet is None:
            pytest.fail(f"no packet for {seconds:g} s, after {len(self.raw)}")
        return packet

    def until(
        self, right: Callable[[DataPacket], object], what: str, seconds: float = PATIENCE
    ) -> DataPacket:
        """The first packet that is right; fails with `what` if none comes."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0.0:
            packet = self._next(left)
            if packet is not None and right(packet):
                return packet
        pytest.fail(f"after {seconds:g} s and {len(self.raw)} packets still not so: {what}")

    def _next(self, seconds: float) -> DataPacket | None:
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0.0:
            self.socket.settimeout(left)
            try:
                if (packet := self._keep(self.socket.recv(2048))) is not None:
                    return packet
            except TimeoutError:
                break
        return None

    def _keep(self, raw: bytes) -> DataPacket | None:
        """The packet, if it comes from the command that this test runs."""
        if raw[22:38] != self.cid:  # root layer: CID (ANSI E1.31 Table 4-1)
            return None
        self.raw.append(raw)
        self.packets.append(DataPacket.make_data_packet(list(raw)))
        return self.packets[-1]

    def shows(self, slots: tuple[int, ...], seconds: float = PATIENCE) -> DataPacket:
        """Wait for this picture."""
        lit = {number + 1: value for number, value in enumerate(slots) if value}
        return self.until(lambda packet: packet.dmxData == slots, f"slots {lit or 'dark'}", seconds)

    def rest(self) -> None:
        """Take what lies here already: call it when the sender has ended."""
        self.socket.setblocking(False)
        with contextlib.suppress(BlockingIOError):
            while True:
                self._keep(self.socket.recv(2048))


@contextlib.contextmanager
def ear(cid: bytes) -> Iterator[Ear]:
    """Listen to what a sender of this CID sends to 127.0.0.1."""
    with sacn_port():
        one = Ear(cid)
        try:
            yield one
        finally:
            one.socket.close()
