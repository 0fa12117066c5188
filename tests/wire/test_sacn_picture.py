"""Packets of many universes at once, against the codec of one universe and the sacn library's reader."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sacn.messages.data_packet import DataPacket

from bridge.wire import sacn
from bridge.wire.sacn_picture import SacnPicture
from tests.wire.cases import CID

SLOTS = st.lists(st.integers(1, 512), min_size=1, max_size=6)


def codecs(slots: list[int], sync: int = 0) -> list[sacn.SacnPackets]:
    """One universe each, 10 up, with these numbers of slots."""
    return [
        sacn.SacnPackets(CID, "boathouse", 10 + row, 90, count, sync, force_sync=bool(sync))
        for row, count in enumerate(slots)
    ]


def levels(seed: int, universes: int) -> np.ndarray:
    """Some picture."""
    return np.random.default_rng(seed).integers(0, 256, (universes, 512), dtype=np.uint8)


@given(SLOTS, st.integers(0, 255), st.integers(0, 9), st.sampled_from([0, 7962]))
def test_each_packet_is_that_of_its_universe_alone(
    slots: list[int], sequence: int, seed: int, sync: int
) -> None:
    """Row by row the bytes are those of the codec that Table 4-1 checks, whatever was sent before."""
    picture = SacnPicture(codecs(slots, sync))
    picture.data(levels(seed + 1, len(slots)), 255 - sequence)
    rows = levels(seed, len(slots))
    made = [bytes(packet) for packet in picture.data(rows, sequence)]
    assert made == [
        codec.data(row.tobytes(), sequence) for codec, row in zip(codecs(slots, sync), rows, strict=True)
    ]


def test_an_independent_reader_takes_64_universes() -> None:
    """32,768 slots come out of the sacn library's reader as they went in, each universe under its number."""
    rows = levels(3, 64)
    for number, packet in enumerate(SacnPicture(codecs([512] * 64)).data(rows, 200)):
        read = DataPacket.make_data_packet(list(packet))
        assert (read.universe, read.sequence, read.priority) == (10 + number, 200, 90)
        assert read.dmxData == tuple(rows[number].tolist())


def test_the_goodbye_ends_every_stream_and_changes_no_packet() -> None:
    """All packets have Stream_Terminated, and those of the next picture have not (clause 6.2.6)."""
    picture = SacnPicture(codecs([24, 512]))
    rows = levels(1, 2)
    before = [bytes(packet) for packet in picture.data(rows, 7)]
    last = [sacn.parse(bytes(packet)) for packet in picture.goodbye(8)]
    assert [(one.universe, one.terminated, one.sequence, len(one.slots)) for one in last] == [
        (10, True, 8, 24),
        (11, True, 8, 512),
    ]
    assert [DataPacket.make_data_packet(list(one)).option_StreamTerminated for one in picture.goodbye(8)] == [
        True,
        True,
    ]
    assert [bytes(packet) for packet in picture.data(rows, 7)] == before


def test_a_synchronized_stream_goes_on_when_synchronization_stops() -> None:
    """With a synchronization address the packets carry Force_Synchronization, to the end (clause 6.2.6)."""
    picture = SacnPicture(codecs([24], 7962))
    read = sacn.parse(bytes(picture.data(levels(1, 1), 0)[0]))
    assert (read.sync_address, read.force_sync) == (7962, True)
    last = DataPacket.make_data_packet(list(picture.goodbye(1)[0]))
    assert (last.syncAddr, last.option_ForceSync, last.option_StreamTerminated) == (7962, True, True)


def test_a_picture_of_nothing_is_our_own_mistake() -> None:
    """There is no picture without a universe."""
    with pytest.raises(ValueError, match="at least one universe"):
        SacnPicture([])
