"""One program is one source: its CID and the list of universes it sends."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from sacn.messages.universe_discovery import UniverseDiscoveryPacket

from bridge.shell.outputs.cid import sender_cid
from bridge.shell.outputs.sacn_source import FIRST_AFTER, INTERVAL, SacnSource
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from tests.reference_rows import rows

from .bench import CID, UdpEnd

RULES = {row["field"]: row["value_or_rule"] for row in rows("sacn_e131.csv")}
HERE = "127.0.0.1"


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.time = 0.0

    def __call__(self) -> float:
        return self.time


@pytest.fixture
def end() -> Iterator[UdpEnd]:
    """A socket here, in place of a host and of the discovery group."""
    made = UdpEnd()
    yield made
    made.close()


def frame(*universes: int) -> Frame:
    """A dark frame of these universes."""
    return Frame(0.0, universes, np.zeros((len(universes), SLOTS), np.uint8))


def lists(end: UdpEnd) -> list[tuple[int, ...]]:
    """The lists of universes among the packets that lie there, read by the sacn library."""
    found = []
    while True:
        try:
            packet = end.take(0.0)
        except BlockingIOError:
            return found
        if packet[18:22] == b"\x00\x00\x00\x08":  # VECTOR_ROOT_E131_EXTENDED (Table 4-3)
            read = UniverseDiscoveryPacket.make_universe_discovery_packet(list(packet))
            assert (read.cid, read.sourceName) == (tuple(CID), "Lampwright")
            found.append(read.universes)


def output(
    end: UdpEnd, source: SacnSource, *universes: int, discover: bool = True, interface: str = ""
) -> SacnOutput:
    """An open output of these universes that sends its data and the list to `end`."""
    spec = OutputSpec("sacn", whole=True, host=HERE, discover=discover, interface=interface)
    made = SacnOutput(spec, dict.fromkeys(universes, 24), end.port, source, discovery=HERE)
    made.open()
    return made


def test_the_interval_is_the_published_one() -> None:
    """E131_UNIVERSE_DISCOVERY_INTERVAL is 10 s (Appendix A)."""
    assert RULES["universe discovery interval"].startswith(f"{INTERVAL:g} s ")


def test_the_list_comes_every_ten_seconds(end: UdpEnd) -> None:
    """Once the outputs had a second to open, the list goes out, then again every ten seconds (clause 4.3)."""
    clock = Clock()
    one = output(end, SacnSource(CID, clock), 3, 300)
    moments = []
    for tenth in range(450):
        clock.time = tenth / 10
        one.send(frame(3, 300))
        if found := lists(end):
            assert found == [(3, 300)]
            moments.append(clock.time)
    one.close(None)
    assert moments[0] == FIRST_AFTER
    assert {after - before for before, after in pairwise(moments)} == {INTERVAL}
    assert len(moments) == 5


def test_one_list_names_the_universes_of_all_outputs(end: UdpEnd) -> None:
    """A source is its CID: one list has what all outputs send, ascending, and goes out once (clause 8.5)."""
    clock = Clock()
    source = SacnSource(CID, clock)
    one, two = output(end, source, 7, 9), output(end, source, 8, 300)
    one.send(frame(7, 9))
    two.send(frame(8, 300))
    clock.time = FIRST_AFTER
    one.send(frame(7, 9))
    two.send(frame(8, 300))
    assert lists(end) == [(7, 8, 9, 300)]
    two.close(frame(8, 300))
    clock.time += INTERVAL
    one.send(frame(7, 9))
    assert lists(end) == [(7, 9)]
    one.close(None)
    assert source.universes == ()


def test_each_interface_is_told(end: UdpEnd) -> None:
    """Receivers on two networks each hear the list."""
    clock = Clock()
    source = SacnSource(CID, clock)
    outputs = [output(end, source, 1, interface=HERE), output(end, source, 2)]
    for clock.time in (0.0, FIRST_AFTER):
        for one in outputs:
            one.send(frame(1, 2))
    assert lists(end) == [(1, 2), (1, 2)]
    for one in outputs:
        one.close(None)


def test_an_output_may_stay_off_the_list(end: UdpEnd) -> None:
    """With `discover: false` its universes are not named, and it sends no list."""
    clock = Clock()
    source = SacnSource(CID, clock)
    quiet, one = output(end, source, 1, discover=False), output(end, source, 2)
    for clock.time in (0.0, FIRST_AFTER, FIRST_AFTER + INTERVAL):
        quiet.send(frame(1))
    assert lists(end) == []
    for clock.time in (20.0, 20.0 + FIRST_AFTER):
        one.send(frame(2))
    assert lists(end) == [(2,)]
    quiet.close(None)
    one.close(None)


def test_a_host_is_sent_no_list(end: UdpEnd) -> None:
    """Discovery tells which groups can be joined; a host gets its universes unasked, and only those."""
    clock = Clock()
    one = SacnOutput(OutputSpec("sacn", host=HERE), 24, end.port, SacnSource(CID, clock))
    one.open()
    for clock.time in (0.0, FIRST_AFTER, FIRST_AFTER + INTERVAL):
        one.send(frame(1))
    assert lists(end) == []
    one.close(None)


def test_without_a_host_the_list_goes_to_the_discovery_group() -> None:
    """Universe 64214 is 239.255.250.214 (Appendix A, Table 9-10); nothing is sent here."""
    one = SacnOutput(OutputSpec("sacn"), 24, source=SacnSource(CID))
    assert one._discovery == [("239.255.250.214", 5568)]
    assert RULES["discovery universe"].endswith("239.255.250.214")


def test_two_sources_in_one_program_have_one_cid() -> None:
    """Unless told otherwise a source has this program's CID."""
    assert SacnSource().cid == SacnSource().cid == sender_cid()
