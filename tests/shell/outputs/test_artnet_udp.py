"""ArtDmx on the wire, read by a plain socket."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from bridge.shell.outputs.artnet_udp import ArtnetOutput
from bridge.values.errors import DeviceError
from bridge.values.frame import Frame
from bridge.values.rig import OutputSpec
from bridge.wire import artnet

from .bench import UdpEnd, picture

SPEC = OutputSpec("artnet", carried_as=0x123, host="127.0.0.1")


@pytest.fixture
def end() -> Iterator[UdpEnd]:
    """A socket here."""
    made = UdpEnd()
    yield made
    made.close()


def test_the_bytes_are_those_of_the_codec(end: UdpEnd) -> None:
    """What arrives is the codec's packet, numbered 1 to 255 and 1 again: 0 would mean no numbers."""
    output = ArtnetOutput(SPEC, 24, end.port)
    output.open()
    for k in range(300):
        output.send(picture(k % 256))
        assert end.take() == artnet.artdmx(0x123, picture(k % 256).universe(1), k % 255 + 1)
    output.close(None)


def test_the_end_is_the_last_picture_three_times(end: UdpEnd) -> None:
    """Art-Net has no goodbye; after the last picture the line is silent."""
    output = ArtnetOutput(SPEC, 24, end.port)
    output.open()
    output.close(picture(0))
    assert [artnet.parse(end.take()).slots for _ in range(3)] == [picture(0).universe(1)] * 3
    with pytest.raises(TimeoutError):
        end.take(0.01)


@pytest.mark.parametrize(("pad_to", "top", "slots"), [(0, 24, 512), (24, 31, 32), (100, 31, 100)])
def test_how_many_slots_go_out(end: UdpEnd, pad_to: int, top: int, slots: int) -> None:
    """All 512 unless pad_to is given; the length is even in any case."""
    output = ArtnetOutput(OutputSpec("artnet", carried_as=0, host="127.0.0.1", pad_to=pad_to), top, end.port)
    output.open()
    output.send(picture(9))
    output.close(None)
    sent = artnet.parse(end.take()).slots
    assert len(sent) == slots
    reach = max(top, pad_to or 512)
    assert sent[:reach] == picture(9).universe(1)[:reach]
    assert not any(sent[reach:])


def test_an_early_output_sends_the_slots_in_use(end: UdpEnd) -> None:
    """The fewer slots, the sooner a line is free for the next packet (ANSI E1.11): 24 at least, and even."""
    for top, slots in ((3, 24), (31, 32), (512, 512)):
        spec = OutputSpec("artnet", carried_as=0, host="127.0.0.1", early=True)
        output = ArtnetOutput(spec, top, end.port)
        output.open()
        output.send(picture(9))
        output.close(None)
        assert len(artnet.parse(end.take()).slots) == slots


def test_a_whole_rig(end: UdpEnd) -> None:
    """Each universe goes out under its own Port-Address, all with one number a picture."""
    slots = np.arange(3 * 512, dtype=np.uint32).reshape(3, 512).astype(np.uint8)
    frame = Frame(0.0, (1, 2, 300), slots)
    spec = OutputSpec("artnet", sends=1, carried_as=0, host="127.0.0.1", whole=True)
    output = ArtnetOutput(spec, {1: 24, 2: 24, 300: 24}, end.port)
    output.open()
    for sequence in (1, 2):
        output.send(frame)
        packets = [end.take() for _ in range(3)]
        assert packets == [
            artnet.artdmx(address, frame.universe(universe), sequence)
            for address, universe in ((0, 1), (1, 2), (299, 300))
        ]
    output.close(None)


@pytest.mark.parametrize(
    ("host", "why"),
    [
        ("", "no host is named"),
        ("255.255.255.255", "broadcast"),
        ("10.255.255.255", "broadcast"),
        ("239.255.0.1", "multicast"),
    ],
)
def test_only_one_nodes_address_is_taken(host: str, why: str) -> None:
    """Broadcast and multicast are refused with the reason and what to write."""
    with pytest.raises(DeviceError, match=f"{why}.*; write the node's own address as host"):
        ArtnetOutput(OutputSpec("artnet", host=host), 24).open()


def test_the_port_is_6454() -> None:
    """0x1936, by the specification."""
    assert ArtnetOutput(SPEC, 24)._udp.port == 6454
