"""Program changes between mappings, and messages sent on."""

from __future__ import annotations

from bridge.shell.feeds import ListFeed
from bridge.shell.switching import Switching
from bridge.shell.thru import Thru
from bridge.values.events import Do, NewMapping, NoteOff, NoteOn, Program
from bridge.values.mapping import Mapping


def test_a_program_change_brings_in_its_mapping_and_lets_go() -> None:
    """Program 2 (1 as sent) is the second mapping; a program without one changes nothing."""
    maps = [(Mapping("a"), "a: 1"), (Mapping("b"), "b: 1")]
    feed = Switching(ListFeed([Program(0.1, "p", 1, 1), Program(0.2, "p", 1, 2)]), maps)
    first, mapping, last = feed.take(1.0)
    assert first == Program(0.1, "p", 1, 1)
    assert mapping == NewMapping(0.1, Mapping("b"), keep=False, text="b: 1")
    assert last == Program(0.2, "p", 1, 2)


def test_what_arrives_is_sent_on_byte_for_byte() -> None:
    """Messages go out as they came in; what has no message stays here."""
    sent: list[bytes] = []
    events = [NoteOn(0.0, "p", 2, 60, 99), Do(0.0, "blackout_on"), NoteOff(0.1, "p", 2, 60, 64)]
    thru = Thru(ListFeed(events), sent.append)
    assert list(thru.take(1.0)) == events
    assert sent == [bytes([0x91, 60, 99]), bytes([0x81, 60, 64])]


def test_a_port_that_fails_costs_the_show_nothing() -> None:
    """The event is handed on all the same, the reason shows, and goes when it works again."""
    broken = [True]

    def send(_message: bytes) -> None:
        if broken[0]:
            raise RuntimeError("gone")

    thru = Thru(ListFeed([NoteOn(0.0, "p", 1, 60, 1), NoteOn(1.0, "p", 1, 61, 1)]), send)
    assert len(thru.take(0.5)) == 1
    assert "gone" in thru.trouble
    broken[0] = False
    assert len(thru.take(2.0)) == 1
    assert thru.trouble == ""
