"""The worker: one thread an output, which nobody waits for and which cannot die quietly."""

from __future__ import annotations

import socket
import threading
import time
from contextlib import suppress
from itertools import pairwise
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.outputs.artnet_udp import ArtnetOutput
from bridge.shell.outputs.base import (
    END_WITHIN,
    LAST_SENDS,
    Output,
    OutputWorker,
    close_all,
    line_seconds,
    send_last,
    slots_sent,
)
from bridge.shell.outputs.mailbox import Mailbox
from bridge.shell.outputs.memory import MemoryOutput
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.shell.outputs.schedule import KEEP_ALIVE
from bridge.values.errors import DeviceError
from bridge.values.frame import Frame
from bridge.values.rig import OutputSpec

from .bench import eventually, picture

SPEC = OutputSpec("memory")


class FakeClock:
    """Waiting moves the clock on at once, up to `until`; then it waits for the bell alone."""

    def __init__(self, until: float) -> None:
        self.time = 0.0
        self.until = until
        self.over = threading.Event()

    def now(self) -> float:
        return self.time

    def wait(self, box: Mailbox, seconds: float | None) -> None:
        self._box = box
        if seconds is None:
            box.wait(None)
        elif self.time + seconds <= self.until:
            self.time += seconds
        else:
            self.over.set()
            box.wait(None)

    def go_on(self, until: float) -> None:
        self.until = until
        self._box.ring()


class Diary(MemoryOutput):
    """Notes when it was opened and fed."""

    def __init__(self, clock: FakeClock) -> None:
        super().__init__()
        self.clock = clock
        self.tries: list[float] = []
        self.sends: list[float] = []

    def open(self) -> None:
        self.tries.append(self.clock.time)
        super().open()

    def send(self, frame: Frame) -> None:
        self.sends.append(self.clock.time)
        super().send(frame)


class Stuck(MemoryOutput):
    """A device that takes a frame and does not come back."""

    def __init__(self) -> None:
        super().__init__()
        self.inside = threading.Event()
        self.released = threading.Event()

    def send(self, frame: Frame) -> None:
        self.inside.set()
        self.released.wait(30)
        super().send(frame)


class StuckOpening(Stuck):
    """A device whose opening does not come back."""

    def open(self) -> None:
        self.inside.set()
        self.released.wait(30)


class Buggy:
    """An output with a mistake of ours in every method."""

    def open(self) -> None:
        """Works, so that the mistakes are met."""

    def send(self, frame: Frame) -> None:
        raise ZeroDivisionError(f"ours at {frame.t}")

    def close(self, last: Frame | None) -> None:
        raise KeyError(last)


def test_the_pauses_grow_and_end_at_four_seconds() -> None:
    """A device that does not open is tried after 0.25 s, 0.5 s, 1 s, 2 s and then every 4 s."""
    clock = FakeClock(20.0)
    output = Diary(clock)
    output.unplug("gone", "look for it")
    worker = OutputWorker(output, SPEC, clock.now, clock.wait)
    assert clock.over.wait(5)
    assert output.tries == [0, 0.25, 0.75, 1.75, 3.75, 7.75, 11.75, 15.75, 19.75]
    state = worker.state()
    assert (state.state, state.note, state.failed) == ("down", "gone; look for it", 9)
    assert worker.close(hold=False)


def test_without_new_frames_the_last_is_kept_alive() -> None:
    """An hour of nothing new is an hour of the last frame every 0.8 s."""
    clock = FakeClock(3600.0)
    output = Diary(clock)
    worker = OutputWorker(output, SPEC, clock.now, clock.wait)
    worker.post(picture(7))
    assert clock.over.wait(20)
    gaps = [after - before for before, after in pairwise(output.sends)]
    assert len(gaps) > 4400
    assert gaps == pytest.approx([KEEP_ALIVE] * len(gaps))
    assert output.newest == picture(7)
    assert worker.close(hold=True)


def test_a_newer_frame_replaces_one_not_yet_sent() -> None:
    """While a device is busy frames are not queued: it gets the newest next."""
    output = Stuck()
    worker = OutputWorker(output, SPEC)
    worker.post(picture(1))
    assert output.inside.wait(5)
    for value in range(2, 100):
        worker.post(picture(value))
    output.released.set()
    assert output.wait_for(2)
    assert output.frames[:2] == (picture(1), picture(99))
    assert worker.close(hold=True)


def test_an_own_rate_sends_the_newest_at_most_so_often() -> None:
    """With a refresh_hz of its own an output waits its period, and then sends the newest there is."""
    output = MemoryOutput()
    worker = OutputWorker(output, OutputSpec("memory", refresh_hz=10.0))
    worker.post(picture(1))
    assert output.wait_for(1)
    began = time.monotonic()
    for value in range(2, 11):
        worker.post(picture(value))
    assert output.wait_for(2)
    # Measured from just after the first send began.
    assert time.monotonic() - began >= 0.09
    assert output.frames[:2] == (picture(1), picture(10))
    assert worker.close(hold=True)


@pytest.mark.parametrize("kind", [Stuck, StuckOpening])
def test_a_stuck_device_costs_only_itself(kind: type[Stuck]) -> None:
    """Posting to it returns at once, the others go on, and the end does not wait for it beyond its time."""
    stuck, well = kind(), MemoryOutput()
    workers = [OutputWorker(stuck, SPEC), OutputWorker(well, SPEC)]
    posts = []
    for value in range(1, 101):
        for worker in workers:
            began = time.monotonic()
            worker.post(picture(value))
            posts.append(time.monotonic() - began)
        assert eventually(lambda value=value: well.newest == picture(value))
    assert stuck.inside.is_set()
    assert median(posts) < 0.005
    began = time.monotonic()
    assert close_all(workers, hold=False, within=0.2) == ("memory",)
    assert time.monotonic() - began < 0.5
    assert well.closed == 1
    stuck.released.set()
    assert workers[0].close(hold=False)


def test_a_mistake_of_ours_does_not_kill_the_thread() -> None:
    """Any exception marks the output down, says so, and is tried again; the end still comes."""
    worker = OutputWorker(Buggy(), SPEC)
    worker.post(picture(1))
    assert eventually(lambda: worker.state().failed >= 2)
    assert worker.state().state == "down"
    assert "ZeroDivisionError: ours at" in worker.state().note
    assert worker.close(hold=False)


def test_a_device_that_opens_and_takes_nothing_does_not_flicker() -> None:
    """Only a frame that went out makes a failed output up again, and its pauses grow until then."""
    clock = FakeClock(10.0)

    class Deaf(Diary):
        def send(self, frame: Frame) -> None:
            seen.add(worker.state().state)
            raise DeviceError("takes nothing", str(frame.t))

    output = Deaf(clock)
    seen: set[str] = set()

    def wait(box: Mailbox, seconds: float | None) -> None:
        seen.add(worker.state().state)
        clock.wait(box, seconds)

    worker: OutputWorker
    ready = threading.Event()

    def now() -> float:
        ready.wait(5)
        return clock.now()

    worker = OutputWorker(output, SPEC, now, wait)
    worker.post(picture(1))
    ready.set()
    assert clock.over.wait(5)
    assert seen == {"opening", "down"}
    assert worker.state().state == "down"
    assert output.tries == [0, 0.25, 0.75, 1.75, 3.75, 7.75]
    assert worker.close(hold=False)


def test_a_failed_device_is_let_go_before_it_is_opened_again() -> None:
    """Every failure, of opening or sending, is followed by a close without a goodbye."""
    clock = FakeClock(2.0)
    log: list[str] = []

    class Logged:
        def open(self) -> None:
            log.append("open")
            if len(log) == 1:
                raise DeviceError("not yet")

        def send(self, frame: Frame) -> None:
            log.append(f"send {frame.slots[0, 1]}")
            if len(log) == 4:
                raise DeviceError("gone")

        def close(self, last: Frame | None) -> None:
            log.append("close" if last is None else f"goodbye {last.slots[0, 1]}")

    gate = threading.Event()

    def now() -> float:
        gate.wait(5)
        return clock.now()

    worker = OutputWorker(Logged(), SPEC, now, clock.wait)
    worker.post(picture(7))
    gate.set()
    assert clock.over.wait(5)
    assert worker.close(hold=True)
    kept_alive = ["send 7"] * (log.count("send 7") - 1)
    assert log == ["open", "close", "open", "send 7", "close", "open", *kept_alive, "goodbye 7"]
    assert kept_alive


def test_an_end_that_fails_is_told() -> None:
    """When the last picture cannot be sent the state says so and why."""
    output = MemoryOutput()
    worker = OutputWorker(output, SPEC)
    worker.post(picture(1))
    assert output.wait_for(1)
    output.unplug("pulled", "push it in")
    assert worker.close(hold=False)
    assert worker.state().note == "ended without its last picture: pulled; push it in"


def test_blackout_without_any_frame_still_sends_black() -> None:
    """Lamps left on by someone else go dark at the end; hold with nothing to hold sends nothing."""
    for hold in (False, True):
        output = MemoryOutput()
        worker = OutputWorker(output, OutputSpec("memory", sends=3))
        assert eventually(lambda worker=worker: worker.state().state == "up")
        assert worker.close(hold)
        assert [frame.universe(3) for frame in output.frames] == ([] if hold else [bytes(512)])


def test_the_first_wish_for_the_end_counts() -> None:
    """Asked to hold, a second call for black changes nothing."""
    output = MemoryOutput()
    worker = OutputWorker(output, SPEC)
    worker.post(picture(5))
    assert output.wait_for(1)
    worker.ask_to_close(hold=True)
    assert worker.close(hold=False)
    assert output.newest == picture(5)


def test_black_covers_every_universe_of_the_frame() -> None:
    """The last frame of a blackout has the universes of the picture before it, all zero."""
    output = MemoryOutput()
    worker = OutputWorker(output, SPEC)
    worker.post(picture(5, universe=9))
    assert output.wait_for(1)
    assert worker.close(hold=False)
    assert output.newest is not None
    assert output.newest.universes == (9,)
    assert not output.newest.slots.any()


@given(st.integers(0, 512), st.sampled_from([0, 24, 100, 512]), st.sampled_from([24, 512]))
def test_no_slot_in_use_is_cut_off(top: int, pad_to: int, unless_told: int) -> None:
    """The slots sent reach the highest in use, and no further than it, pad_to or the wire's own choice."""
    sent = slots_sent(OutputSpec("sacn", pad_to=pad_to), top, unless_told)
    assert sent == max(top, pad_to if pad_to else unless_told)


def test_the_contract_is_met() -> None:
    """Memory is an Output to the type checker too."""
    output: Output = MemoryOutput()
    output.open()
    output.close(None)
    assert isinstance(output, MemoryOutput)


@pytest.mark.parametrize("early", [False, True])
def test_early_frames_are_for_outputs_that_ask_for_them(early: bool) -> None:
    """Without `early` an early frame is dropped and the next steady one goes out; with it both do."""
    output, spec = MemoryOutput(), OutputSpec("memory", early=early)
    worker = OutputWorker(output, spec, line=line_seconds(spec, 24))
    for number, between in ((1, False), (2, True), (3, False)):
        worker.post(picture(number), early=between)
        if early or not between:
            assert eventually(lambda: output.newest == picture(number))  # noqa: B023 - called within this turn
    assert len(worker.times) == (3 if early else 2)
    assert [t for t, _ in worker.times] == [picture(n).t for n in ((1, 2, 3) if early else (1, 3))]
    assert worker.close(hold=True)


def test_an_early_frame_takes_no_steady_one_from_a_line_that_is_busy() -> None:
    """What shows in one steady frame alone goes out, though a strike comes before the line is free for it."""
    clock = FakeClock(0.0)
    output = Diary(clock)
    worker = OutputWorker(output, OutputSpec("memory", early=True), clock.now, clock.wait, line=0.02)
    worker.post(picture(1))
    assert output.wait_for(1)
    worker.post(picture(2))
    worker.post(picture(3), early=True)
    clock.go_on(0.1)
    assert output.wait_for(2)
    assert output.newest == picture(2)
    worker.post(picture(4), early=True)
    assert output.wait_for(3)
    assert output.newest == picture(4)
    assert output.sends == pytest.approx([0.0, 0.02, 0.04])
    assert worker.close(hold=True)


def test_a_strike_that_waits_for_the_line_waits_for_no_period() -> None:
    """With a rate of its own an output sends the frame after a waiting early one when the line is free."""
    clock = FakeClock(0.0)
    output = Diary(clock)
    spec = OutputSpec("memory", early=True, refresh_hz=2.0)
    worker = OutputWorker(output, spec, clock.now, clock.wait, line=0.02)
    worker.post(picture(1))
    assert output.wait_for(1)
    worker.post(picture(2), early=True)
    worker.post(picture(3))
    clock.go_on(0.1)
    assert output.wait_for(2)
    assert (output.newest, output.sends) == (picture(3), pytest.approx([0.0, 0.02]))
    worker.post(picture(4))
    clock.go_on(0.7)
    assert output.wait_for(3)
    assert output.sends == pytest.approx([0.0, 0.02, 0.5])
    assert worker.close(hold=True)


def test_a_line_is_as_long_as_its_slots_take() -> None:
    """ANSI E1.11 timing: 24 slots need 176 + 12 + 25 x 44 us; a receiver's own limit counts where longer."""
    assert line_seconds(OutputSpec("sacn"), 24) == 0.0
    assert line_seconds(OutputSpec("sacn", early=True), 3) == pytest.approx(1288e-6)
    assert line_seconds(OutputSpec("sacn", early=True, pad_to=512), 24) == pytest.approx(22_760e-6)
    assert line_seconds(OutputSpec("serial", early=True, gap=0.01), 24) == 0.01


def test_a_line_that_is_busy_all_the_time_takes_nothing_early() -> None:
    """At 40 Hz an early packet has room beside the steady one where it takes half of 25 ms at most."""
    slow = OutputSpec("serial", early=True, pad_to=512)
    assert line_seconds(slow, 24, 1 / 40) == 0.0
    assert line_seconds(slow, 24, 1 / 20) == pytest.approx(22_760e-6)
    assert line_seconds(OutputSpec("serial", early=True, gap=0.0125), 24, 1 / 40) == 0.0125
    assert line_seconds(OutputSpec("serial", early=True, gap=0.013), 24, 1 / 40) == 0.0


@pytest.mark.parametrize("kind", ["sacn", "artnet"])
def test_a_receiver_that_needs_its_time_gets_the_last_picture(kind: str) -> None:
    """One that drops what comes within its gap of the packet it took last still goes dark at the end."""
    gap = 0.05
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as far:
        far.bind(("127.0.0.1", 0))
        far.settimeout(2.0)
        spec = OutputSpec(kind, host="127.0.0.1", early=True, gap=gap)
        output = {"sacn": SacnOutput, "artnet": ArtnetOutput}[kind](spec, 24, far.getsockname()[1])
        output.open()
        output.send(picture(200))
        began = time.monotonic()
        output.close(picture(0))
        assert time.monotonic() - began >= 2 * gap
        far.settimeout(0.0)
        with suppress(BlockingIOError):
            count = 0
            while True:
                assert len(far.recv(2048)) < 512
                count += 1
        assert count == (7 if kind == "sacn" else 4)


def test_a_long_gap_keeps_no_end_waiting() -> None:
    """A receiver of one packet a second costs the end no more time than an end has."""
    times: list[float] = []
    send_last(lambda _: times.append(time.monotonic()), picture(0), 1.0)
    assert len(times) == LAST_SENDS
    assert times[-1] - times[0] < END_WITHIN
