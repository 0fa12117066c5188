"""Streaming ACN on the wire, read by the codec, by a plain socket and by an independent receiver."""

from __future__ import annotations

import queue
import time
from collections.abc import Iterator
from itertools import pairwise

import pytest
import sacn as sacn_library

from bridge.shell.outputs import OutputWorker
from bridge.shell.outputs.cid import sender_cid
from bridge.shell.outputs.sacn_source import SacnSource
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.shell.outputs.schedule import KEEP_ALIVE
from bridge.values.rig import OutputSpec
from bridge.wire import sacn

from .bench import CID, UdpEnd, picture

SPEC = OutputSpec("sacn", sends=1, carried_as=7, host="127.0.0.1", priority=120)


@pytest.fixture
def end() -> Iterator[UdpEnd]:
    """A socket here."""
    made = UdpEnd()
    yield made
    made.close()


def test_the_bytes_are_those_of_the_codec(end: UdpEnd) -> None:
    """What arrives is the codec's packet, numbered from 0 up and 0 again after 255 (E1.31 clause 6.2.5)."""
    output = SacnOutput(SPEC, 40, end.port, SacnSource(CID))
    codec = sacn.SacnPackets(CID, "Lampwright", 7, 120, 512)
    output.open()
    for k in range(300):
        output.send(picture(k % 256))
        assert end.take() == codec.data(picture(k % 256).universe(1), k % 256)
    output.close(None)


def test_the_end_of_the_stream(end: UdpEnd) -> None:
    """The last picture three times, then three packets with Stream_Terminated, numbered on (6.2.6)."""
    output = SacnOutput(SPEC, 40, end.port, SacnSource(CID))
    output.open()
    output.send(picture(5))
    output.close(picture(0))
    packets = [sacn.parse(end.take()) for _ in range(7)]
    assert [packet.terminated for packet in packets] == [False] * 4 + [True] * 3
    assert [packet.sequence for packet in packets] == list(range(7))
    assert {packet.slots for packet in packets[1:4]} == {picture(0).universe(1)}
    with pytest.raises(TimeoutError):
        end.take(0.01)


def test_a_failed_socket_says_no_goodbye_and_goes_on_counting(end: UdpEnd) -> None:
    """Reopened, the numbers of the stream go on, or receivers would drop its packets as late (6.7.2)."""
    output = SacnOutput(SPEC, 40, end.port, SacnSource(CID))
    output.open()
    output.send(picture(1))
    output.close(None)
    output.open()
    output.send(picture(2))
    output.close(None)
    first, second = sacn.parse(end.take()), sacn.parse(end.take())
    assert (first.sequence, second.sequence) == (0, 1)
    assert not second.terminated


@pytest.mark.parametrize(
    ("pad_to", "top", "slots"), [(0, 24, 512), (24, 40, 40), (100, 40, 100), (512, 1, 512)]
)
def test_how_many_slots_go_out(end: UdpEnd, pad_to: int, top: int, slots: int) -> None:
    """All 512 unless pad_to is given; then up to the highest in use, at least pad_to."""
    spec = OutputSpec("sacn", host="127.0.0.1", pad_to=pad_to)
    output = SacnOutput(spec, top, end.port, SacnSource(CID))
    output.open()
    output.send(picture(9))
    output.close(None)
    assert sacn.parse(end.take()).slots == picture(9).universe(1)[:slots]


def test_sends_is_not_carried_as(end: UdpEnd) -> None:
    """`sends` picks the universe of the frame, `carried_as` numbers the packet; one not there is dark."""
    for sends, expected in ((3, picture(8, universe=3).universe(3)), (4, bytes(512))):
        output = SacnOutput(
            OutputSpec("sacn", sends=sends, carried_as=9, host="127.0.0.1"), 24, end.port, SacnSource(CID)
        )
        output.open()
        output.send(picture(8, universe=3))
        output.close(None)
        packet = sacn.parse(end.take())
        assert (packet.universe, packet.slots) == (9, expected)


def test_name_cid_and_port_of_the_sender(end: UdpEnd) -> None:
    """The source is called Lampwright, carries the CID kept between runs, and speaks to port 5568."""
    output = SacnOutput(SPEC, 24, end.port)
    output.open()
    output.send(picture(1))
    output.close(None)
    packet = sacn.parse(end.take())
    assert (packet.name, packet.cid, packet.priority) == ("Lampwright", sender_cid(), 120)
    assert SacnOutput(SPEC, 24)._udp.port == 5568


def test_without_a_host_it_goes_to_the_group() -> None:
    """Universe 258 is 239.255.1.2 (Table 9-10); nothing is sent here."""
    output = SacnOutput(OutputSpec("sacn", carried_as=258, interface="127.0.0.1"), 24)
    output.open()
    assert output._udp.target == ("239.255.1.2", 5568)
    output.close(None)


def test_keep_alive_is_seen_on_the_wire(end: UdpEnd) -> None:
    """One frame, then the same again 0.8 to 1 s later with the next number (E1.31 6.6.2; E1.11 Table 6)."""
    worker = OutputWorker(SacnOutput(SPEC, 24, end.port, SacnSource(CID)), SPEC)
    worker.post(picture(4))
    packets, moments = [], []
    for _ in range(3):
        packets.append(sacn.parse(end.take()))
        moments.append(time.monotonic())
    gaps = [after - before for before, after in pairwise(moments)]
    # A reader that is itself late shortens the next gap; a busy machine may spoil one, hardly both.
    assert min(gaps) <= 1.0
    assert sum(gaps) >= 2 * KEEP_ALIVE - 0.1
    assert {packet.slots for packet in packets} == {picture(4).universe(1)}
    assert [packet.sequence for packet in packets] == [0, 1, 2]
    assert worker.close(hold=True)


def test_an_independent_receiver_hears_it() -> None:
    """The sacn library's receiver gets the levels and sees the universe come and, on our goodbye, go."""
    probe = UdpEnd()
    port = probe.port
    probe.close()
    levels: queue.Queue[tuple[int, ...]] = queue.Queue()
    comings: queue.Queue[tuple[int, str]] = queue.Queue()
    receiver = sacn_library.sACNreceiver(bind_address="127.0.0.1", bind_port=port)
    receiver.register_listener("universe", lambda packet: levels.put(packet.dmxData), universe=7)
    receiver.register_listener("availability", lambda universe, changed: comings.put((universe, changed)))
    receiver.start()
    worker = OutputWorker(SacnOutput(SPEC, 24, port, SacnSource(CID)), SPEC)
    try:
        for value in (1, 2, 3):
            worker.post(picture(value))
            assert levels.get(timeout=5) == tuple(picture(value).universe(1))
        assert comings.get(timeout=5) == (7, "available")
        assert worker.close(hold=False)
        assert levels.get(timeout=5) == (0,) * 512
        assert comings.get(timeout=5) == (7, "timeout")
    finally:
        worker.close(hold=False)
        receiver.stop()
