"""Pictures and news for browsers."""

from __future__ import annotations

import struct
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.page.feed import Feed, difference, packet
from bridge.values.beat import Beat
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from bridge.values.rig import Lamp, Rig


def unpack(before: bytes, data: bytes) -> bytes:
    """As the browser does."""
    if data[0] == 1:
        return data[5:]
    out = bytearray(before)
    for lamp, drive in struct.iter_unpack("<HB", data[5:]):
        out[lamp] = drive
    return bytes(out)


@given(st.binary(max_size=600), st.data())
def test_a_packet_says_what_is_now(now: bytes, data: st.DataObject) -> None:
    """Whatever a browser saw before, the packet makes it see what is now, in no more bytes than all of it."""
    before = data.draw(st.one_of(st.just(now), st.just(b""), st.binary(min_size=len(now), max_size=len(now))))
    sent = packet(before, now, 7)
    assert unpack(before, sent) == now
    assert len(sent) <= 5 + len(now)
    assert struct.unpack_from("<I", sent, 1)[0] == 7


@given(
    st.dictionaries(st.text(max_size=3), st.integers()), st.dictionaries(st.text(max_size=3), st.integers())
)
def test_a_difference_leads_from_one_to_the_other(before: dict[str, Any], now: dict[str, Any]) -> None:
    """What changed, laid over what was, is what is; None takes a key away."""
    out = {key: value for key, value in (before | difference(before, now)).items() if value is not None}
    assert out == now


def test_drives_are_read_from_the_slots_of_the_lamps() -> None:
    """Each lamp's byte is the one on its universe and slot; of 16 bits, the coarse one."""
    rig = Rig(lamps=(Lamp("a", 0, 2, 512), Lamp("b", 1, 1, 3, bits=16), Lamp("c", 2, 1, 1)))
    slots = np.zeros((2, 512), np.uint8)
    slots[1, 511], slots[0, 2], slots[0, 3], slots[0, 0] = 9, 8, 77, 7
    feed = Feed(lambda: (4, Beat(1, 0.0), Frame(0.5, (1, 2), slots), {}), rig, lambda: 0.0)
    feed.turn()
    assert feed.drives == bytes([9, 8, 7])
    assert feed.number == 1


def test_a_show_that_stands_still_is_said_to() -> None:
    """No new frame for two seconds is told once; the next frame takes it back."""
    now = [0.0]
    count = [2]
    frame = Frame(0.0, (1,), np.zeros((1, 512), np.uint8))
    feed = Feed(lambda: (count[0], Beat(1, 0.0), frame, {}), Rig(lamps=(Lamp("a", 0, 1, 1),)), lambda: now[0])
    feed.turn()
    assert feed.news["still"] is False
    now[0] = 2.5
    feed.turn()
    assert feed.news["still"] is True
    count[0] = 4
    feed.turn()
    assert feed.news["still"] is False


def test_arrivals_are_told_with_what_can_be_taught() -> None:
    """A line of the news becomes an input, a kind and a number, as a lesson needs them."""
    lines = [
        ("USB Keystation 49", "C#3 (49) at 90", "keys", "note", 49),
        ("page USB Keystation", "control 21 at 64", "keys", "control", 21),
        ("pads", "bend -12", "", "bend", 0),
        ("keys", "program 3", "keys", None, None),
    ]
    events = [{"port": port, "what": what} for port, what, *_ in lines]
    frame = Frame(0.0, (1,), np.zeros((1, 512), np.uint8))
    feed = Feed(
        lambda: (2, Beat(1, 0.0), frame, {"events": events}), Rig(lamps=(Lamp("a", 0, 1, 1),)), lambda: 0.0
    )
    feed.hear(Mapping(inputs={"keys": "keystation"}))
    feed.turn()
    told = [(event["source"], event["kind"], event["number"]) for event in feed.news["events"]]
    assert told == [(source, kind, number) for *_, source, kind, number in lines]
