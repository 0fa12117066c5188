"""Two machines that send the same universe: who is seen when (ANSI E1.31 clauses 6.2.3, 6.2.6, 6.7.1)."""

from __future__ import annotations

import queue
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace

import pytest
import sacn as sacn_library
from sacn.receiving.receiver_handler import ReceiverHandler, ReceiverHandlerListener
from sacn.receiving.receiver_socket_base import ReceiverSocketBase

from bridge.shell.outputs import standing_by
from bridge.shell.outputs.sacn_source import SacnSource
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.shell.outputs.stand_by import STEP
from bridge.values.rig import OutputSpec
from tests.reference_rows import rows

from .bench import UdpEnd, picture
from .receiver import DATA_LOSS, Receiver, in_order

MAIN, OTHER = bytes(range(16)), bytes(range(16, 32))
SPEC = OutputSpec("sacn", host="127.0.0.1")
FRAME = 0.025
RULES = {row["field"]: row["value_or_rule"] for row in rows("sacn_e131.csv")}


class Listener(ReceiverHandlerListener):
    """What the library's receiver tells."""

    def __init__(self) -> None:
        self.now = 0.0
        self.shown: list[tuple[float, int]] = []

    def on_availability_change(self, universe: int, changed: str) -> None:
        """Nothing depends on it."""

    def on_dmx_data_change(self, packet: object) -> None:
        """Keep the level of slot 2, which tells the machines apart."""
        self.shown.append((self.now, packet.dmxData[1]))  # type: ignore[attr-defined]


class Pair:
    """A machine that plays and one that stands by, a receiver from the clauses, and the library's beside it.

    The time is an argument: nothing here waits. Slot 2 has level 1 for the first machine, 2 for the other.
    """

    def __init__(self) -> None:
        self.end = UdpEnd()
        self.receiver = Receiver()
        self.listener = Listener()
        self.library = ReceiverHandler("127.0.0.1", 0, self.listener, ReceiverSocketBase(None))
        (lower,), _ = standing_by([SPEC])
        self.outputs = [
            SacnOutput(spec, 24, self.end.port, SacnSource(cid))
            for spec, cid in ((SPEC, MAIN), (lower, OTHER))
        ]
        for output in self.outputs:
            output.open()

    def send(self, number: int, now: float) -> None:
        """One machine sends its picture."""
        self.outputs[number].send(picture(number + 1))
        self.pass_on(now)

    def pass_on(self, now: float) -> None:
        """The receivers hear what was sent."""
        self.listener.now = now
        self.receiver.look(now)
        self.library.on_periodic_callback(now)
        while True:
            try:
                raw = self.end.take(0.0)
            except BlockingIOError:
                return
            self.receiver.hear(raw, now)
            self.library.on_data(list(raw), now)

    def play(self, begins: float, ends: float, *numbers: int) -> None:
        """Machines send at 40 Hz from `begins` until before `ends`."""
        for k in range(round(begins / FRAME), round(ends / FRAME)):
            for number in numbers:
                self.send(number, k * FRAME)


@pytest.fixture
def pair() -> Iterator[Pair]:
    """Two machines; closed without a word."""
    made = Pair()
    yield made
    for output in made.outputs:
        output.close(None)
    made.end.close()


def changes(pair: Pair) -> list[tuple[float, int]]:
    """(seconds, machine) each time the receiver turns to another."""
    return [(now, slots[1]) for now, _, slots in pair.receiver.history]


def test_the_higher_priority_is_seen(pair: Pair) -> None:
    """The machine that plays is seen whichever was first, and the other never beside it (clause 6.2.3)."""
    pair.play(0.0, 0.5, 1)
    pair.play(0.5, 2.0, 0, 1)
    assert changes(pair) == [(0.0, 2), (0.5, 1)]
    assert pair.listener.shown[0] == (0.0, 2)
    assert pair.listener.shown[-1][1] == 1


def test_when_it_falls_silent_the_other_is_seen(pair: Pair) -> None:
    """2.5 s after the first machine's last packet the other's picture shows, never a dark one (6.7.1)."""
    pair.play(0.0, 2.0, 0, 1)
    pair.play(2.0, 6.0, 1)
    (_, first), (turned, second) = changes(pair)
    assert (first, second) == (1, 2)
    last = 2.0 - FRAME
    assert DATA_LOSS < turned - last <= DATA_LOSS + 2 * FRAME
    assert str(DATA_LOSS) in RULES["network data loss timeout"]
    assert [machine for _, machine in pair.listener.shown] == [1, 2]
    # The library keeps one sequence number a universe, not one a source: up to 19 packets more are left.
    assert DATA_LOSS < pair.listener.shown[1][0] - last <= DATA_LOSS + 22 * FRAME


def test_a_goodbye_turns_to_the_other_at_once(pair: Pair) -> None:
    """A clean end with `hold` shows the other machine with its very next packet (clause 6.2.6)."""
    pair.play(0.0, 2.0, 0, 1)
    pair.outputs[0].close(picture(1))
    pair.pass_on(2.0)
    pair.play(2.0, 3.0, 1)
    assert changes(pair) == [(0.0, 1), (2.0, 2)]


def test_a_goodbye_in_the_dark_is_a_moment_of_dark(pair: Pair) -> None:
    """With `blackout` the first machine's last picture is black: a receiver may show it before goodbye."""
    pair.play(0.0, 2.0, 0, 1)
    pair.outputs[0].close(picture(0))
    pair.pass_on(2.0)
    assert changes(pair) == [(0.0, 1), (2.0, 0), (2.0, 2)]


def test_the_first_machine_takes_over_again(pair: Pair) -> None:
    """Started anew, the machine of the higher priority is seen with its first packet (clause 6.2.3)."""
    pair.play(0.0, 1.0, 0, 1)
    pair.play(1.0, 4.0, 1)
    pair.play(4.0, 5.0, 0, 1)
    assert [machine for _, machine in changes(pair)] == [1, 2, 1]
    assert changes(pair)[-1][0] == 4.0


@pytest.mark.parametrize(
    ("last", "new", "word"),
    [
        (int(last), int(new), word)
        for word, pairs in re.findall(r"(accept|discard): ([^;]+)", RULES["sequence examples (last -> new)"])
        for last, new in re.findall(r"(\d+)->(\d+)", pairs)
    ],
)
def test_the_receiver_of_these_tests_knows_the_published_examples(last: int, new: int, word: str) -> None:
    """The model takes and leaves the packets that the standard's rule does (clause 6.7.2)."""
    assert in_order(last, new) is (word == "accept")


PROGRAM = """
import sys, time
sys.path.insert(0, sys.argv[2])
from bridge.shell.outputs.sacn_source import SacnSource
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.values.rig import OutputSpec
from tests.shell.outputs.bench import picture
from bridge.shell.outputs import standing_by
spec = OutputSpec("sacn", host="127.0.0.1")
number = int(sys.argv[3])
if number == 2:
    (spec,), _ = standing_by([spec])
output = SacnOutput(spec, 24, int(sys.argv[1]), SacnSource(bytes([number]) * 16))
output.open()
while True:
    output.send(picture(number))
    time.sleep(0.01)
"""


def test_a_killed_program_is_replaced_in_front_of_the_librarys_receiver() -> None:
    """SIGKILL in a song: the `sacn` receiver turns to the other program and never shows dark."""
    probe = UdpEnd()
    port = probe.port
    probe.close()
    shown: queue.Queue[tuple[float, tuple[int, ...]]] = queue.Queue()
    receiver = sacn_library.sACNreceiver(bind_address="127.0.0.1", bind_port=port)
    receiver.register_listener(
        "universe", lambda packet: shown.put((time.monotonic(), packet.dmxData)), universe=1
    )
    receiver.start()
    programs = []
    try:
        for number in (1, 2):
            command = [sys.executable, "-c", PROGRAM, str(port), sys.path[0] or ".", str(number)]
            programs.append(subprocess.Popen(command))
            if number == 1:
                assert shown.get(timeout=10)[1][1] == 1
        with pytest.raises(queue.Empty):  # the other sends too, and is not seen
            shown.get(timeout=1.0)
        programs[0].kill()
        killed = time.monotonic()
        turned, slots = shown.get(timeout=10)
        assert slots[1] == 2
        # 2.5 s, and up to 19 packets that the library leaves; the rest is for a busy machine.
        assert DATA_LOSS - 0.1 < turned - killed < DATA_LOSS + 1.5
        assert shown.empty()
    finally:
        for program in programs:
            program.kill()
            program.wait()
        receiver.stop()


def test_sacn_outputs_are_lowered_and_others_stay_closed() -> None:
    """Only sACN knows a priority; Art-Net and serial lines would have two senders, and are told of."""
    specs = [
        OutputSpec("sacn", host="a", priority=150),
        OutputSpec("sacn", priority=4),
        OutputSpec("artnet", host="b", carried_as=0),
        OutputSpec("serial", port="COM3"),
        OutputSpec("memory"),
    ]
    kept, notices = standing_by(specs)
    assert kept == [replace(specs[0], priority=140), replace(specs[1], priority=0), specs[4]]
    assert len(notices) == 4
    assert "sacn a universe 1 goes out at priority 140" in notices[0]
    assert re.search(
        r"artnet b universe 0 stays closed \(Art-Net knows no priority.*without --stand-by", notices[2]
    )
    assert re.search(r"serial COM3 break stays closed \(a serial line has one master\)", notices[3])


def test_a_priority_that_cannot_be_lower_is_told() -> None:
    """At 0 both machines would be equal, and a receiver would mix them (clause 6.2.3)."""
    kept, notices = standing_by([OutputSpec("sacn", host="a", priority=0)])
    assert kept[0].priority == 0
    assert len(notices) == 1
    assert re.search(rf"sacn a universe 1 has priority 0 already.*give it {STEP} or more", notices[0])


def test_with_no_output_to_take_over_it_says_so() -> None:
    """Standing by with nothing that could step in is said at the start, not found out in the dark."""
    kept, notices = standing_by([OutputSpec("serial", port="COM3")])
    assert kept == []
    assert notices[-1] == "standing by: no output can take over; only sACN outputs can"
