"""Heard music through the whole engine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bridge.core.engine import Engine
from bridge.values.events import BeatHeard, Do, Event, Onset, Sound
from bridge.values.frame import Frame
from bridge.values.mapping import DoRule, Feel, KeyRule, Mapping, SetRule, Trigger
from bridge.values.sound import SoundRule
from tests.core.builders import rig

HZ = 40


def play(mapping: Mapping, events: list[Event], until: float, lamps: int = 6) -> list[Frame]:
    """The frames up to a moment."""
    engine = Engine(rig(lamps), mapping)
    out = []
    waiting = sorted(events, key=lambda event: event.stamp)
    for k in range(round(until * HZ) + 1):
        t = k / HZ
        due = [event for event in waiting if event.stamp <= t]
        waiting = waiting[len(due) :]
        out.append(engine.advance(due, t))
    return out


def lit(frame: Frame, lamps: int = 6) -> list[float]:
    """Levels 0..1 of the first slots."""
    return [round(float(slot) / 255, 2) for slot in frame.slots[0][:lamps]]


def steady(level: float, seconds: float, band: int = 0) -> list[Event]:
    """A band that stands at a level."""
    bands = tuple(level if n == band else 0.0 for n in range(3))
    return [Sound(n / 100, "x", bands) for n in range(round(seconds * 100) + 1)]


def test_a_band_lights_its_lamps() -> None:
    """The level of a band is the brightness of its lamps, by the curve of the rule; others stay dark."""
    mapping = Mapping(sound=(SoundRule(0, lamps=(0, 1), curve="square"), SoundRule(2, lamps=(2,))))
    assert lit(play(mapping, steady(0.5, 1.0), 1.0)[-1])[:3] == pytest.approx([0.25, 0.25, 0.0], abs=0.01)


def test_a_bar_rises_lamp_by_lamp() -> None:
    """At five eighths of four steps two lamps are full and the third is half lit."""
    bar = tuple((n / 4, (n + 1) / 4) for n in range(4))
    mapping = Mapping(sound=(SoundRule(0, lamps=(0, 1, 2, 3), bar=bar),))
    assert lit(play(mapping, steady(0.625, 1.0), 1.0)[-1])[:4] == pytest.approx([1, 1, 0.5, 0], abs=0.02)


def test_what_is_not_heard_any_more_goes_dark() -> None:
    """Readings stop coming: the lamps fade within a second, for nothing else would ever end them."""
    mapping = Mapping(sound=(SoundRule(0, lamps=(0,)),))
    frames = play(mapping, steady(1.0, 1.0), 2.0)
    assert lit(frames[HZ])[0] == 1.0
    assert lit(frames[HZ + HZ // 2])[0] < 1.0
    assert lit(frames[-1])[0] == 0.0


def test_a_stroke_flashes_and_dies_away() -> None:
    """A stroke lights its lamps as hard as it was, then decays by its own times; weak ones are not heard."""
    rule = SoundRule(1, strokes=True, lamps=(3,), decay=0.5, least=0.4)
    frames = play(Mapping(sound=(rule,)), [Onset(1.0, "x", 1, 0.8), Onset(3.0, "x", 1, 0.3)], 3.2)
    assert lit(frames[HZ])[3] == pytest.approx(0.8, abs=0.01)
    assert lit(frames[HZ + HZ // 4])[3] == pytest.approx(0.4, abs=0.02)
    assert lit(frames[HZ + HZ // 2 + 1])[3] == 0.0
    assert lit(frames[3 * HZ])[3] == 0.0


def test_strokes_step_a_chase() -> None:
    """Each stroke lights the next lamp, and after the last the first again."""
    rule = SoundRule(0, strokes=True, lamps=(0, 1, 2), chase=True, decay=0.2)
    strokes: list[Event] = [Onset(0.5 * n, "x", 0, 1.0) for n in range(1, 5)]
    frames = play(Mapping(sound=(rule,)), strokes, 2.2)
    seen = [int(np.argmax(lit(frames[round(0.5 * n * HZ)]))) for n in range(1, 5)]
    assert seen == [0, 1, 2, 0]


def test_a_stroke_plays_a_pad() -> None:
    """A kick strikes a pad rule: the shot under that note runs, as from a hand."""
    pad = KeyRule((36,), ((4, 5),), mode="shot", feel=Feel(decay=0.5, sustain=0.0), source="pads", channel=10)
    mapping = Mapping(keys=(pad,), inputs={"pads": "pads"}, sound=(SoundRule(0, strokes=True, notes=(36,)),))
    frames = play(mapping, [Onset(1.0, "x", 0, 1.0)], 2.0)
    assert lit(frames[HZ])[4:] == [1.0, 1.0]
    assert 0.4 < lit(frames[HZ + HZ // 4])[4] < 0.6
    assert lit(frames[-1])[4] == 0.0


def test_a_pad_that_holds_shows_a_stroke_for_a_frame() -> None:
    """A stroke on a key that holds is struck and let go at once, and still shows (law 4), then is over."""
    mapping = Mapping(keys=(KeyRule((36,), ((4,),)),), sound=(SoundRule(0, strokes=True, notes=(36,)),))
    frames = play(mapping, [Onset(1.01, "x", 0, 1.0)], 1.5)
    assert [lit(frame)[4] for frame in frames[HZ : HZ + 3]] == [0.0, 1.0, 0.0]


def test_a_band_sets_what_a_controller_sets() -> None:
    """A band as a trigger moves a master between the two ends of its rule."""
    rule = SetRule(Trigger("band", (0,)), "master", between=(0.2, 1.0))
    level = SetRule(Trigger("band", (1,)), "level", lamps=(0,))
    events: list[Event] = [Sound(0.5, "x", (0.5, 1.0, 0.0))]
    assert lit(play(Mapping(sets=(rule, level)), events, 1.0)[-1])[0] == pytest.approx(0.6, abs=0.01)


def test_a_stroke_sets_and_falls_back() -> None:
    """A stroke as a trigger gives its strength for a tenth of a second, then 0."""
    rule = SetRule(Trigger("onset", (0,)), "level", lamps=(1,))
    frames = play(Mapping(sets=(rule,)), [Onset(1.0, "x", 0, 0.7)], 1.5)
    assert lit(frames[HZ])[1] == pytest.approx(0.7, abs=0.01)
    assert lit(frames[HZ + 8])[1] == 0.0


def test_the_beat_sets_by_its_phase() -> None:
    """The way from one beat to the next turns a control from 0 to 1, from the music's beats on."""
    rule = SetRule(Trigger("beat"), "level", lamps=(2,))
    beats: list[Event] = [BeatHeard(0.5 * n, "x", 120.0, 1.0) for n in range(1, 9)]
    frames = play(Mapping(sets=(rule,), tempo=90.0), beats, 4.5)
    now = [lit(frame)[2] for frame in frames[4 * HZ + 1 : 4 * HZ + 20]]
    assert now == pytest.approx([(n / HZ) / 0.5 for n in range(1, 20)], abs=0.02)


def test_the_tempo_sets() -> None:
    """The tempo turns a control from its lower end at 40 to its upper end at 240 beats a minute."""
    rule = SetRule(Trigger("tempo"), "level", lamps=(0,))
    events: list[Event] = [BeatHeard(1.0, "x", 140.0, 1.0)]
    frames = play(Mapping(sets=(rule,), tempo=40.0), events, 1.5)
    assert lit(frames[10])[0] == 0.0
    assert lit(frames[-1])[0] == pytest.approx(0.5, abs=0.01)


def test_a_stroke_does_what_a_pad_can_do() -> None:
    """A stroke as a trigger toggles a blackout: on with one, off with the next."""
    rule = DoRule(Trigger("onset", (0,)), "blackout", toggle=True)
    mapping = Mapping(does=(rule,), sound=(SoundRule(1, lamps=(0,)),))
    events = [*steady(1.0, 4.0, 1), Onset(1.0, "x", 0, 0.2), Onset(2.0, "x", 0, 0.2)]
    frames = play(mapping, events, 3.0)
    assert [lit(frames[n * HZ + 4])[0] for n in range(3)] == [1.0, 0.0, 1.0]


def test_tap_is_a_word_of_does() -> None:
    """Taps by the page or a key set the tempo, and the engine says who rules."""
    engine = Engine(rig(6), Mapping())
    engine.advance([Do(0.1, "tap"), Do(0.6, "tap"), Do(1.1, "tap")], 1.2)
    ruler, tempo = engine.tempo
    assert ruler == "tap"
    assert tempo == pytest.approx(120)
    assert engine.beat(1.6) % 1 == pytest.approx(0.0, abs=0.001)


def test_a_blackout_is_dark_and_a_release_ends_flashes() -> None:
    """Music obeys the blackout; release_all ends what a stroke left glowing."""
    rules = (SoundRule(0, lamps=(0,)), SoundRule(0, strokes=True, lamps=(1,), decay=30.0))
    events = [*steady(1.0, 3.0), Onset(0.5, "x", 0, 1.0), Do(1.0, "release_all"), Do(2.0, "blackout_on")]
    frames = play(Mapping(sound=rules), sorted(events, key=lambda e: e.stamp), 3.0)
    assert lit(frames[HZ - 1])[1] > 0.9
    assert lit(frames[HZ + 2])[1] == 0.0
    assert lit(frames[HZ + 2])[0] == 1.0
    assert lit(frames[-1])[:2] == [0.0, 0.0]


def test_same_events_same_bytes() -> None:
    """Readings and strokes replayed give the same frames, and 25 Hz agrees with 40 Hz where they meet."""
    rules = (SoundRule(0, lamps=(0, 1)), SoundRule(1, strokes=True, lamps=(2,), decay=0.6))
    mapping = Mapping(sound=rules)
    chance = np.random.default_rng(5)
    events: list[Event] = [
        Sound(n / 100, "x", (round(float(chance.random()), 4), 0.0, 0.0)) for n in range(300)
    ]
    events += [Onset(float(at), "x", 1, 0.9) for at in chance.random(6) * 3]
    one, two = play(mapping, events, 3.0), play(mapping, events, 3.0)
    assert all(np.array_equal(a.slots, b.slots) for a, b in zip(one, two, strict=True))
    slow = Engine(replace(rig(6), refresh_hz=25), mapping)
    waiting = sorted(events, key=lambda event: event.stamp)
    for k in range(76):
        due = [event for event in waiting if event.stamp <= k / 25]
        waiting = waiting[len(due) :]
        frame = slow.advance(due, k / 25)
        if k % 5 == 0:
            assert lit(frame)[:2] == lit(one[k * 8 // 5])[:2]
