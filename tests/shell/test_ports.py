"""MIDI inputs against a real MIDI system: rtmidi over JACK on both ends."""

from __future__ import annotations

import contextlib
import dataclasses
import math
import statistics
import threading
from collections.abc import Iterator

import mido
import pytest
import rtmidi

from bridge.shell.clock import Clock
from bridge.shell.ports import LivePorts
from bridge.values.errors import UsageError
from bridge.values.events import Bend, Control, Event, NoteOff, NoteOn, OtherMessage, PortGone, RealTime
from tests.shell.jack import (
    ALIVE,
    JACK,
    PERIOD_SECONDS,
    JackServer,
    Keyboard,
    OtherProgram,
    jack_server,
    numbered,
    until,
)

SOON = 0.02
"""Seconds between two looks for ports in these tests."""

ONLY_WHEN_ASKED = 600.0


@pytest.fixture(scope="module", autouse=True)
def server() -> Iterator[JackServer]:
    """One server for all tests of this file but the one that kills its own."""
    with jack_server() as running:
        yield running


def gather(ports: LivePorts, count: int) -> list[Event]:
    """Poll until `count` events came, signs of life not counted."""
    events: list[Event] = []

    def enough() -> bool:
        events.extend(event for event in ports.take() if not is_life(event))
        return len(events) >= count

    until(enough, f"{count} events came")
    return events


def is_life(event: Event) -> bool:
    """True for active sensing."""
    return isinstance(event, RealTime) and event.kind == "active_sensing"


def hears(ports: LivePorts, keys: Keyboard | None = None, name: str = "") -> None:
    """Wait until messages pass: JACK makes a connection some periods after it says so."""

    def passed() -> bool:
        if keys is not None:
            keys.play(ALIVE)
        return any(is_life(event) and name in event.port for event in ports.take())

    until(passed, f"a sign of life from {name or 'the keyboard'} came")


def show_lateness(what: str, late: list[float]) -> None:
    """Print what was measured, for `pytest -s`."""
    p50, p99 = statistics.quantiles(late, n=100)[49::49]
    print(
        f"{what}: stamp after sending, ms, p50 {p50 * 1e3:.2f} p99 {p99 * 1e3:.2f} max {max(late) * 1e3:.2f}"
    )


def test_every_message_goes_through_the_decoder_with_its_port() -> None:
    """What mido calls a message arrives as the event it names: none is filtered, real time included."""
    messages = [
        mido.Message("note_on", channel=4, note=60, velocity=100),
        mido.Message("clock"),
        mido.Message("continue"),
        mido.Message("sysex", data=range(20)),
        mido.Message("control_change", channel=15, control=64, value=127),
        mido.Message("pitchwheel", channel=0, pitch=-8192),
        mido.Message("note_on", channel=4, note=60, velocity=0),
    ]
    with Keyboard("keys", "keys one") as keys, LivePorts(["KEYS ONE"], every=SOON) as ports:
        # `hears` is the proof for active sensing.
        hears(ports, keys)
        before = ports.states()[0].messages
        keys.play(*(message.bytes() for message in messages))
        events = gather(ports, len(messages))
        (state,) = ports.states()
    assert {event.port for event in events} == {"keys one"}
    stamp, at = 0.0, "keys one"
    assert [dataclasses.replace(event, stamp=stamp) for event in events] == [
        NoteOn(stamp, at, 5, 60, 100),
        RealTime(stamp, at, "clock"),
        RealTime(stamp, at, "continue"),
        OtherMessage(stamp, at),
        Control(stamp, at, 16, 64, 127),
        Bend(stamp, at, 1, -8192),
        NoteOff(stamp, at, 5, 60),
    ]
    stamps = [event.stamp for event in events]
    assert stamps == sorted(stamps)
    assert (state.open, state.rubbish, state.note) == (True, 0, "")
    assert state.messages - before >= len(messages)


def test_rubbish_is_counted() -> None:
    """Bytes that make no sense are counted for display, and what follows plays on."""
    with Keyboard("broken", "broken") as keys, LivePorts(["broken"], every=SOON) as ports:
        hears(ports, keys)
        keys.play([0xF9], [0x90, 60, 1])
        (note,) = gather(ports, 1)
        assert isinstance(note, NoteOn)
        assert ports.states()[0].rubbish == 1


def test_stamps_are_the_drivers_and_not_the_polls() -> None:
    """Polled every 25 ms, stamps lie within a few periods of the sending, in order, and never before it."""
    count, gap = 200, 0.025
    clock = Clock()
    start = clock.now()
    events: list[Event] = []
    with (
        OtherProgram("metronome", 1, count, 1.5) as player,
        LivePorts(["metronome"], clock=clock, start=start, every=SOON) as ports,
    ):
        hears(ports)
        player.go()
        while len(events) < count:
            clock.wait(clock.now() + gap)
            events += [event for event in ports.take() if not is_life(event)]
            assert clock.now() - start < 30, f"only {len(events)} came"
        sent = player.sent()
    late = [event.stamp + start - at for event, at in zip(events, sent, strict=True)]
    assert [event.value + 8192 for event in events] == list(range(count))
    stamps = [event.stamp for event in events]
    assert stamps == sorted(stamps)
    assert min(late) > -1e-5, "JACK's clock counts in microseconds"
    # Stamped at the poll, the median would be half the gap, 12.5 ms.
    assert statistics.median(late) < 3 * PERIOD_SECONDS
    show_lateness("polled every 25 ms", late)


def test_nothing_is_lost_beside_a_busy_thread() -> None:
    """All of 5,000 messages from 4 ports arrive, each port's in order, while a thread keeps computing."""
    count, many = 5000, 4
    clock = Clock()
    start = clock.now()
    done = threading.Event()

    def compute() -> None:
        while not done.is_set():
            math.fsum(range(1000))

    busy = threading.Thread(target=compute)
    names = [f"flood {number + 1}" for number in range(many)]
    events: list[Event] = []
    with (
        OtherProgram("flood", many, count, 1.5) as player,
        LivePorts(names, clock=clock, start=start, every=SOON) as ports,
    ):
        for name in names:
            hears(ports, name=name)
        busy.start()
        try:
            player.go()
            while len(events) < count:
                events += [event for event in ports.take(clock.now() - start) if not is_life(event)]
                clock.wait(clock.now() + 0.002)
                assert clock.now() - start < 30, f"only {len(events)} came"
        finally:
            done.set()
            busy.join()
        sent = player.sent()
    late: list[float] = []
    for place, name in enumerate(names):
        of_port = [event for event in events if event.port == name]
        assert [event.value + 8192 for event in of_port] == list(range(count // many))
        stamps = [event.stamp for event in of_port]
        assert stamps == sorted(stamps)
        late += [stamp + start - at for stamp, at in zip(stamps, sent[place::many], strict=True)]
    assert min(late) > -1e-5
    show_lateness("beside a busy thread", late)


def test_a_port_that_vanishes_is_gone_and_comes_back() -> None:
    """Pulling a cable gives one PortGone, and the port plays again once it is back."""
    with LivePorts(["stand"], every=SOON) as ports:
        with Keyboard("stand", "stand piano") as keys:
            hears(ports, keys)
            keys.play([0x90, 60, 100])
            assert isinstance(gather(ports, 1)[0], NoteOn)
            # The beginning of a system exclusive message: what comes after the pull must not be part of it.
            keys.play([0xF0, 1, 2])
        (gone,) = gather(ports, 1)
        assert isinstance(gone, PortGone)
        assert gone.port == "stand piano"
        (state,) = ports.states()
        assert not state.open
        assert "opened again" in state.note
        with Keyboard("stand", "stand piano") as keys:
            hears(ports, keys)
            keys.play([0x90, 61, 100])
            (note,) = gather(ports, 1)
            assert isinstance(note, NoteOn)
            assert (note.port, note.note) == ("stand piano", 61)
            assert note.stamp >= gone.stamp


def test_what_was_played_before_the_pull_comes_before_its_end() -> None:
    """Messages that nobody polled before the port vanished are not lost, and precede its PortGone."""
    with (
        Keyboard("hasty", "hasty") as keys,
        LivePorts(["hasty"], every=SOON) as ports,
        LivePorts(["hasty"], every=SOON) as witness,
    ):
        hears(ports, keys)
        hears(witness, keys)
        polled = ports.states()[0].messages
        keys.play(*(numbered(i) for i in range(5)))
        # The server hands a period to all listeners together, so what the witness has the driver has too.
        gather(witness, 5)
        assert ports.states()[0].messages == polled
        keys.unplug()
        until(lambda: not ports.states()[0].open, "the port is gone")
        *bends, gone = [event for event in ports.take() if not is_life(event)]
        assert [event.value + 8192 for event in bends] == list(range(5))
        assert isinstance(gone, PortGone)
        assert gone.stamp >= bends[-1].stamp


def test_a_port_that_is_not_there_yet_is_waited_for() -> None:
    """A name that fits nothing is shown as waiting, and opened when it appears."""
    with LivePorts(["late guest"], every=SOON) as ports:
        (state,) = ports.states()
        assert (state.open, state.name) == (False, "late guest")
        assert "opened as soon as it appears" in state.note
        with Keyboard("Late Guest", "Late Guest pads") as guest:
            hears(ports, guest)
            assert ports.states()[0].open
            guest.play([0x99, 36, 1])
            assert gather(ports, 1)[0].port == "Late Guest pads"


def test_a_name_that_fits_several_ports_is_refused() -> None:
    """An ambiguous name names its candidates; a whole name means that port alone."""
    with Keyboard("pads", "pads") as left, Keyboard("pads2", "pads2") as right:
        with pytest.raises(UsageError, match="'pad' fits several MIDI inputs: 'pads', 'pads2'"):
            LivePorts(["pad"], every=SOON)
        with LivePorts(["Pads"], every=SOON) as ports:
            hears(ports, left)
            left.play([0x90, 1, 1])
            right.play([0x90, 2, 2])
            left.play([0x90, 3, 3])
            assert [event.note for event in gather(ports, 2)] == [1, 3]


def test_a_port_that_returns_among_others_is_still_the_one() -> None:
    """A part of a name that fitted one port goes on meaning that one when another that fits came with it."""
    east, west = ("harbour east", "harbour east"), ("harbour west", "harbour west")
    with contextlib.ExitStack() as stack:
        with Keyboard(*east):
            ports = stack.enter_context(LivePorts(["harbour"], every=ONLY_WHEN_ASKED))
            assert ports.states()[0].open
        ports.look_now()
        until(lambda: not ports.states()[0].open, "the port is gone")
        stack.enter_context(Keyboard(*west))
        stack.enter_context(Keyboard(*east))
        ports.look_now()
        until(lambda: ports.states()[0].open, "the port is open again")
        assert ports.states()[0].name == "harbour east"


def test_a_bystander_does_not_take_the_place_of_a_port_that_went() -> None:
    """Who stood by while the wanted port played stays out when it goes; a spare that comes then plays."""
    with contextlib.ExitStack() as stack:
        bystander = stack.enter_context(Keyboard("drums2", "drums2"))
        drums = stack.enter_context(Keyboard("drums", "drums"))
        ports = stack.enter_context(LivePorts(["drums"], every=SOON))
        drums.unplug()
        assert isinstance(gather(ports, 1)[0], PortGone)
        spare = stack.enter_context(Keyboard("spare drums", "spare drums"))
        hears(ports, spare)
        bystander.play([0x90, 1, 1])
        spare.play([0x90, 2, 2])
        assert [(event.port, event.note) for event in gather(ports, 1)] == [("spare drums", 2)]


def test_two_instruments_of_one_name_are_told_apart() -> None:
    """Of two alike the second is called (2); each keeps its name while the other goes and comes back."""
    with contextlib.ExitStack() as stack:
        first = stack.enter_context(Keyboard("twin", "twin"))
        second = stack.enter_context(Keyboard("twin", "twin"))
        ports = stack.enter_context(LivePorts(["twin", "twin (2)"], every=SOON))
        hears(ports, first, "twin")
        hears(ports, second, "twin (2)")
        first.play([0x90, 1, 1])
        assert [(event.port, event.note) for event in gather(ports, 1)] == [("twin", 1)]
        first.unplug()
        (gone,) = gather(ports, 1)
        assert (type(gone), gone.port) == (PortGone, "twin")
        second.play([0x90, 2, 2])
        assert [(event.port, event.note) for event in gather(ports, 1)] == [("twin (2)", 2)]
        first = stack.enter_context(Keyboard("twin", "twin"))
        hears(ports, first)
        first.play([0x90, 3, 3])
        assert [(event.port, event.note) for event in gather(ports, 1)] == [("twin", 3)]


def test_a_port_wanted_twice_is_heard_once() -> None:
    """Two names for one port open it once, and the second says so."""
    wanted = ["attic", "Attic", "organ"]
    with Keyboard("attic", "attic organ") as keys, LivePorts(wanted, every=SOON) as ports:
        first, second = ports.states()
        assert (first.wanted, first.open) == ("attic", True)
        assert (second.wanted, second.open) == ("organ", False)
        assert "'attic organ' is open already" in second.note
        hears(ports, keys)
        keys.play([0x90, 1, 1], [0x90, 2, 2], [0x90, 3, 3])
        assert [event.note for event in gather(ports, 3)] == [1, 2, 3]


def test_without_a_wish_every_input_is_heard() -> None:
    """Where no name is wanted all inputs are open, those that come later too, and each returns as itself."""
    with Keyboard("loft", "loft") as loft, LivePorts(None, every=SOON) as ports:
        assert [(state.name, state.open) for state in ports.states()] == [("loft", True)]
        with Keyboard("loft2", "loft2") as other:
            hears(ports, other, "loft2")
            loft.unplug()
            until(lambda: not ports.states()[0].open, "the first is gone")
            with Keyboard("loft3", "loft3") as third:
                # A part of its name fits, yet it is no spare for the first.
                hears(ports, third, "loft3")
                assert [(state.name, state.open) for state in ports.states()] == [
                    ("loft", False),
                    ("loft2", True),
                    ("loft3", True),
                ]
                with Keyboard("loft", "loft"):
                    until(lambda: ports.states()[0].open, "the first is back")
                    assert len(ports.states()) == 3


def test_other_programs_can_play_into_our_own_port() -> None:
    """The virtual port is among those that programs can send to; what they send arrives under its name."""
    with LivePorts([], virtual="Lampwright", every=SOON) as ports:
        out = rtmidi.MidiOut(JACK, name="workstation")
        names = out.get_ports()
        assert "Lampwright:Lampwright" in names
        out.open_port(names.index("Lampwright:Lampwright"))

        def passed() -> list[Event]:
            out.send_message([0x90, 60, 1])
            return ports.take()

        assert until(passed, "a note came")[0].port == "Lampwright"
        out.close_port()
        out.delete()


def test_the_show_outlives_the_midi_server(server: JackServer) -> None:
    """When the server is killed every port is gone; all play again once it is back, our own included."""
    with LivePorts(["phoenix"], virtual="Lampwright", every=SOON) as ports:
        for _ in range(2):
            # A program of its own: libjack ends a process that closes a dead client after making a new one.
            with OtherProgram("phoenix", 1, 1, 0.0) as keys:
                until(lambda: all(state.open for state in ports.states()), "both ports are open")
                hears(ports)
                keys.go()
                assert [event.port for event in gather(ports, 1)] == ["phoenix 1"]
                server.stop(kill=True)
                gone = {(type(event), event.port) for event in gather(ports, 2)}
                assert gone == {(PortGone, "phoenix 1"), (PortGone, "Lampwright")}
                assert all("JACK ended" in state.note for state in ports.states())
            server.start()
        assert ports.trouble == ""


def test_what_is_stamped_later_waits() -> None:
    """A take hands out what is stamped at or before its time; the rest stays for the next."""
    with Keyboard("tower", "tower") as keys, LivePorts(["tower"], every=SOON) as ports:
        hears(ports, keys)
        before = ports.states()[0].messages
        keys.play(*(numbered(i) for i in range(10)))
        until(lambda: ports.take(-1.0) == [] and ports.states()[0].messages >= before + 10, "all ten are in")
        assert len([event for event in ports.take() if not is_life(event)]) == 10
        assert ports.take() == []
