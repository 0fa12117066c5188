"""Chases of chords in beats, and law 3 for everything that goes in beats, whatever rules them."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.values.events import BeatHeard, Event, NewMapping, RealTime
from bridge.values.mapping import ChordRule, Feel, Mapping
from tests.core.builders import off, on, rig, together
from tests.core.test_strides import clock, heard, taps

FINE = 1000


def chasing(step: float, in_beats: bool = True, release: float = 0.0, tempo: float = 120.0) -> Mapping:
    """C major runs through lamps 0, 1, 2."""
    chord = ChordRule((0, 4, 7), chase=(0, 1, 2), step=step, in_beats=in_beats, feel=Feel(release=release))
    return Mapping("test", chords=(chord,), window=0.0, tempo=tempo)


def held(at: float) -> list[Event]:
    """C major goes down."""
    return [on(at, note) for note in (60, 64, 67)]


def steps(mapping: Mapping, events: list[Event], until: float) -> list[tuple[float, int]]:
    """(seconds, lamp) of every lamp that becomes the brightest."""
    engine, out = Engine(rig(3), mapping), []
    waiting, before = sorted(events, key=lambda event: event.stamp), -1
    for k in range(round(until * FINE) + 1):
        due = [event for event in waiting if event.stamp <= k / FINE]
        waiting = waiting[len(due) :]
        slots = engine.advance(due, k / FINE).universe(1)[:3]
        brightest = slots.index(max(slots)) if max(slots) == 255 else -1
        if brightest not in (-1, before):
            out.append((k / FINE, brightest))
        before = brightest
    return out


def test_without_a_ruler_a_chase_steps_from_the_chord_on() -> None:
    """Nothing rules: halves at 100 beats a minute step every 0.3 s after the chord, lamp after lamp."""
    found = steps(chasing(0.5, tempo=100.0), held(1.13), 2.5)
    assert [lamp for _, lamp in found] == [0, 1, 2, 0, 1]
    assert [at for at, _ in found] == pytest.approx([1.13, 1.43, 1.73, 2.03, 2.33], abs=0.0011)


@pytest.mark.parametrize(("struck", "second"), [(4.40, 4.58), (4.45, 4.58), (4.47, 4.82)])
def test_under_a_clock_a_chase_steps_on_the_grid(struck: float, second: float) -> None:
    """The first lamp at once, the others on the clock's halves, none sooner than half a step after it."""
    found = steps(chasing(0.5), [*clock(125.0, 0.5, 9.0), *held(struck)], second + 0.75)
    assert [lamp for _, lamp in found] == [0, 1, 2, 0, 1]
    wanted = [struck, second, second + 0.24, second + 0.48, second + 0.72]
    assert [at for at, _ in found] == pytest.approx(wanted, abs=0.006)


def test_a_chase_and_a_repeat_move_together() -> None:
    """A chord's chase and a key that repeats, begun at different moments, step at the same ones."""
    mapping = Mapping(
        chords=chasing(0.5).chords,
        window=0.0,
        keys=(together(40, (3,), repeat=0.5, feel=Feel(decay=0.02, sustain=0.0)),),
    )
    engine, struck, stepped, before, was = Engine(rig(4), mapping), [], [], 0, -1
    events = sorted([*clock(125.0, 0.5, 9.0), *held(4.4), on(4.45, 40)], key=lambda event: event.stamp)
    for k in range(6 * FINE):
        due = [event for event in events if event.stamp <= k / FINE]
        events = events[len(due) :]
        *chase, key = engine.advance(due, k / FINE).universe(1)[:4]
        if k > 4600:
            struck += [k] if key > before + 100 else []
            stepped += [k] if chase.index(max(chase)) != was else []
        before, was = key, chase.index(max(chase))
    assert len(struck) == 5
    assert struck == stepped[-len(struck) :]


def test_steps_in_seconds_heed_no_clock() -> None:
    """A chase in seconds steps by its own time under a clock too."""
    found = steps(chasing(0.2, in_beats=False), [*clock(125.0, 0.5, 9.0), *held(4.40)], 5.1)
    assert [at for at, _ in found] == pytest.approx([4.4, 4.6, 4.8, 5.0], abs=0.0011)


def test_a_lamp_that_had_its_turn_falls_by_the_release() -> None:
    """Under a clock a lamp is half down half its release after the step that ended its turn."""
    engine = Engine(rig(3), chasing(0.5, release=0.2))
    events = sorted([*clock(125.0, 0.5, 9.0), *held(4.4)], key=lambda event: event.stamp)
    for k in range(round(4.68 * FINE) + 1):
        due = [event for event in events if event.stamp <= k / FINE]
        events = events[len(due) :]
        slots = engine.advance(due, k / FINE).universe(1)[:3]
    # The turn of lamp 0 ended at 4.58; at 4.68 lamp 1 has it.
    assert list(slots) == pytest.approx([128, 255, 0], abs=4)


def test_a_new_mapping_leaves_a_standing_chase_on_the_grid() -> None:
    """`then: stay`: a chase that fingers left goes on with the clock when another mapping is saved."""
    chord = ChordRule((0, 4, 7), chase=(0, 1, 2), step=0.5, in_beats=True, then="stay", feel=Feel())
    mapping = Mapping("test", chords=(chord,), window=0.0)
    other = Mapping("test", chords=(chord,), window=0.0, tempo=77.0)
    ends = [off(4.6, note) for note in (60, 64, 67)]
    found = steps(mapping, [*clock(125.0, 0.5, 9.0), *held(4.4), *ends, NewMapping(4.9, other)], 5.8)
    assert [at for at, _ in found[1:]] == pytest.approx([4.58, 4.82, 5.06, 5.30, 5.54, 5.78], abs=0.006)


RULERS = st.one_of(
    st.builds(lambda bpm, begin: clock(bpm, begin, 4.0), st.floats(60.0, 180.0), st.floats(0.05, 2.0)),
    st.builds(lambda bpm, begin: heard(bpm, begin, 4.0), st.floats(60.0, 180.0), st.floats(0.0, 2.0)),
    st.builds(taps, st.floats(60.0, 180.0), st.floats(0.0, 2.0)),
)


@given(
    st.lists(RULERS, max_size=3),
    st.lists(st.tuples(st.floats(0.0, 4.0), st.floats(0.0, 1.5)), max_size=4),
    st.sampled_from([0.25, 1 / 3, 0.5, 1.0, 1.5]),
    st.sampled_from([Feel(), Feel(decay=0.1, sustain=0.3, release=0.2), Feel(attack=0.05, release=0.4)]),
)
@settings(max_examples=40, deadline=None)
def test_25_and_40_hz_agree_whatever_rules(
    rulers: list[list[Event]], held: list[tuple[float, float]], step: float, feel: Feel
) -> None:
    """Law 3 with clocks, music and taps that come and go: strikes have moments of their own, not a frame's.

    Compared where no strike and no event is so near that its one frame is a matter of the rate (law 4).
    """
    mapping = Mapping(
        keys=(together(60, (0,), repeat=step, feel=feel),),
        chords=(ChordRule((0, 4), chase=(1, 2, 3), step=step, in_beats=True, feel=feel),),
    )
    events = [event for ruler in rulers for event in ruler]
    for begin, length in held:
        events += [on(begin, 60), off(begin + length, 60), on(begin + 0.1, 64), off(begin + length, 64)]
    events.sort(key=lambda event: event.stamp)
    levels = {hz: _levels(mapping, events, hz) for hz in (25, 40, 200)}
    rises = [any(b > a for a, b in zip(*two, strict=True)) for two in pairwise(levels[200])]
    hits = [n / 200 for n, rose in enumerate(rises) if rose]
    ends = [event.stamp for event in events if not isinstance(event, RealTime | BeatHeard)]
    for n in range(24):
        t = n / 5
        if any(t - 0.051 <= moment <= t + 0.006 for moment in [*hits, *ends]):
            continue
        assert levels[25][n * 5] == levels[40][n * 8] == levels[200][n * 40], t


def _levels(mapping: Mapping, events: list[Event], hz: int) -> list[tuple[int, ...]]:
    engine, out, at = Engine(rig(4), mapping), [], 0
    for k in range(5 * hz):
        end = at
        while end < len(events) and events[end].stamp <= k / hz:
            end += 1
        out.append(tuple(engine.advance(events[at:end], k / hz).universe(1)[:4]))
        at = end
    return out
