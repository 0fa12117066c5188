"""Knows: one universe sent as ArtDmx packets over UDP, to the address of one node.

Must never know: byte offsets of a packet; the other outputs.

Unicast only, as the Art-Net 4 specification wants ArtDmx sent. All 512 slots go out unless `pad_to` says
otherwise: the length may be any even number 2 to 512, and a full packet is what every node takes. Art-Net has
no goodbye; a node holds or darkens by its own setting when the packets stop, hence the black picture first.
"""

from __future__ import annotations

from bridge.shell.outputs.base import LAST_SENDS, slots_sent
from bridge.shell.outputs.spelling import not_one_node
from bridge.shell.outputs.udp import UdpSender
from bridge.values.errors import DeviceError
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire.artnet import PORT, artdmx, next_sequence


class ArtnetOutput:
    """An `Output` for one universe.

    Args:
        spec: `host` is the node's own address; `sends`, `carried_as` (Port-Address 0..32767), `interface`,
            `pad_to`.
        top_slot: highest slot in use; matters only with `pad_to`.
        port: UDP port, 6454 by the specification.
    """

    def __init__(self, spec: OutputSpec, top_slot: int = SLOTS, port: int = PORT) -> None:
        self._host = spec.host
        self._sends = spec.sends
        self._carried_as = spec.carried_as
        self._slots = slots_sent(spec, top_slot, SLOTS)
        self._udp = UdpSender(spec.host, port, spec.interface)
        self._sequence = 1

    def open(self) -> None:
        """As `Output.open`; refuses an address that is not one node's."""
        reason = not_one_node(self._host) if self._host else "no host is named"
        if reason:
            raise DeviceError(reason, "write the node's own address as host")
        self._udp.open()

    def send(self, frame: Frame) -> None:
        """As `Output.send`; the packet takes the number after the one before it."""
        slots = frame.universe(self._sends)[: self._slots]
        self._udp.send(artdmx(self._carried_as, slots, self._sequence))
        self._sequence = next_sequence(self._sequence)

    def close(self, last: Frame | None) -> None:
        """As `Output.close`."""
        try:
            if last is not None:
                for _ in range(LAST_SENDS):
                    self.send(last)
        finally:
            self._udp.close()
