"""A Bach chorale played live: rtmidi over JACK into `play`, out as sACN, read by the `sacn` library."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sacn

from tests.acceptance.chorale import moments
from tests.acceptance.ears import sacn_port
from tests.acceptance.programs import NEEDS_POSIX, Piped, until
from tests.acceptance.scenes import SACN, picture
from tests.shell.jack import Keyboard

BEATS_A_SECOND = 6.0
"""Six seconds for 36 quarter notes; an eighth note is three and a third frames."""

pytestmark = NEEDS_POSIX


@pytest.fixture
def receiver() -> Iterator[sacn.sACNreceiver]:
    """The library's own receiver."""
    with sacn_port():
        one = sacn.sACNreceiver(bind_address="127.0.0.1")
        one.start()
        try:
            yield one
        finally:
            one.stop()


@pytest.mark.usefixtures("jack")
def test_the_last_picture_of_each_chord_is_right(
    scene: Path, cid: bytes, receiver: sacn.sACNreceiver
) -> None:
    """Every chord ends up as exactly its notes, at their velocities, two voices on one pitch merged."""
    pictures: list[tuple[float, tuple[int, ...]]] = []

    def take(packet: sacn.DataPacket) -> None:
        if bytes(packet.cid) == cid:
            pictures.append((time.monotonic(), packet.dmxData))

    receiver.register_listener("universe", take, universe=1)
    sounding: dict[tuple[int, int], int] = {}
    late = []
    with (
        Keyboard("organ", "organ manual") as keys,
        Piped("play", "--no-page", "--midi-in", "organ", "--out", SACN, folder=scene) as show,
    ):
        show.says("in: organ manual")
        until(lambda: pictures, "a picture came")
        begin = time.monotonic()
        for beat, messages in moments():
            # In time with the music; a machine that was held up plays the rest later, not faster.
            begin = max(begin, time.monotonic() - beat / BEATS_A_SECOND - 0.05)
            due = begin + beat / BEATS_A_SECOND
            until(lambda due=due: time.monotonic() >= due, "the beat comes")
            sent = time.monotonic()
            keys.play(*(message.bytes() for message in messages))
            for message in messages:
                key = message.channel, message.note
                if message.type == "note_on":
                    sounding[key] = message.velocity
                else:
                    del sounding[key]
            merged: dict[int, int] = {}
            for (_, note), velocity in sounding.items():
                merged[note] = max(velocity, merged.get(note, 0))
            wanted = picture(merged)
            until(lambda wanted=wanted: pictures[-1][1] == wanted, f"beat {beat:g} shows {merged}")
            late.append(max(0.0, pictures[-1][0] - sent))
        assert not sounding
        assert not any(pictures[-1][1])
        assert len(late) == 52
    print(f"note sent to picture received: median {statistics.median(late) * 1e3:.1f} ms")
    assert statistics.median(late) < 0.1
