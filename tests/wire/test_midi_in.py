"""The decoder against the published tables, an independent library, and any bytes at all."""

from __future__ import annotations

from itertools import pairwise

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values import events as ev
from bridge.wire.midi_in import MidiDecoder
from bridge.wire.midi_out import encode
from tests.reference_rows import rows
from tests.wire.cases import CLOCK, MIDI, ON_60, PORT, STAMP, Case, encodable

ROWS = {f"{row['kind']}: {row['name']}{' ' + row['status_hex'] * (row['name'] == 'undefined')}".strip(): row
        for row in rows("midi_messages.csv")}  # fmt: skip
CHANNEL_VOICE = [name for name in ROWS if name.startswith("channel voice")]
SYSTEM = [name for name in ROWS if name.startswith("system")]
CONTROLLERS = [name for name in ROWS if name.startswith(("controller", "channel mode"))]
QUARTER_FRAMES = [name for name in ROWS if name.startswith("mtc: piece")]

TYPES = {
    "note_off": ev.NoteOff,
    "note_on": ev.NoteOn,
    "poly_key_pressure": ev.KeyPressure,
    "control_change": ev.Control,
    "program_change": ev.Program,
    "channel_pressure": ev.ChannelPressure,
    "pitch_bend": ev.Bend,
    "timing_clock": "clock",
    "start": "start",
    "continue": "continue",
    "stop": "stop",
    "active_sensing": "active_sensing",
    "system_reset": "reset",
    "song_position_pointer": ev.SongPosition,
    "mtc_quarter_frame": ev.OtherMessage,
    "song_select": ev.OtherMessage,
    "tune_request": ev.OtherMessage,
    "system_exclusive": ev.OtherMessage,
}
"""What each named message becomes; the others are rubbish on their own."""

WORKED = {
    "rule: running_status_example": [
        ON_60,
        ev.NoteOn(STAMP, PORT, 1, 62, 64),
        ev.NoteOff(STAMP, PORT, 1, 60, 64),
    ],
    "rule: real_time_inside_message": [CLOCK, ON_60],
    "rule: song_position_example": [ev.SongPosition(STAMP, PORT, 16)],
    "mtc: mtc_example_01:37:52:16_25fps": [ev.OtherMessage(STAMP, PORT)] * 8,
}

BY_CASES = {
    "rule: status_bit": "stray data bytes",
    "rule: running_status": "system exclusive cancels running status",
    "rule: note_on_velocity_0": "velocity 0 is a note off of 64",
    "rule: default_velocity_without_sensor": "velocity 0 is a note off of 64",
    "rule: pitch_bend_centre": "bend, at rest",
    "rule: song_position_unit": "song position, a bar",
    "mtc: mtc_full_frame": "system exclusive",
}
"""Rows whose law is a case of cases.MIDI."""

NOT_HERE = {
    "rule: middle_c": "note names belong to mapping files",
    "rule: pitch_bend_default_range": "no semitones here",
    "rule: controller_pairs": "each controller is an event of its own; nothing here joins two",
    "rule: controller_pair_example": "as controller_pairs",
    "rule: reset_all_controllers: expression": "what a controller does is the engine's",
    "rule: reset_all_controllers: modulation": "as expression",
    "rule: reset_all_controllers: pedals 64 65 66 67": "as expression",
    "rule: reset_all_controllers: pitch bend": "as expression",
    "rule: reset_all_controllers: channel and key pressure": "as expression",
    "rule: reset_all_controllers: unchanged": "as expression",
    "rule: active_sensing_timeout": "needs a clock; the engine's",
    "rule: active_sensing_receiver_margin": "as active_sensing_timeout",
    "rule: clocks_per_quarter": "tempo of a clock is worked out above this floor",
    "rule: baud": "the port driver's",
    "rule: byte_time": "the port driver's",
    "mtc: mtc_rate": "time code is only a sign of life",
}


def feed(data: bytes) -> tuple[list[ev.Event], int]:
    decoder = MidiDecoder(PORT)
    return decoder.feed(data, STAMP), decoder.rubbish


def split_feed(data: bytes, cuts: list[int]) -> tuple[list[ev.Event], int]:
    decoder = MidiDecoder(PORT)
    found: list[ev.Event] = []
    places = [0, *sorted(cut % (len(data) + 1) for cut in cuts), len(data)]
    for begins, ends in pairwise(places):
        found += decoder.feed(data[begins:ends], STAMP)
    return found, decoder.rubbish


def test_every_row_has_a_check_or_a_reason() -> None:
    """No row of midi_messages.csv is passed over without a word."""
    checked = {*CHANNEL_VOICE, *SYSTEM, *CONTROLLERS, *QUARTER_FRAMES, *WORKED, *BY_CASES}
    assert checked | NOT_HERE.keys() == ROWS.keys()
    assert not checked & NOT_HERE.keys()
    assert set(BY_CASES.values()) <= {case.name for case in MIDI}


@pytest.mark.parametrize("name", CHANNEL_VOICE)
def test_channel_messages_take_the_published_number_of_data_bytes(name: str) -> None:
    """On each of 16 channels the event comes with the last data byte of the table, none before (MIDI 1.0)."""
    row = ROWS[name]
    count = int(row["data_byte_count"])
    assert row["status_hex"][1] == "n"
    for low in range(16):
        status = int(row["status_hex"][0], 16) << 4 | low
        whole = bytes([status, *[0x55] * count])
        assert feed(whole[:-1]) == ([], 0)
        found, rubbish = feed(whole)
        assert rubbish == 0
        assert len(found) == 1
        assert type(found[0]) is TYPES[row["name"]]
        assert found[0].channel == low + 1


@pytest.mark.parametrize("name", SYSTEM)
def test_system_messages_take_the_published_number_of_data_bytes(name: str) -> None:
    """Each system status gives its event with its last byte; undefined ones are counted (MIDI 1.0)."""
    row = ROWS[name]
    count = 3 if row["data_byte_count"] == "any" else int(row["data_byte_count"])
    whole = bytes([int(row["status_hex"], 16), *[0x11] * count])
    if row["data_byte_count"] == "any":
        whole += b"\xf7"
    found, rubbish = feed(whole)
    kind = TYPES.get(row["name"])
    if kind is None:
        assert (found, rubbish) == ([], 1)
    elif isinstance(kind, str):
        assert (found, rubbish) == ([ev.RealTime(STAMP, PORT, kind)], 0)
    else:
        assert feed(whole[:-1]) == ([], 0)
        assert [type(event) for event in found] == [kind]
        assert rubbish == 0


@pytest.mark.parametrize("name", CONTROLLERS)
def test_controllers_keep_their_number(name: str) -> None:
    """Every named controller and channel mode message is a Control of its published number (MIDI 1.0)."""
    number = int(ROWS[name]["data1"])
    assert feed(bytes([0xB4, number, 0])) == ([ev.Control(STAMP, PORT, 5, number, 0)], 0)


@pytest.mark.parametrize("name", QUARTER_FRAMES)
def test_quarter_frames_are_one_message_each(name: str) -> None:
    """Every piece of time code is one sign of life, whatever its bits (MIDI Time Code)."""
    pattern = ROWS[name]["data1"].replace(" ", "")
    for bit in "01":
        byte = int("".join(letter if letter in "01" else bit for letter in pattern), 2)
        assert feed(bytes([0xF1, byte])) == ([ev.OtherMessage(STAMP, PORT)], 0)


@pytest.mark.parametrize("name", WORKED)
def test_worked_examples(name: str) -> None:
    """The published byte strings give the published messages (MIDI 1.0)."""
    assert feed(bytes.fromhex(ROWS[name]["value"])) == (WORKED[name], 0)


@pytest.mark.parametrize("case", MIDI, ids=str)
def test_cases(case: Case) -> None:
    """The bytes of a case are its events, whole, in two and byte by byte, and its rubbish is counted."""
    expected = (list(case.events), case.rubbish)
    assert feed(case.data) == expected
    assert split_feed(case.data, list(range(len(case.data)))) == expected
    for cut in range(len(case.data)):
        assert split_feed(case.data, [cut]) == expected


@pytest.mark.parametrize("case", MIDI, ids=str)
def test_trailing_bytes_wait(case: Case) -> None:
    """The beginning of a further message changes nothing before it, and is completed by a later feed."""
    decoder = MidiDecoder(PORT)
    assert decoder.feed(case.data + b"\xf7\xb0\x40", STAMP)[: len(case.events)] == list(case.events)
    assert decoder.feed(b"\x7f", 13.0) == [ev.Control(13.0, PORT, 1, 64, 127)]


@pytest.mark.parametrize("case", MIDI, ids=str)
def test_real_time_may_stand_anywhere(case: Case) -> None:
    """A clock byte put anywhere comes through at once and leaves the other events as they were."""
    for place in range(len(case.data) + 1):
        before, _ = feed(case.data[:place])
        after = list(case.events[len(before) :])
        found = feed(case.data[:place] + b"\xf8" + case.data[place:])
        assert found == ([*before, CLOCK, *after], case.rubbish)


@given(st.binary(max_size=60), st.lists(st.integers(0, 60), max_size=8))
def test_any_bytes_however_cut(data: bytes, cuts: list[int]) -> None:
    """Any bytes give events with values in range, the same however the stream is cut."""
    whole = feed(data)
    assert split_feed(data, cuts) == whole
    assert split_feed(data, list(range(len(data)))) == whole
    for event in whole[0]:
        assert 1 <= getattr(event, "channel", 1) <= 16
        assert 0 <= getattr(event, "note", 0) <= 127
        assert not (isinstance(event, ev.NoteOn) and not 1 <= event.velocity <= 127)
        assert isinstance(event, ev.Bend) or 0 <= getattr(event, "value", 0) <= 127


MESSAGE_BYTES = st.sampled_from(sorted({*range(0, 128, 9), *range(0x80, 0x100, 7), *range(0xF0, 0x100)}))


@given(st.lists(MESSAGE_BYTES, max_size=40).map(bytes), st.lists(st.integers(0, 40), max_size=5))
def test_dense_statuses_however_cut(data: bytes, cuts: list[int]) -> None:
    """The same law where statuses, data and system bytes stand thick."""
    assert split_feed(data, cuts) == feed(data)


@given(st.lists(encodable(), max_size=20))
def test_running_status_says_the_same(events: list[ev.Event]) -> None:
    """Leaving out a channel status that is the last one's repeats nothing and loses nothing."""
    data, running = b"", -1
    for event in events:
        message = encode(event)
        if message[0] < 0xF0:
            data += message[1:] if message[0] == running else message
            running = message[0]
        else:
            data += message
            running = running if message[0] >= 0xF8 else -1
    assert feed(data) == (events, 0)


MIDO_FIELDS = {
    "note_on": ("note", "velocity"),
    "note_off": ("note", "velocity"),
    "polytouch": ("note", "value"),
    "control_change": ("control", "value"),
    "program_change": ("program",),
    "aftertouch": ("value",),
    "pitchwheel": ("pitch",),
}


@given(st.integers(0x80, 0xEF), st.integers(0, 127), st.integers(0, 127))
def test_channel_messages_as_mido_reads_them(status: int, first: int, second: int) -> None:
    """Every channel message has the channel and values that mido gives it (independent library)."""
    data = bytes([status, first] if status & 0xE0 == 0xC0 else [status, first, second])
    (event,), rubbish = feed(data)
    peer = mido.Message.from_bytes(data)
    values = [getattr(peer, field) for field in MIDO_FIELDS[peer.type]]
    assert rubbish == 0
    assert event.channel == peer.channel + 1
    if peer.type == "note_on" and peer.velocity == 0:
        assert event == ev.NoteOff(STAMP, PORT, peer.channel + 1, peer.note, 64)
    else:
        assert [getattr(event, name) for name in event.__slots__[3:]] == values
