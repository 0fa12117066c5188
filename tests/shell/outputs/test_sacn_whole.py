"""A whole rig over streaming ACN: many universes, synchronization, early; read by the sacn library."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from sacn.messages.data_packet import DataPacket
from sacn.messages.sync_packet import SyncPacket

from bridge.shell.outputs import OutputWorker
from bridge.shell.outputs.sacn_source import SacnSource
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire import sacn

from .bench import CID, UdpEnd, eventually

HERE = "127.0.0.1"
UNIVERSES = tuple(range(1, 65))
TOPS = dict.fromkeys(UNIVERSES, 512)
WHOLE = OutputSpec("sacn", host=HERE, whole=True)


@pytest.fixture
def end() -> Iterator[UdpEnd]:
    """A socket here."""
    made = UdpEnd()
    yield made
    made.close()


def frame(seed: int, universes: tuple[int, ...] = UNIVERSES) -> Frame:
    """Some picture."""
    slots = np.random.default_rng(seed).integers(0, 256, (len(universes), SLOTS), dtype=np.uint8)
    return Frame(seed / 44, universes, slots)


def opened(spec: OutputSpec, end: UdpEnd, tops: dict[int, int] = TOPS) -> SacnOutput:
    """The output, ready to send to `end`."""
    made = SacnOutput(spec, tops, end.port, SacnSource(CID))
    made.open()
    return made


def test_64_universes_arrive_each_under_its_number(end: UdpEnd) -> None:
    """A picture is 64 packets, each universe counted for itself (clause 6.2.5): 32,768 slots as they were."""
    output = opened(WHOLE, end)
    for k in range(3):
        output.send(frame(k))
        for universe in UNIVERSES:
            read = DataPacket.make_data_packet(list(end.take()))
            assert (read.universe, read.sequence, read.syncAddr) == (universe, k, 0)
            assert read.dmxData == tuple(frame(k).universe(universe))
    output.close(None)


def test_numbers_follow_the_lowest(end: UdpEnd) -> None:
    """With `sends` 0 the lowest goes out as `carried_as`, the others at their distances in the rig."""
    output = opened(
        OutputSpec("sacn", sends=0, carried_as=100, host=HERE, whole=True), end, {3: 9, 5: 9, 9: 9}
    )
    output.send(frame(1, (3, 5, 9)))
    assert [sacn.parse(end.take()).universe for _ in range(3)] == [100, 102, 106]
    output.close(None)


def test_every_stream_is_ended(end: UdpEnd) -> None:
    """Each universe has its last picture three times, then three times Stream_Terminated (clause 6.2.6)."""
    output = opened(WHOLE, end, {1: 24, 2: 24})
    output.send(frame(1, (1, 2)))
    output.close(frame(2, (1, 2)))
    packets = [sacn.parse(end.take()) for _ in range(14)]
    for universe in (1, 2):
        mine = [packet for packet in packets if packet.universe == universe]
        assert [packet.terminated for packet in mine] == [False] * 4 + [True] * 3
        assert [packet.sequence for packet in mine] == list(range(7))
        assert {packet.slots for packet in mine[1:4]} == {frame(2, (1, 2)).universe(universe)}


@pytest.mark.parametrize("sync", [7962, 2])
def test_a_synchronization_packet_follows_each_picture(end: UdpEnd, sync: int) -> None:
    """After the data comes the library's own SyncPacket, counted for itself (clauses 6.3.2 and 6.3.3).

    The universe may be one that carries data.
    """
    output = opened(OutputSpec("sacn", host=HERE, whole=True, sync=sync), end, {1: 24, 2: 24})
    output.send(frame(0, (1, 2)))
    output.close(None)
    output.open()
    for _ in range(257):
        output.send(frame(0, (1, 2)))
    for k in range(258):
        for universe in (1, 2):
            read = sacn.parse(end.take())
            assert (read.universe, read.sequence, read.sync_address) == (universe, k % 256, sync)
            assert read.force_sync
        assert list(end.take()) == SyncPacket(tuple(CID), sync, k % 256).getBytes()
    output.close(None)


def test_the_last_picture_is_synchronized_and_the_goodbye_is_not(end: UdpEnd) -> None:
    """The last picture shows on all universes at once; then the streams end, and nothing follows (6.2.6)."""
    output = opened(OutputSpec("sacn", host=HERE, sync=9), end, {1: 24})
    output.send(frame(1, (1,)))
    output.close(frame(2, (1,)))
    kinds = [{4: "data", 8: "sync"}[end.take()[21]] for _ in range(8)]  # root vector (clause 5.5)
    assert kinds == ["data", "sync"] * 4
    assert [sacn.parse(packet).terminated for packet in (end.take() for _ in range(3))] == [True] * 3
    with pytest.raises(TimeoutError):
        end.take(0.01)


def test_an_unchanged_picture_is_kept_alive_on_all_universes(end: UdpEnd) -> None:
    """One picture, and 0.8 to 1 s later every universe and the synchronization again (clause 6.6.2)."""
    spec = OutputSpec("sacn", host=HERE, whole=True, sync=9)
    worker = OutputWorker(SacnOutput(spec, {1: 24, 2: 24}, end.port, SacnSource(CID)), spec)
    worker.post(frame(1, (1, 2)))
    assert eventually(lambda: worker.state().sent == 2)
    packets = [end.take() for _ in range(6)]
    assert [sacn.parse(packets[k]).universe for k in (0, 1, 3, 4)] == [1, 2, 1, 2]
    assert [SyncPacket.make_sync_packet(list(packets[k])).sequence for k in (2, 5)] == [0, 1]
    assert worker.close(hold=True)


def test_without_a_host_each_universe_has_its_group() -> None:
    """Data goes to its universe's group, synchronization to its own (Table 9-10, 6.3.3); none is sent."""
    spec = OutputSpec("sacn", whole=True, sync=7962, interface=HERE)
    output = SacnOutput(spec, {1: 24, 7: 24, 256: 24}, source=SacnSource(CID))
    groups = ["239.255.0.1", "239.255.0.7", "239.255.1.0", "239.255.31.26"]
    assert output._targets == [(group, 5568) for group in groups]
    output.open()
    output.close(None)


@pytest.mark.parametrize(
    ("pad_to", "tops", "lengths"),
    [(0, {1: 3, 2: 40}, [24, 40]), (100, {1: 3, 2: 512}, [100, 512]), (0, {1: 0, 2: 512}, [512, 512])],
)
def test_an_early_output_sends_the_slots_in_use(
    end: UdpEnd, pad_to: int, tops: dict[int, int], lengths: list[int]
) -> None:
    """The time a line needs for a packet grows with its slots (ANSI E1.11), so no more go out than must.

    24 at least, or `pad_to`; all of a universe of which nothing is known.
    """
    output = opened(OutputSpec("sacn", host=HERE, whole=True, early=True, pad_to=pad_to), end, tops)
    shown = frame(1, (1, 2))
    output.send(shown)
    output.close(None)
    read = [sacn.parse(end.take()) for _ in lengths]
    assert [packet.slots for packet in read] == [
        shown.universe(universe)[:length] for universe, length in zip((1, 2), lengths, strict=True)
    ]
