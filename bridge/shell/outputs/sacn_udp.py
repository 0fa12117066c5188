"""Knows: one universe sent as streaming ACN (ANSI E1.31) over UDP, to one host or to the universe's group.

Must never know: byte offsets of a packet; the other outputs.

All 512 slots go out unless `pad_to` says otherwise. E1.31 clause 7.6 allows 1 to 512, but what a receiver
does with slots it was not sent is its own affair (dark, or as they were), and some expect all; at 40 Hz a
full universe is 26 kB a second, which no network notices.
"""

from __future__ import annotations

from bridge.shell.outputs.base import LAST_SENDS, slots_sent
from bridge.shell.outputs.cid import sender_cid
from bridge.shell.outputs.udp import UdpSender
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire.sacn import GOODBYE_PACKETS, PORT, SacnPackets, multicast, next_sequence

SOURCE_NAME = "Lampwright"


class SacnOutput:
    """An `Output` for one universe.

    Args:
        spec: `host` empty for multicast; `sends`, `carried_as`, `interface`, `priority`, `pad_to`.
        top_slot: highest slot in use; matters only with `pad_to`.
        port: UDP port; E1.31 clause 9.1.1 fixes 5568 and lets unicast be set up otherwise.
        cid: 16 bytes; None for the one kept between runs.
    """

    def __init__(
        self, spec: OutputSpec, top_slot: int = SLOTS, port: int = PORT, cid: bytes | None = None
    ) -> None:
        self._sends = spec.sends
        self._packets = SacnPackets(
            cid or sender_cid(),
            SOURCE_NAME,
            spec.carried_as,
            spec.priority,
            slots_sent(spec, top_slot, SLOTS),
        )
        self._udp = UdpSender(spec.host or multicast(spec.carried_as), port, spec.interface)
        # Kept over a reopening: a count begun anew would have receivers drop up to 19 packets as late ones
        # (clause 6.7.2).
        self._sequence = 0

    def open(self) -> None:
        """As `Output.open`."""
        self._udp.open()

    def send(self, frame: Frame) -> None:
        """As `Output.send`; the packet takes the number after the one before it."""
        self._send(self._packets.data(frame.universe(self._sends), self._sequence))

    def close(self, last: Frame | None) -> None:
        """As `Output.close`; three packets with Stream_Terminated follow the last picture (clause 6.2.6)."""
        try:
            if last is not None:
                for _ in range(LAST_SENDS):
                    self.send(last)
                for _ in range(GOODBYE_PACKETS):
                    self._send(self._packets.goodbye(self._sequence))
        finally:
            self._udp.close()

    def _send(self, packet: bytes) -> None:
        self._udp.send(packet)
        self._sequence = next_sequence(self._sequence)
