"""Knows: what a receiver of streaming ACN shows of one universe, from the clauses of ANSI E1.31-2018.

Must never know: our own packets' code, sockets, or clocks; packets are read by the `sacn` library.

The library's own receiver is no full peer here: it keeps one sequence number a universe where clause 6.7.2
wants one a source (so up to 19 packets of a source that takes over are left), and it forgets the priority of
a source that said goodbye only after 2.5 s (clause 6.2.6 wants it forgotten at once).
"""

from __future__ import annotations

from dataclasses import dataclass

from sacn.messages.data_packet import DataPacket

DATA_LOSS = 2.5
"""Seconds without a packet until a source is gone: E131_NETWORK_DATA_LOSS_TIMEOUT (Appendix A, 6.7.1)."""


@dataclass
class Heard:
    """One source."""

    at: float
    sequence: int
    priority: int
    slots: tuple[int, ...]


class Receiver:
    """One universe of a receiver that holds the last picture when nobody sends.

    Attributes:
        history: (seconds, CID, slots) each time another source or picture shows.
    """

    def __init__(self, universe: int = 1) -> None:
        self._universe = universe
        self._sources: dict[bytes, Heard] = {}
        self.history: list[tuple[float, bytes, tuple[int, ...]]] = []

    def hear(self, raw: bytes, now: float) -> None:
        """Take a datagram that came at `now`."""
        self.look(now)
        try:
            packet = DataPacket.make_data_packet(list(raw))
        except TypeError:  # synchronization or discovery
            return
        cid = bytes(packet.cid)
        if packet.universe != self._universe or packet.option_PreviewData:  # 6.2.6: not for the stage
            return
        if packet.option_StreamTerminated:  # 6.2.6: lost at once, its slots mean nothing
            self._sources.pop(cid, None)
        else:
            known = self._sources.get(cid)
            if known is not None and not in_order(known.sequence, packet.sequence):
                return
            self._sources[cid] = Heard(now, packet.sequence, packet.priority, packet.dmxData)
        self.look(now)

    def look(self, now: float) -> None:
        """Show what is to be seen at `now`."""
        for cid, source in list(self._sources.items()):
            if now - source.at > DATA_LOSS:  # 6.7.1
                del self._sources[cid]
        if not self._sources:
            return  # holds what it showed
        cid, best = max(self._sources.items(), key=lambda item: item[1].priority)  # 6.2.3
        if not self.history or self.history[-1][1:] != (cid, best.slots):
            self.history.append((now, cid, best.slots))

    @property
    def source(self) -> bytes:
        """The CID of the source that shows; empty before the first."""
        return self.history[-1][1] if self.history else b""


def in_order(last: int, new: int) -> bool:
    """Clause 6.7.2: as a signed byte, the difference is above 0 or at most -20."""
    difference = int.from_bytes(((new - last) & 0xFF).to_bytes(1), signed=True)
    return difference > 0 or difference <= -20
