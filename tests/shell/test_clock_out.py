"""Our beat as a MIDI clock, read back by our own reader of clocks and by mido."""

from __future__ import annotations

import math
import threading
import time

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.pulse import Pulse
from bridge.shell.clock import Clock
from bridge.shell.clock_out import ClockOut, Ticks
from bridge.values.events import Event, RealTime, SongPosition
from bridge.wire.midi_in import MidiDecoder
from tests.shell.jack import until

HZ = 40


def run(beat: object, seconds: float, bpm: float) -> list[tuple[float, bytes]]:
    """Messages with their moments, for a beat told with each frame; `beat` gives it at a time."""
    ticks, out = Ticks(), []
    for k in range(round(seconds * HZ)):
        t = k / HZ
        while ticks.next_at < t:
            at = ticks.next_at
            out.append((at, ticks.tick()))
        out += [(t, message) for message in ticks.tell(t, beat(t), bpm)]  # type: ignore[operator]
    return out


def heard(messages: list[tuple[float, bytes]]) -> Pulse:
    """A receiver that has heard them."""
    pulse, decoder = Pulse(), MidiDecoder("p")
    for t, message in messages:
        for event in decoder.feed(message, t):
            obey(pulse, event)
    return pulse


def obey(pulse: Pulse, event: Event) -> None:
    """What a receiver does with a message."""
    if isinstance(event, SongPosition):
        pulse.place(event.sixteenths)
    elif isinstance(event, RealTime):
        does = {
            "clock": lambda: pulse.tick(event.stamp),
            "continue": pulse.go_on,
            "stop": lambda: pulse.stop(event.stamp),
        }
        does[event.kind]()


@given(bpm=st.floats(30, 300), first=st.floats(0, 100))
def test_a_receiver_is_where_we_are(bpm: float, first: float) -> None:
    """A receiver of our clock has our beat, within a hundredth, and our tempo."""
    messages = run(lambda t: first + t * bpm / 60, 6.0, bpm)
    at = messages[-1][0] + 0.001
    pulse = heard(messages)
    assert pulse.beat(at) == pytest.approx(first + at * bpm / 60, abs=0.01)
    assert pulse.bpm == pytest.approx(bpm, rel=0.01)


def test_the_bytes_are_those_of_the_standard() -> None:
    """mido reads song position, continue, then clocks, 24 a quarter."""
    messages = [mido.Message.from_bytes(message) for _, message in run(lambda t: t * 2, 3.0, 120.0)]
    assert [one.type for one in messages[:3]] == ["songpos", "continue", "clock"]
    assert messages[0].pos == 1
    assert sum(one.type == "clock" for one in messages) == pytest.approx(24 * 6 - 6, abs=2)


def test_a_leap_tells_the_place_anew() -> None:
    """Our beat leaps by three: stop, the new place, continue; the receiver is right again at once."""
    messages = run(lambda t: t * 2 + (3.0 if t > 2.0 else 0.0), 5.0, 120.0)
    kinds = [mido.Message.from_bytes(message).type for t, message in messages if t > 1.9]
    assert "stop" in kinds
    at = messages[-1][0] + 0.001
    assert heard(messages).beat(at) == pytest.approx(at * 2 + 3.0, abs=0.02)


def test_numbers_that_are_none_are_left_out() -> None:
    """A beat or tempo that is no number sends nothing."""
    ticks = Ticks()
    assert ticks.tell(0.0, math.nan, 120.0) == []
    assert ticks.tell(0.0, 1.0, 0.0) == []
    assert ticks.next_at == math.inf


def test_a_real_thread_keeps_time_and_says_stop() -> None:
    """For a second at 120 bpm ticks leave within a few milliseconds of their time, and stop comes last."""
    sent: list[tuple[float, bytes]] = []
    clock = Clock()
    out = ClockOut(lambda message: sent.append((clock.now(), message)), clock)
    start = clock.now()
    pause = threading.Event()
    while clock.now() < start + 1.2:
        now = clock.now()
        out.tell(now, (now - start) * 2, 120.0)
        pause.wait(0.02)
    out.close()
    ticks = [t for t, message in sent if message == b"\xf8"]
    first = (1 / 4) / 2
    late = sorted(t - start - first - n * 60 / 120 / 24 for n, t in enumerate(ticks))
    assert len(ticks) == pytest.approx(51, abs=3)
    assert abs(late[len(late) // 2]) < 0.005
    assert sent[-1][1] == b"\xfc"
    clock.close()


def test_a_port_that_fails_is_said() -> None:
    """A port that does not take a message is trouble shown, and the clock goes on."""

    def fail(_message: bytes) -> None:
        raise OSError("unplugged")

    clock = Clock()
    out = ClockOut(fail, clock)
    out.tell(time.perf_counter(), 0.0, 120.0)
    until(lambda: "unplugged" in out.trouble, "the trouble is shown")
    out.close()
    clock.close()
