"""The engine's laws over any order of events."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Do,
    Event,
    KeyPressure,
    NoteOff,
    NoteOn,
    PortGone,
    Program,
    RealTime,
)
from bridge.values.mapping import ChordRule, DoRule, Feel, KeyRule, Mapping, SetRule, Trigger
from tests.core.builders import rig

PORTS = st.sampled_from(["piano", "pads"])
CHANNELS = st.integers(1, 3)
NOTES = st.integers(58, 66)
VALUES = st.integers(0, 127)
TIMES = st.floats(0.0, 3.0)
CONTROLS = st.sampled_from([1, 7, 64, 66, 67, 120, 121, 123, 124, 125, 126, 127])
EVENTS: st.SearchStrategy[Event] = st.one_of(
    st.builds(NoteOn, TIMES, PORTS, CHANNELS, NOTES, st.integers(1, 127)),
    st.builds(NoteOff, TIMES, PORTS, CHANNELS, NOTES),
    st.builds(Control, TIMES, PORTS, CHANNELS, CONTROLS, VALUES),
    st.builds(Bend, TIMES, PORTS, CHANNELS, st.integers(-8192, 8191)),
    st.builds(KeyPressure, TIMES, PORTS, CHANNELS, NOTES, VALUES),
    st.builds(ChannelPressure, TIMES, PORTS, CHANNELS, VALUES),
    st.builds(Program, TIMES, PORTS, CHANNELS, VALUES),
    st.builds(RealTime, TIMES, PORTS, st.sampled_from(["clock", "active_sensing", "stop"])),
    st.builds(PortGone, TIMES, PORTS),
    st.builds(Do, TIMES, st.sampled_from(["blackout_on", "blackout_off", "release_all", "look", "master"])),
)
SHORT = st.sampled_from([0.0, 0.01, 0.2])
FEELS = st.builds(Feel, SHORT, st.sampled_from([0.05, 0.3]), st.sampled_from([0.0, 0.5, 1.0]), SHORT)


@st.composite
def rules(draw: st.DrawFn) -> KeyRule:
    """Any rule over four lamps."""
    notes = tuple(draw(st.lists(NOTES, min_size=1, max_size=4, unique=True)))
    lamps = tuple(tuple(sorted(draw(st.sets(st.integers(0, 3), max_size=4)))) for _ in notes)
    return KeyRule(
        notes,
        lamps,
        channel=draw(st.sampled_from([None, 1])),
        source=draw(st.sampled_from(["", "keys"])),
        curve=draw(st.sampled_from(["linear", "full", "hard"])),
        between=draw(st.sampled_from([(0.0, 1.0), (0.3, 0.9)])),
        feel=draw(FEELS),
        mode=draw(st.sampled_from(["hold", "latch", "shot"])),
        merge=draw(st.sampled_from(["highest", "latest"])),
        pedal=draw(st.booleans()),
        velocities=draw(st.sampled_from([(1, 127), (1, 60), (61, 127)])),
        one_of=draw(st.sampled_from(["", "scene"])),
        choke=draw(st.sampled_from(["", "hats"])),
        solo=draw(st.booleans()),
        repeat=draw(st.sampled_from([0.0, 0.0, 0.25])),
        aftertouch=draw(st.sampled_from([0.0, 1.0])),
        release_velocity=draw(st.booleans()),
        ignore_repeat=draw(st.sampled_from([0.0, 0.05])),
        min_on=draw(st.sampled_from([0.0, 0.15])),
    )


@st.composite
def chords(draw: st.DrawFn) -> ChordRule:
    """Any chord rule over four lamps; the notes of EVENTS hold many of these."""
    lamps = draw(st.lists(st.integers(0, 3), min_size=1, max_size=4, unique=True))
    chase = draw(st.booleans())
    return ChordRule(
        draw(st.sampled_from([(0, 4), (0, 3), (0, 4, 7), (0, 2, 4), (0, 5)])),
        picture=() if chase else tuple((lamp, draw(st.floats(0.1, 1.0))) for lamp in lamps),
        chase=tuple(lamps) if chase else (),
        cells=((0, 1), (2, 3)),
        move=draw(st.sampled_from(["", "root", "bass"])),
        turn=draw(st.booleans()),
        then=draw(st.sampled_from(["release", "stay", "next"])),
        feel=draw(FEELS),
        exact=draw(st.booleans()),
        takes_keys=draw(st.booleans()),
        source=draw(st.sampled_from(["", "keys"])),
    )


@st.composite
def mappings(draw: st.DrawFn) -> Mapping:
    """Any mapping of a few rules, knobs and actions."""
    return Mapping(
        "any",
        inputs={"keys": "piano"},
        keys=tuple(draw(st.lists(rules(), max_size=4))),
        looks={"a": ((0, 0.5), (2, 1.0))},
        sets=(
            SetRule(Trigger("control", (7,)), "master"),
            SetRule(Trigger("control", (1,)), "level", (1, 3)),
        ),
        does=(
            DoRule(Trigger("note", (58,)), "blackout", toggle=draw(st.booleans())),
            DoRule(Trigger("note", (59,)), "look", look="a", fade=0.1),
        ),
        chords=tuple(draw(st.lists(chords(), max_size=3))),
    )


def frames(machine: Engine, events: list[Event], hz: float, seconds: float = 4.0) -> list[bytes]:
    """Every frame's bytes."""
    out, at = [], 0
    events = sorted(events, key=lambda event: event.stamp)
    for k in range(int(seconds * hz) + 1):
        end = at
        while end < len(events) and events[end].stamp <= k / hz:
            end += 1
        out.append(machine.advance(events[at:end], k / hz).universe(1))
        at = end
    return out


@given(mappings(), st.lists(EVENTS, max_size=40))
@settings(max_examples=60)
def test_same_events_same_bytes(mapping: Mapping, events: list[Event]) -> None:
    """Law 1: the engine is a function of rig, mapping and events."""
    assert frames(Engine(rig(), mapping), events, 40.0) == frames(Engine(rig(), mapping), events, 40.0)


@given(mappings(), st.lists(EVENTS, max_size=40))
@settings(max_examples=60)
def test_25_and_40_hz_agree_where_their_times_meet(mapping: Mapping, events: list[Event]) -> None:
    """Law 3: every fifth frame at 25 Hz is every eighth at 40 Hz, once short notes have had their frame."""
    slow = frames(Engine(rig(), mapping), events, 25.0)[::5]
    fast = frames(Engine(rig(), mapping), events, 40.0)[::8]
    stamps = [event.stamp for event in events]
    for i, (a, b) in enumerate(zip(slow, fast, strict=True)):
        t = i / 5
        if not any(t - 0.05 <= stamp <= t for stamp in stamps):
            assert a == b, t


@given(mappings(), st.lists(EVENTS, max_size=40))
@settings(max_examples=100)
def test_nothing_stays_lit_once_everything_is_let_go(mapping: Mapping, events: list[Event]) -> None:
    """Law 5: after release_all, no look and level 0, every lamp is dark, whatever came before."""
    machine = Engine(rig(), mapping)
    frames(machine, events, 40.0)
    end: list[Event] = [Do(4.1, "release_all"), Do(4.1, "look")]
    end += [Control(4.1, port, channel, 1, 0) for port in ("piano", "pads") for channel in (1, 2, 3)]
    machine.advance(end, 4.1)
    machine.advance([], 4.2)
    assert machine.advance([], 6.0).universe(1) == bytes(512)


@given(mappings(), st.lists(EVENTS, max_size=40))
@settings(max_examples=60)
def test_unplugging_releases_what_keys_and_pedals_hold(mapping: Mapping, events: list[Event]) -> None:
    """Law 5: with all ports gone only latches, knobs and looks can still be lit."""
    keys = tuple(rule for rule in mapping.keys if rule.mode == "hold")
    chords = tuple(rule for rule in mapping.chords if rule.then == "release")
    held = replace(mapping, keys=keys, chords=chords, sets=(), does=())
    machine = Engine(rig(), held)
    frames(machine, events, 40.0)
    machine.advance([PortGone(4.1, "piano"), PortGone(4.1, "pads")], 4.1)
    machine.advance([], 4.2)
    assert machine.advance([], 6.0).universe(1) == bytes(512)


@given(mappings(), st.lists(EVENTS, max_size=40), st.lists(TIMES, max_size=20))
@settings(max_examples=100)
def test_early_frames_change_no_steady_frame(
    mapping: Mapping, events: list[Event], moments: list[float]
) -> None:
    """Laws 3 and 4: with early frames at every strike and at any other time, the steady ones are the same."""
    plain = rig()
    machine, stamps = Engine(plain, mapping), [event.stamp for event in events]
    events = sorted(events, key=lambda event: event.stamp)
    turns = sorted({(k / 40.0, False) for k in range(161)} | {(t, True) for t in (*stamps, *moments)})
    steady, at = [], 0
    for t, early in turns:
        end = at
        while end < len(events) and events[end].stamp <= t:
            end += 1
        frame = machine.advance(events[at:end], t, early)
        at = end
        if not early:
            steady.append(frame.universe(1))
    assert steady == frames(Engine(plain, mapping), events, 40.0)


@given(mappings(), st.lists(EVENTS, max_size=30))
@settings(max_examples=60)
def test_a_frame_drawn_again_is_the_same(mapping: Mapping, events: list[Event]) -> None:
    """An extra steady frame in between changes none after the next."""
    plain, busy = Engine(rig(), mapping), Engine(rig(), mapping)
    frames(plain, events, 40.0, 3.0)
    for k in range(241):
        t = k / 80
        now = [
            e
            for e in sorted(events, key=lambda e: e.stamp)
            if (k - 1) / 80 < e.stamp <= t or (k == 0 and e.stamp == 0)
        ]
        busy.advance(now, t)
    assert plain.advance([], 3.5).slots.tobytes() == busy.advance([], 3.5).slots.tobytes()
