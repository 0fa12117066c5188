"""Law 9: no guard can be bypassed, by any source, in any order of events, at any rate.

Judged on the slots that leave, by tests/reference/flash_count.py and by adding up amps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.values.events import Control, Do, Event, NewMapping, NoteOff, NoteOn, Picture
from bridge.values.frame import SLOTS, Frame
from bridge.values.mapping import DoRule, Feel, KeyRule, Mapping, SetRule, Trigger
from bridge.values.rig import Decoder, Lamp, Rig, Supply
from tests.core.test_engine_laws import EVENTS, TIMES, mappings
from tests.parts.flash_rigs import GENERAL, RADIUS, RED

LIMITS = {"load": "limit", "flash": "limit", "heat": "limit"}
LAMPS = (
    Lamp("a", 0, 1, 1, at=(0.0, 0.0), watts=8.0, amps=1.0, supply="near", heat=(0.4, 2.0)),
    Lamp(
        "b",
        1,
        1,
        2,
        at=(0.3, 0.0),
        watts=8.0,
        amps=1.0,
        supply="near",
        response="cie",
        floor=0.02,
        ceiling=0.9,
    ),
    Lamp("c", 2, 1, 3, bits=16, at=(0.6, 0.0), watts=16.0, amps=2.0, supply="near"),
    Lamp("d", 3, 1, 5, at=(4.0, 0.0), colour="red", watts=8.0, amps=1.0, supply="far", response="dali"),
    Lamp("e", 4, 2, 7, at=(4.2, 0.0), colour="red", watts=4.0, amps=0.5, supply="far", heat=(1.0, 1.0)),
    Lamp("f", 5, 2, 7, at=(9.0, 3.0), watts=4.0, amps=0.5, supply="far", ceiling=0.8),
    Lamp("g", 6, 2, 500, bits=16, at=(9.0, 3.1), watts=2.0, amps=0.25),
)
RIG = Rig(
    "guarded",
    LAMPS,
    supplies=(Supply("near", 12.0, 3.0, 0.2), Supply("far", 12.0, 1.5, 0.1)),
    decoders=(Decoder("box", 1, 1, 4, amps_per_slot=1.5, amps=2.2),),
    groups={"all": tuple(range(7)), "left": (0, 1, 2)},
    guards=LIMITS,
)
"""Two supplies, a decoder tighter than its supply, 16 bits, a shared slot, red, heat, fields of view."""

Show = list[tuple[float, list[Event]]]
Out = list[tuple[float, Frame]]


def play(engine: Engine, show: Show) -> Out:
    """Every frame of a show."""
    return [(t, engine.advance(events, t)) for t, events in show]


def drives(frame: Frame) -> list[Fraction]:
    """What each lamp gets, exactly as its slots say it."""
    out = []
    for lamp in LAMPS:
        coarse = frame.slot(lamp.universe, lamp.slot)
        whole = coarse if lamp.bits == 8 else coarse * 256 + frame.slot(lamp.universe, lamp.slot + 1)
        out.append(Fraction(whole, 255 if lamp.bits == 8 else 65535))
    return out


def flashes(out: Out) -> int:
    """The most general or red flashes in any second, in the whole rig and in every field of view."""
    fields = [frozenset(range(len(LAMPS)))]
    for one in LAMPS:
        near = (i for i, other in enumerate(LAMPS) if math.dist(one.at, other.at) <= RADIUS + 1e-6)
        fields.append(frozenset(near))
    light = [(0.0, [Fraction(0)] * len(LAMPS)), *((t, drives(frame)) for t, frame in out)]
    worst = 0
    for field in set(fields):
        total = sum(Fraction(LAMPS[i].watts) for i in field)
        for counter, lamps in ((GENERAL, field), (RED, [i for i in field if LAMPS[i].colour == "red"])):
            series = [(t, sum(Fraction(LAMPS[i].watts) * d[i] for i in lamps) / total) for t, d in light]
            worst = max(worst, counter.worst_second(series)[1])
    return worst


def overloads(out: Out) -> list[str]:
    """Supplies, decoders and outputs that carry more than they may in some frame."""
    found = []
    hair = 1 + Fraction(1, 10**9)
    for t, frame in out:
        amps = [Fraction(lamp.amps) * drive for lamp, drive in zip(LAMPS, drives(frame), strict=True)]
        for supply in RIG.supplies:
            budget = Fraction(supply.amps) * (1 - Fraction(supply.headroom))
            if (
                sum(a for a, lamp in zip(amps, LAMPS, strict=True) if lamp.supply == supply.name)
                > budget * hair
            ):
                found.append(f"{supply.name} at {t}")
        box = RIG.decoders[0]
        mine = [a for a, lamp in zip(amps, LAMPS, strict=True) if box.carries(lamp)]
        if sum(mine) > Fraction(box.amps) * hair or max(mine) > Fraction(box.amps_per_slot) * hair:
            found.append(f"{box.name} at {t}")
    return found


def at_times(events: Sequence[Event], times: Sequence[float]) -> Show:
    """Events handed in with the first frame at or after their stamps; those after the last frame are lost."""
    rest = sorted(events, key=lambda event: event.stamp)
    show: Show = []
    for t in times:
        now = [event for event in rest if event.stamp <= t]
        rest = rest[len(now) :]
        show.append((t, now))
    return show


@st.composite
def clocks(draw: st.DrawFn) -> list[float]:
    """Frame times over three seconds: 25 Hz, 40 Hz, or as it comes."""
    rate = draw(st.sampled_from([25.0, 40.0, 0.0]))
    if rate:
        return [k / rate for k in range(int(3 * rate) + 1)]
    times, t = [0.0], 0.0
    gaps = draw(
        st.lists(st.sampled_from([0.0, 0.003, 0.01, 0.025, 0.04, 0.11, 0.3]), min_size=20, max_size=90)
    )
    for gap in gaps:
        t += gap
        times.append(t)
    return times


@st.composite
def pictures(draw: st.DrawFn, stamp: float) -> Picture:
    """A frame of any take: dark, full, or anything on the slots in use."""
    value = draw(st.sampled_from([0, 255, 255, None]))
    slots = bytearray(2 * SLOTS)
    for at in (0, 1, 2, 3, 4, SLOTS + 6, SLOTS + 499, SLOTS + 500):
        slots[at] = draw(st.integers(0, 255)) if value is None else value
    universes = draw(st.sampled_from([(1, 2), (1, 2), ()]))
    return Picture(stamp, universes, bytes(slots) if universes else b"")


@st.composite
def hammerings(draw: st.DrawFn) -> list[Event]:
    """Sources switch lamps on and off as fast as they can: one at a time for a while, or all mixed."""
    events: list[Event] = []
    kinds = ["light", "note", "picture", "blackout", "master", "look", "new", "knob"]
    t = 0.0
    while t < 2.5 and len(events) < 160:
        kind, gap = draw(st.sampled_from(kinds)), draw(st.sampled_from([0.02, 0.03, 0.05, 0.08, 0.12]))
        lamps = draw(st.sampled_from(["all", "all", "left", "d"]))
        if kind in ("blackout", "master", "knob"):
            events.append(Do(t, "light", lamps, 1.0))
        for _ in range(draw(st.sampled_from([1, 2, 5, 12]))):
            t += gap
            events += draw(blows(kind, t, lamps))
    return events


@st.composite
def blows(draw: st.DrawFn, kind: str, t: float, lamps: str) -> list[Event]:
    """One switching on or off."""
    if kind == "light":
        return [Do(t, "light", lamps, 1.0), Do(t + 0.02, "light", lamps, 0.0)]
    if kind == "note":
        note = draw(st.integers(58, 66))
        return [NoteOn(t, "piano", 1, note, 127), NoteOff(t + 0.02, "piano", 1, note)]
    if kind == "picture":
        return [draw(pictures(t)), draw(pictures(t + 0.02))]
    if kind == "blackout":
        return [Do(t, "blackout_on"), Do(t + 0.02, "blackout_off")]
    if kind == "look":
        return [Do(t, "look", "a", draw(st.sampled_from([0.0, 0.1]))), Do(t + 0.02, "look", "")]
    if kind == "new":
        return [NewMapping(t, draw(mappings()), draw(st.booleans()))]
    if kind == "knob":
        number = draw(st.sampled_from([1, 7]))
        return [Control(t, "piano", 1, number, 0), Control(t + 0.02, "piano", 1, number, 127)]
    return [Do(t, "master", "", 0.0), Do(t + 0.02, "master", "", draw(st.sampled_from([0.4, 1.0])))]


@st.composite
def shows(draw: st.DrawFn) -> tuple[Mapping, Show]:
    """Any mapping, any events, hammered on top, at any times of frames."""
    played = draw(st.lists(EVENTS, max_size=30))
    hammered = draw(hammerings())
    played += [draw(pictures(stamp)) for stamp in draw(st.lists(TIMES, max_size=4))]
    return draw(mappings()), at_times([*played, *hammered], draw(clocks()))


@settings(max_examples=40)
@given(shows())
def test_no_supply_decoder_or_output_is_ever_overloaded(show: tuple[Mapping, Show]) -> None:
    """In no frame does anything carry more than it may, whatever happened before."""
    assert overloads(play(Engine(RIG, show[0]), show[1])) == []


@settings(max_examples=40)
@given(shows())
def test_no_fourth_flash_leaves(show: tuple[Mapping, Show]) -> None:
    """The slots that leave count three flashes at most in any second, general and red, anywhere."""
    assert flashes(play(Engine(RIG, show[0]), show[1])) <= 3


@settings(max_examples=40)
@given(shows())
def test_a_replay_of_guarded_frames_is_the_same_to_the_byte(show: tuple[Mapping, Show]) -> None:
    """Frames that left an engine, shown again as pictures, leave a fresh one unchanged; nothing is held."""
    out = play(Engine(RIG, show[0]), show[1])
    again = Engine(RIG, Mapping("replay"))
    for t, frame in out:
        shown = again.advance([Picture(t, frame.universes, frame.slots.tobytes())], t)
        assert shown.slots.tobytes() == frame.slots.tobytes()
    assert {name: guard.held for name, guard in again.guards.items()} == dict.fromkeys(LIMITS, (0.0, 0))


@settings(max_examples=20)
@given(shows())
def test_a_blackout_is_whole_in_its_own_frame(show: tuple[Mapping, Show]) -> None:
    """Whatever came before, with a blackout asked for nothing leaves but darkness."""
    engine = Engine(RIG, show[0])
    end = play(engine, show[1])[-1][0]
    assert not engine.advance([Do(end, "blackout_on")], end).slots.any()


@settings(max_examples=20)
@given(shows())
def test_guards_only_lower(show: tuple[Mapping, Show]) -> None:
    """No slot that leaves is above what leaves an engine without guards."""
    bare = replace(RIG, guards=dict.fromkeys(LIMITS, "off"))
    for (_, frame), (_, free) in zip(
        play(Engine(RIG, show[0]), show[1]), play(Engine(bare, show[0]), show[1]), strict=True
    ):
        assert all(got <= asked for got, asked in zip(drives(frame), drives(free), strict=True))


FULL = Mapping(
    "full",
    keys=(KeyRule((60,), (tuple(range(7)),), feel=Feel(), curve="full"),),
    looks={"a": tuple((i, 1.0) for i in range(7))},
    sets=(
        SetRule(Trigger("control", (1,)), "level", tuple(range(7))),
        SetRule(Trigger("control", (7,)), "master"),
    ),
    does=(
        DoRule(Trigger("note", (58,)), "look", look="a"),
        DoRule(Trigger("note", (59,)), "blackout", toggle=True),
    ),
)
LIT = b"\xff" * SLOTS * 2


def strobe(source: str, t: float, up: bool) -> list[Event]:
    """What one source does to switch all lamps on or off."""
    value = 1.0 if up else 0.0
    steady = Do(t, "light", "all", 1.0)
    if source == "keys":
        return [NoteOn(t, "p", 1, 60, 127) if up else NoteOff(t, "p", 1, 60)]
    if source == "light":
        return [Do(t, "light", "all", value)]
    if source == "picture":
        return [Picture(t, (1, 2), LIT) if up else Picture(t, (), b"")]
    if source == "look":
        return [Do(t, "look", "a" if up else "")]
    if source == "knob":
        return [Control(t, "p", 1, 1, 127 if up else 0)]
    if source == "master":
        return [steady, Do(t, "master", "", value)]
    if source == "fader":
        return [steady, Control(t, "p", 1, 7, 127 if up else 0)]
    if source == "blackout":
        return [steady, Do(t, "blackout_off" if up else "blackout_on")]
    if source == "toggle":
        return [steady, NoteOn(t, "p", 1, 59, 100), NoteOff(t, "p", 1, 59)]
    rest = replace(FULL, keys=())
    return [NoteOn(t, "p", 1, 60, 127), NewMapping(t, FULL if up else rest, True)]


SOURCES = ["keys", "light", "picture", "look", "knob", "master", "fader", "blackout", "toggle", "mapping"]


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("hz", [25.0, 40.0])
def test_each_source_alone_is_limited(source: str, hz: float) -> None:
    """Eight strikes a second from any one source pass without guards; with them three flashes at most do."""
    show = []
    for k in range(int(3 * hz)):
        t = k / hz
        place = k % round(hz / 8)
        events = strobe(source, t, True) if place == 0 else strobe(source, t, False) if place == 1 else []
        show.append((t, events))
    bare = replace(RIG, guards=dict.fromkeys(LIMITS, "off"))
    free = play(Engine(bare, FULL), show)
    assert flashes(free) > 3
    assert overloads(free)
    engine = Engine(RIG, FULL)
    out = play(engine, show)
    assert flashes(out) <= 3
    assert overloads(out) == []
    assert all(engine.guards[name].held[1] > 0 for name in ("flash", "load"))


@pytest.mark.parametrize("source", [source for source in SOURCES if source != "toggle"])
def test_each_source_alone_is_eased_by_the_heat_guard(source: str) -> None:
    """A lamp held at full by any source is eased back before its seconds at full are over."""
    engine = Engine(RIG, FULL)
    out = play(engine, [(k / 40, strobe(source, 0.0, True) if k == 0 else []) for k in range(80)])
    assert engine.guards["heat"].held[1] == 1
    full, rest = LAMPS[0].heat or (1.0, 1.0)
    heat = 0.0
    for _, frame in out:
        drive = float(drives(frame)[0])
        heat = max(0.0, heat + (drive / full - (1.0 - drive) / rest) / 40)
        assert heat <= 1.0 + 1e-9
