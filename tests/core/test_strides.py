"""What comes every so many beats: free where nothing rules the beat, on its grid where something does."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.beats import Beats
from bridge.core.engine import Engine
from bridge.core.strides import LEAST, Strides
from bridge.values.events import BeatHeard, Do, Event, NewMapping, RealTime
from bridge.values.mapping import Feel, Mapping, SetRule
from tests.core.builders import cc, control, off, on, rig, together

FINE = 1000
"""Frames a second at which a strike's moment is read."""

BLIP = Feel(decay=0.02, sustain=0.0)
"""Short enough for every strike to stand alone."""


def repeating(beats: float, tempo: float = 120.0, **mapping: object) -> Mapping:
    """A held key that strikes lamp 0 every so many beats."""
    keys = (together(60, (0,), repeat=beats, feel=BLIP),)
    return Mapping("test", keys=keys, tempo=tempo, **mapping)  # type: ignore[arg-type]


def strikes(mapping: Mapping, events: list[Event], until: float, hz: float = FINE) -> list[float]:
    """Seconds at which lamp 0 is struck, to the frame."""
    engine, out, before = Engine(rig(1), mapping), [], 0
    waiting = sorted(events, key=lambda event: event.stamp)
    for k in range(round(until * hz) + 1):
        t = k / hz
        due = [event for event in waiting if event.stamp <= t]
        waiting = waiting[len(due) :]
        now = engine.advance(due, t).universe(1)[0]
        if now > before + 100:
            out.append(t)
        before = now
    return out


def clock(bpm: float, begin: float, until: float, port: str = "desk") -> list[Event]:
    """A started MIDI clock whose beat 0 is at `begin`."""
    out: list[Event] = [RealTime(begin - 0.001, port, "start")]
    out += [RealTime(begin + n * 2.5 / bpm, port, "clock") for n in range(int((until - begin) * bpm / 2.5))]
    return out


def heard(bpm: float, begin: float, until: float) -> list[Event]:
    """Beats of music."""
    return [BeatHeard(begin + n * 60 / bpm, "song", bpm, 1.0) for n in range(int((until - begin) * bpm / 60))]


def taps(bpm: float, begin: float) -> list[Event]:
    """Six taps."""
    return [Do(begin + n * 60 / bpm, "tap") for n in range(6)]


def test_without_a_ruler_each_strike_is_a_step_after_the_one_before() -> None:
    """Nothing rules: at 100 beats a minute half beats after a strike at 1.13 come every 0.3 s."""
    found = strikes(repeating(0.5, tempo=100.0), [on(1.13, 60)], 2.5)
    assert found == pytest.approx([1.13, 1.43, 1.73, 2.03, 2.33], abs=0.0011)


@pytest.mark.parametrize("source", ["clock", "sound", "tap"])
def test_with_a_ruler_strikes_fall_on_the_grid(source: str) -> None:
    """At 125 beats a minute halves fall every 0.24 s from the ruler's beat on, the first strike at once."""
    events: list[Event] = {
        "clock": clock(125.0, 0.5, 9.0),
        "sound": heard(125.0, 0.5, 9.0),
        "tap": taps(125.0, 0.5),
    }[source]
    # Beat 8 is at 0.5 + 8 * 0.48 = 4.34, so the grid of halves runs 4.34, 4.58, 4.82 ...
    found = strikes(repeating(0.5), [*events, on(4.40, 60)], 5.6)
    assert found[0] == pytest.approx(4.40, abs=0.0011)
    assert found[1:] == pytest.approx([4.58, 4.82, 5.06, 5.30, 5.54], abs=0.006)


@pytest.mark.parametrize(("struck", "second"), [(4.35, 4.58), (4.45, 4.58), (4.47, 4.82), (4.57, 4.82)])
def test_the_second_strike_is_half_a_step_away_at_least(struck: float, second: float) -> None:
    """Struck less than half a step before a place on the grid, that place is left out."""
    found = strikes(repeating(0.5), [*clock(125.0, 0.5, 9.0), on(struck, 60)], 5.0)
    assert found[:2] == pytest.approx([struck, second], abs=0.0021)


def test_two_keys_struck_apart_come_together() -> None:
    """Two keys struck at different moments repeat at the same ones, and so does one of whole beats."""
    mapping = Mapping(
        keys=tuple(
            together(60 + n, (n,), repeat=beats, feel=BLIP) for n, beats in enumerate((0.5, 0.5, 1.0))
        ),
    )
    engine, seen = Engine(rig(3), mapping), []
    waiting = sorted(
        [*clock(125.0, 0.5, 9.0), on(4.37, 60), on(4.43, 61), on(4.5, 62)], key=lambda event: event.stamp
    )
    for k in range(6 * FINE):
        due = [event for event in waiting if event.stamp <= k / FINE]
        waiting = waiting[len(due) :]
        slots = engine.advance(due, k / FINE).universe(1)[:3]
        if k / FINE > 4.6 and max(slots) > 240:
            seen.append([slot > 200 for slot in slots])
    # Both halves together always, the whole beat with every other of them.
    assert {(a, b) for a, b, _ in seen} == {(True, True)}
    assert {c for *_, c in seen} == {True, False}


def test_a_ruler_that_comes_takes_over_and_one_that_goes_leaves_the_pace() -> None:
    """Free strikes move to the grid once something rules, and go on evenly when it is gone."""
    events = [on(0.17, 60), *clock(125.0, 2.0, 6.0)]
    found = strikes(repeating(1.0, tempo=90.0), events, 9.0)
    free = [at for at in found if at < 2.0]
    assert free == pytest.approx([0.17 + n * 60 / 90 for n in range(len(free))], abs=0.0011)
    off_grid = [abs((at - 2.0) / 0.48 - round((at - 2.0) / 0.48)) for at in found if 3.5 < at < 6.0]
    assert len(off_grid) >= 5
    assert max(off_grid) < 0.01
    after = [at for at in found if at > 6.6]
    gaps = [b - a for a, b in pairwise(after)]
    assert gaps == pytest.approx([0.48] * len(gaps), abs=0.003)


def test_the_strikes_follow_a_clock_that_changes_its_tempo() -> None:
    """A clock goes from 120 to 150: strikes stay on its beats, however the tempo moved between them."""
    quick = 1.0 + 8 * 0.5
    events = [*clock(120.0, 1.0, quick), on(2.2, 60)]
    events += [RealTime(quick + n * 2.5 / 150, "desk", "clock") for n in range(24 * 8)]
    found = strikes(repeating(1.0), events, 8.0)
    true = [1.0 + n * 0.5 for n in range(8)] + [quick + n * 0.4 for n in range(8)]
    off_by = [min(abs(at - beat) for beat in true) for at in found[1:]]
    assert max(off_by[4:]) < 0.12  # while it catches up
    assert max(off_by[-4:]) < 0.01


def test_a_tempo_set_by_a_knob_does_not_rule() -> None:
    """A knob sets the tempo: the next step is as long as that says, from the strike before it."""
    knob = SetRule(control(20), "tempo", between=(60.0, 120.0))
    found = strikes(repeating(0.5, sets=(knob,)), [on(0.1, 60), cc(0.9, 20, 0)], 3.0)
    assert found == pytest.approx([0.1, 0.35, 0.6, 0.85, 1.1, 1.6, 2.1, 2.6], abs=0.0011)


def test_a_new_mapping_goes_on_with_the_strikes() -> None:
    """A file saved while a key repeats under a clock: no strike is lost, doubled or off the grid."""
    mapping = repeating(0.5)
    events = [*clock(125.0, 0.5, 9.0), on(4.40, 60), NewMapping(4.9, replace(mapping, tempo=77.0))]
    found = strikes(mapping, sorted(events, key=lambda event: event.stamp), 5.6)
    assert found[1:] == pytest.approx([4.58, 4.82, 5.06, 5.30, 5.54], abs=0.006)


def test_a_mapping_without_the_repeat_ends_it_between_two_strikes() -> None:
    """A file saved without `repeat` while a key is down and dark between two strikes: it holds from then."""
    mapping = repeating(1.0, tempo=60.0)
    plain = replace(mapping, keys=(together(60, (0,)),))
    engine = Engine(rig(1), mapping)
    engine.advance([on(0.1, 60)], 0.1)
    assert engine.advance([], 0.9).universe(1)[0] == 0
    engine.advance([NewMapping(1.0, plain)], 1.0)
    assert [engine.advance([], 1.0 + n / 4).universe(1)[0] for n in range(1, 8)] == [255] * 7
    assert engine.advance([off(3.0, 60)], 3.0).universe(1)[0] == 0


@given(st.floats(0.0, 50.0), st.floats(1e-6, 8.0), st.floats(20.0, 300.0), st.booleans())
def test_moments_rise_and_keep_their_distance(at: float, step: float, tempo: float, ruled: bool) -> None:
    """However small the step, moments rise by a hundredth of a second at least, the second by half a step."""
    beats = Beats(tempo)
    beats.ruled = lambda _t: ruled
    strides, found = Strides(at), []
    while len(found) < 20:
        moment = strides.due(beats, 1e9, step)
        assert moment is not None
        found.append(moment)
    gaps = [b - a for a, b in pairwise(found)]
    assert found[0] == at
    assert gaps[0] >= 0.499 * max(LEAST, step * 60.0 / tempo)
    assert min(gaps[1:]) >= 0.99 * LEAST


def test_a_leap_of_the_beat_leaves_places_out() -> None:
    """The beat leaps over two places of the grid: they are not struck late, the next one is in time."""
    beats = Beats(60.0)
    beats.ruled = lambda _t: True
    strides = Strides(0.0)
    assert strides.due(beats, 2.0, 0.25) == 0.0
    beats.moment = 0.1
    beats.steer(0.75, 60.0, part=4.0)
    assert strides.due(beats, 2.0, 0.25) == pytest.approx(0.1)
    assert strides.due(beats, 2.0, 0.25) == pytest.approx(0.35)
