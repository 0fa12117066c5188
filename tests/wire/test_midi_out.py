"""The encoder against its table, the decoder, and an independent library."""

from __future__ import annotations

import mido
import pytest
from hypothesis import given

from bridge.values import events as ev
from bridge.wire.midi_in import MidiDecoder
from bridge.wire.midi_out import encode
from tests.wire.cases import MIDI, PORT, STAMP, Case, encodable


@pytest.mark.parametrize("case", [case for case in MIDI if case.both], ids=str)
def test_cases_both_ways(case: Case) -> None:
    """An event is written as the bytes it was read from."""
    assert [encode(event) for event in case.events] == [case.data]


@given(encodable())
def test_what_is_written_is_read_back(event: ev.Event) -> None:
    """Every event with a message of its own comes back from the decoder as it was."""
    decoder = MidiDecoder(PORT)
    assert decoder.feed(encode(event), STAMP) == [event]
    assert decoder.rubbish == 0


@given(encodable())
def test_mido_reads_what_is_written(event: ev.Event) -> None:
    """mido, an independent library, takes every message for exactly one and writes the same bytes."""
    assert [bytes(message.bytes()) for message in mido.parse_all(encode(event))] == [encode(event)]


@pytest.mark.parametrize(
    "event",
    [ev.OtherMessage(0, PORT), ev.PortGone(0, PORT), ev.Do(0, "blackout_on"), ev.NewMapping(0, None)],
    ids=lambda event: type(event).__name__,
)
def test_events_without_a_message_have_no_bytes(event: ev.Event) -> None:
    """What is no MIDI message sends nothing."""
    assert encode(event) == b""


@pytest.mark.parametrize(
    "event",
    [
        ev.NoteOn(0, PORT, 0, 60, 64),
        ev.NoteOn(0, PORT, 17, 60, 64),
        ev.NoteOn(0, PORT, 1, 128, 64),
        ev.NoteOn(0, PORT, 1, 60, 0),
        ev.NoteOff(0, PORT, 1, 60, -1),
        ev.Control(0, PORT, 1, 7, 200),
        ev.Program(0, PORT, 1, 300),
        ev.Bend(0, PORT, 1, 8192),
        ev.Bend(0, PORT, 1, -8193),
        ev.SongPosition(0, PORT, 16384),
        ev.SongPosition(0, PORT, -1),
    ],
    ids=repr,
)
def test_values_out_of_range_are_refused(event: ev.Event) -> None:
    """A value that MIDI cannot carry is refused by name, never sent as a broken stream."""
    with pytest.raises(ValueError, match=rf"MIDI cannot carry {type(event).__name__}\("):
        encode(event)


def test_unknown_real_time_is_refused() -> None:
    """A real-time kind that does not exist is refused with the ones that do."""
    with pytest.raises(ValueError, match="no real-time message is called 'tick'; known: clock, start"):
        encode(ev.RealTime(0, PORT, "tick"))
