"""Knows: universes sent as streaming ACN (ANSI E1.31) over UDP, to one host or each to its own group.

Must never know: byte offsets of a packet; the other outputs.

All 512 slots go out unless `pad_to` or `early` says otherwise. E1.31 clause 7.6 allows 1 to 512, but what a
receiver does with slots it was not sent is its own affair (dark, or as they were), and some expect all; at 40
Hz a full universe is 26 kB a second, which no network notices. An early output is another matter: the less a
packet carries, the sooner the next may follow it (see `base.line_seconds`), so only the slots in use go out.

With `sync`, a synchronization packet follows each picture, and receivers show all universes at once (clause
6.3). Should those packets get lost for good, lamps that go on out of step are better than lamps that stand
still, and a blackout must get through: Force_Synchronization is set (clause 6.2.6).
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.shell.outputs.base import FEWEST_SLOTS, line_seconds, send_last, slots_sent
from bridge.shell.outputs.rows import Rows
from bridge.shell.outputs.sacn_source import SacnSource
from bridge.shell.outputs.udp import UdpSender
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire.sacn import (
    DISCOVERY_UNIVERSE,
    GOODBYE_PACKETS,
    PORT,
    SacnPackets,
    multicast,
    next_sequence,
    sync_packet,
)
from bridge.wire.sacn_picture import SacnPicture


class SacnOutput:
    """An `Output` for one universe, or with `whole` for all that the rig has.

    Args:
        spec: `host` empty for multicast; `sends`, `carried_as`, `whole`, `interface`, `priority`, `pad_to`,
            `early`, `sync`, `discover`.
        tops: highest slot in use of each universe of the rig, or of the one that is sent; matters with
            `pad_to` and `early`, and with `whole` says which universes there are.
        port: UDP port; E1.31 clause 9.1.1 fixes 5568 and lets unicast be set up otherwise.
        source: what it shares with the program's other sACN outputs.
        discovery: address the list of universes goes to; None for the discovery group, where there is no
            host.
    """

    def __init__(
        self,
        spec: OutputSpec,
        tops: int | Mapping[int, int] = SLOTS,
        port: int = PORT,
        source: SacnSource | None = None,
        discovery: str | None = None,
    ) -> None:
        known = {spec.sends: tops} if isinstance(tops, int) else tops
        numbers = spec.numbers(known)
        least = FEWEST_SLOTS if spec.early else SLOTS
        self._source = source or SacnSource()
        self._listed = tuple(numbers.values()) if spec.discover else ()
        self._on_list = False
        self._rows = Rows(tuple(numbers))
        self._line = line_seconds(spec, max(known.get(universe) or SLOTS for universe in numbers))
        packets = [
            SacnPackets(
                self._source.cid,
                self._source.name,
                number,
                spec.priority,
                slots_sent(spec, known.get(universe) or SLOTS, least),
                spec.sync,
                force_sync=bool(spec.sync),
            )
            for universe, number in numbers.items()
        ]
        self._picture = SacnPicture(packets)
        self._sync = spec.sync
        groups = not spec.host
        to = (*numbers.values(), spec.sync) if spec.sync else numbers.values()
        self._targets = [(multicast(number), port) for number in to] if groups else None
        told = discovery or (multicast(DISCOVERY_UNIVERSE) if groups else "")
        self._discovery = [(told, port)] if told else None
        self._udp = UdpSender(spec.host or multicast(min(numbers.values())), port, spec.interface)
        # Kept over a reopening: a count begun anew would have receivers drop up to 19 packets as late ones
        # (clause 6.7.2).
        self._sequence = 0
        self._sync_sequence = 0

    def open(self) -> None:
        """As `Output.open`."""
        self._udp.open()

    def send(self, frame: Frame) -> None:
        """As `Output.send`; the packets take the number after those before them (clause 6.2.5)."""
        packets: list[bytes | memoryview] = self._picture.data(self._rows.of(frame), self._sequence)
        self._sequence = next_sequence(self._sequence)
        if self._sync:
            # Numbered for itself: sequences are told apart by kind of packet and universe (clause 6.7.2).
            packets = [*packets, sync_packet(self._source.cid, self._sync, self._sync_sequence)]
            self._sync_sequence = next_sequence(self._sync_sequence)
        self._udp.send_all(packets, self._targets)
        if self._listed:
            self._discover()

    def close(self, last: Frame | None) -> None:
        """As `Output.close`; three packets with Stream_Terminated follow the last picture (clause 6.2.6)."""
        try:
            if last is not None:
                send_last(self.send, last, self._line)
                for _ in range(GOODBYE_PACKETS):
                    self._udp.send_all(self._picture.goodbye(self._sequence), self._targets)
                    self._sequence = next_sequence(self._sequence)
        finally:
            self._source.sends(self, ())
            self._on_list = False
            self._udp.close()

    def _discover(self) -> None:
        if not self._on_list:
            self._source.sends(self, self._listed)
            self._on_list = True
        if self._discovery is not None:
            for page in self._source.pages_due(self._udp.interface):
                self._udp.send_all((page,), self._discovery)
