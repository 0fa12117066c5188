"""Knows: universes sent as ArtDmx packets over UDP, to the address of one node.

Must never know: byte offsets of a packet; the other outputs.

Unicast only, as the Art-Net 4 specification wants ArtDmx sent. All 512 slots go out unless `pad_to` or
`early` says otherwise: the length may be any even number 2 to 512, and a full packet is what every node
takes; an early output sends the slots in use, since the next packet may follow the sooner (see
`base.line_seconds`). Art-Net has no goodbye; a node holds or darkens by its own setting when the packets
stop, hence the black picture first.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.shell.outputs.base import FEWEST_SLOTS, line_seconds, send_last, slots_sent
from bridge.shell.outputs.rows import Rows
from bridge.shell.outputs.spelling import not_one_node
from bridge.shell.outputs.udp import UdpSender
from bridge.values.errors import DeviceError
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire.artnet import PORT, artdmx, next_sequence


class ArtnetOutput:
    """An `Output` for one universe, or with `whole` for all that the rig has.

    Args:
        spec: `host` is the node's own address; `sends`, `carried_as` (Port-Address 0..32767), `whole`,
            `interface`, `pad_to`, `early`.
        tops: highest slot in use of each universe of the rig, or of the one that is sent; matters with
            `pad_to` and `early`, and with `whole` says which universes there are.
        port: UDP port, 6454 by the specification.
    """

    def __init__(self, spec: OutputSpec, tops: int | Mapping[int, int] = SLOTS, port: int = PORT) -> None:
        known = {spec.sends: tops} if isinstance(tops, int) else tops
        numbers = spec.numbers(known)
        least = FEWEST_SLOTS if spec.early else SLOTS
        self._host = spec.host
        self._rows = Rows(tuple(numbers))
        self._line = line_seconds(spec, max(known.get(universe) or SLOTS for universe in numbers))
        self._packets = [
            (number, slots_sent(spec, known.get(universe) or SLOTS, least))
            for universe, number in numbers.items()
        ]
        """Port-Address and number of slots of each row."""
        self._udp = UdpSender(spec.host, port, spec.interface)
        self._sequence = 1

    def open(self) -> None:
        """As `Output.open`; refuses an address that is not one node's."""
        reason = not_one_node(self._host) if self._host else "no host is named"
        if reason:
            raise DeviceError(reason, "write the node's own address as host")
        self._udp.open()

    def send(self, frame: Frame) -> None:
        """As `Output.send`; each universe's packet takes the number after the one before it."""
        rows, sequence = self._rows.of(frame), self._sequence
        self._udp.send_all(
            artdmx(number, row[:slots].tobytes(), sequence)
            for row, (number, slots) in zip(rows, self._packets, strict=True)
        )
        self._sequence = next_sequence(sequence)

    def close(self, last: Frame | None) -> None:
        """As `Output.close`."""
        try:
            if last is not None:
                send_last(self.send, last, self._line)
        finally:
            self._udp.close()
