"""Every packet and framed message of the table of cases, both ways, cut short and with bytes behind it."""

from __future__ import annotations

import pytest

from bridge.values.errors import WireError
from bridge.wire import dmx_serial
from tests.wire.cases import PACKETS, PacketCase

DATAGRAMS = [case for case in PACKETS if not case.name.startswith("framed")]
FRAMED = [case for case in PACKETS if case.name.startswith("framed")]


@pytest.mark.parametrize("case", PACKETS, ids=str)
def test_both_ways(case: PacketCase) -> None:
    """A packet is written as its bytes, and the bytes say what went in."""
    assert case.encode() == case.data
    assert case.parse(case.data) == case.value


@pytest.mark.parametrize("case", DATAGRAMS, ids=str)
def test_a_cut_datagram_is_an_error(case: PacketCase) -> None:
    """No beginning of a packet passes for a whole one."""
    for cut in range(len(case.data)):
        with pytest.raises(WireError, match=r"^byte \d+[:,] "):
            case.parse(case.data[:cut])


@pytest.mark.parametrize("case", FRAMED, ids=str)
def test_a_framed_message_waits_for_its_end(case: PacketCase) -> None:
    """A framed message comes out with its last byte, none before, and what follows it waits."""
    for cut in range(len(case.data)):
        reader = dmx_serial.FramedReader()
        assert reader.feed(case.data[:cut]) == []
        assert reader.feed(case.data[cut:] + case.data[:3]) == case.value
        assert reader.feed(case.data[3:]) == case.value
        assert reader.rubbish == 0
