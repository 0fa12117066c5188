"""What stands: brought about again, it is the same for the engine; ended, nothing is left down."""

from __future__ import annotations

from hypothesis import given, settings

from bridge.core.engine import Engine
from bridge.shell.takes.standing import Standing
from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Do,
    Event,
    Mark,
    NewMapping,
    NoteOff,
    NoteOn,
    Picture,
    PortGone,
    Program,
    Restore,
)
from tests.shell.takes.players import MAPPING, PADS, PERFORMANCES, PIANO, RIG


def test_the_newest_of_each_stands() -> None:
    """Of each controller, wheel, program, action and mapping the newest stands, in the order they came."""
    events: list[Event] = [
        Control(0.0, "p", 1, 7, 10),
        Bend(0.1, "p", 1, 5),
        Program(0.2, "p", 1, 3),
        ChannelPressure(0.3, "p", 2, 9),
        NewMapping(0.4, 1),
        Do(0.5, "light", "door", 0.5),
        Do(0.5, "light", "roof", 0.7),
        Do(0.6, "blackout_on"),
        Control(0.7, "p", 2, 7, 11),
        Do(0.8, "blackout_off"),
        Do(0.9, "release_all"),
        Control(1.0, "p", 1, 7, 12),
    ]
    expected = [1, 2, 3, 4, 5, 6, 8, 9, 11]
    assert Standing(events).events(9.0) == [type(events[n])(9.0, *_rest(events[n])) for n in expected]


def _rest(event: Event) -> list[object]:
    return [getattr(event, name) for name in event.__slots__ if name != "stamp"]


def test_a_parameter_number_comes_before_its_value() -> None:
    """A registered parameter is brought about in an order that sets it: its number before its value."""
    events: list[Event] = [
        Control(0.0, "p", 1, number, value) for number, value in ((6, 1), (101, 0), (100, 2), (6, 5))
    ]
    found = [
        (event.control, event.value) for event in Standing(events).events(0.0) if isinstance(event, Control)
    ]
    assert found == [(101, 0), (100, 2), (6, 5)]


def test_what_came_back_stands_until_it_is_let_go() -> None:
    """A latch that came back stands until its key is pressed or all is let go; settings go on."""
    first, second = (Mark("latch", f"l{n}", "p", 1, 60 + n) for n in range(2))
    marks = (Mark("set master", numbers=(0.5,)), first, second)
    came = Restore(0.0, marks)
    assert Standing([came]).events(1.0) == [Restore(1.0, marks)]
    struck = Standing(
        [came, NoteOn(0.1, "p", 1, 60, 9), NoteOff(0.2, "p", 1, 60), NoteOn(0.3, "q", 1, 61, 9)]
    )
    assert struck.events(1.0) == [Restore(1.0, (marks[0], second))]
    released = Standing([came, Do(0.1, "release_all")])
    assert released.events(1.0) == [Restore(1.0, marks[:1])]
    later = Standing([came, Do(0.1, "master", "", 0.9)])
    assert later.events(1.0) == [Restore(1.0, marks), Do(1.0, "master", "", 0.9)]


def test_ending_lets_go_of_all() -> None:
    """Keys down, pedals, and a picture are let go; what is down no more is not."""
    events: list[Event] = [
        NoteOn(0.0, "p", 1, 60, 9),
        NoteOn(0.0, "p", 1, 61, 9),
        NoteOff(0.1, "p", 1, 61),
        NoteOn(0.1, "q", 1, 60, 9),
        PortGone(0.2, "q"),
        NoteOn(0.3, "p", 2, 60, 9),
        Control(0.4, "p", 2, 123, 0),
        Control(0.5, "p", 1, 64, 127),
        Control(0.5, "p", 1, 66, 127),
        Control(0.5, "p", 1, 66, 0),
        Picture(0.6, (1,), bytes(512)),
    ]
    assert Standing(events).ending(1.0) == [
        NoteOff(1.0, "p", 1, 60),
        Control(1.0, "p", 1, 64, 0),
        Picture(1.0, (), b""),
    ]
    assert Standing([*events, *Standing(events).ending(1.0)]).ending(2.0) == []


def test_a_reset_brings_pedals_up() -> None:
    """A reset of all controllers (121) ends pedals and leaves the volume (MMA RP-015)."""
    events: list[Event] = [
        Control(0.0, "p", 1, 64, 127),
        Control(0.0, "p", 2, 64, 127),
        Control(0.0, "p", 1, 7, 50),
        Control(0.1, "p", 1, 121, 0),
    ]
    assert Standing(events).events(1.0) == [Control(1.0, "p", 2, 64, 127), Control(1.0, "p", 1, 7, 50)]


@given(PERFORMANCES)
@settings(max_examples=40)
def test_nothing_stays_lit_after_the_end(events: list[Event]) -> None:
    """Whatever was played, after its ending the engine holds no key and no pedal lights a lamp by itself."""
    engine = Engine(RIG, MAPPING)
    engine.advance(events, 1.5)
    engine.advance(Standing(events).ending(1.5), 1.525)
    hands = engine._player.hands
    assert not [key for key in hands.down if key[0] in (PIANO, PADS)]
    assert not any(
        hands.pedalled((port, channel, note))
        for port in (PIANO, PADS)
        for channel in (1, 10)
        for note in (60, 36)
    )
