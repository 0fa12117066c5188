"""What hands can do with a key beyond on and off: windows, repeats, choke, solo, pressure."""

from __future__ import annotations

import pytest

from bridge.values.events import ChannelPressure, KeyPressure, NoteOff
from bridge.values.mapping import Feel, SetRule
from tests.core.builders import BELL, cc, control, each, engine, lit, off, on, together


def test_soft_and_hard_strokes_may_do_different_things() -> None:
    """`velocity: 1..60` and `61..127` share a key without sharing a lamp."""
    machine = engine(together(60, (0,), velocities=(1, 60)), together(60, (1,), velocities=(61, 127)))
    assert lit(machine.advance([on(0.0, 60, 60)], 0.0)) == [120, 0, 0, 0]
    assert lit(machine.advance([off(0.1, 60), on(0.2, 60, 61)], 0.2)) == [0, 122, 0, 0]


def test_a_pad_that_bounces_is_heard_once() -> None:
    """`ignore_repeat_ms`: a strike too soon after the last changes nothing."""
    machine = engine(each(ignore_repeat=0.05, feel=BELL, mode="shot"))
    bouncing = [on(0.0, 60, 100), off(0.005, 60), on(0.02, 60, 30), off(0.025, 60)]
    assert lit(machine.advance(bouncing, 0.4))[0] == round(100 / 127 / 2 * 255)
    assert lit(machine.advance([on(0.5, 60, 127)], 0.5))[0] == 255


def test_a_short_strike_lights_for_min_on() -> None:
    """`min_on_ms`: the release waits until the time is up, and not longer."""
    machine = engine(each(min_on=0.2))
    machine.advance([on(0.0, 60), off(0.01, 60)], 0.025)
    assert lit(machine.advance([], 0.19))[0] == 255
    assert lit(machine.advance([], 0.21))[0] == 0


def test_one_of_several_latches_is_on_at_a_time() -> None:
    """Latches that share `one_of` put each other out; the same key twice puts itself out."""
    machine = engine(each(mode="latch", one_of="scene"))
    machine.advance([on(0.0, 60), off(0.0, 60), on(0.1, 61), off(0.1, 61)], 0.2)
    assert lit(machine.advance([], 0.2)) == [0, 255, 0, 0]
    assert lit(machine.advance([on(0.3, 61)], 0.3)) == [0, 0, 0, 0]


def test_a_closed_hi_hat_ends_the_open_one() -> None:
    """Rules with the same `choke` end one another; the same strike does not choke itself."""
    shot = {"mode": "shot", "feel": Feel(decay=2.0, sustain=0.0), "choke": "hats"}
    machine = engine(together(46, (0,), **shot), together(42, (1,), **shot), together(42, (2,), **shot))
    machine.advance([on(0.0, 46)], 0.0)
    assert lit(machine.advance([on(0.5, 42)], 0.5)) == [0, 255, 255, 0]


def test_solo_makes_other_keys_step_back() -> None:
    """While a solo rule sounds only its light shows; then the others return."""
    machine = engine(each(2), together(70, (3,), solo=True))
    machine.advance([on(0.0, 60)], 0.0)
    assert lit(machine.advance([on(0.1, 70)], 0.1)) == [0, 0, 0, 255]
    assert lit(machine.advance([off(0.2, 70)], 0.2)) == [255, 0, 0, 0]


def test_note_repeat_strikes_at_the_tempo() -> None:
    """Held with `repeat: 0.5` at 120 a minute, a note is on for half of every quarter of a second."""
    machine = engine(each(repeat=0.5))
    machine.advance([on(0.0, 60)], 0.0)
    shown = [lit(machine.advance([], k / 40))[0] for k in range(1, 21)]
    assert shown == [255 if k % 10 < 5 else 0 for k in range(1, 21)]
    machine.advance([off(0.51, 60)], 0.525)
    assert [lit(machine.advance([], 0.55 + k / 40))[0] for k in range(20)] == [0] * 20


def test_note_repeat_follows_a_tempo_knob() -> None:
    """At 240 a minute the same repeat comes twice as often, from its next strike on."""
    machine = engine(each(repeat=0.5), sets=(SetRule(control(20), "tempo", between=(0.0, 240.0)),))
    machine.advance([cc(0.0, 20, 127), on(0.0, 60)], 0.0)
    shown = [lit(machine.advance([], 0.001 + k / 80))[0] for k in range(20)]
    assert shown == [255 if k % 10 < 5 else 0 for k in range(20)]


@pytest.mark.parametrize(
    "press", [KeyPressure(0.1, "p", 1, 60, 127), ChannelPressure(0.1, "p", 1, 127)], ids=["key", "channel"]
)
def test_pressure_swells_a_held_note(press: KeyPressure | ChannelPressure) -> None:
    """`aftertouch: 1`: full pressure lifts a note to full, none leaves it as struck."""
    machine = engine(each(aftertouch=1.0))
    assert lit(machine.advance([on(0.0, 60, 64)], 0.0))[0] == 129
    assert lit(machine.advance([press], 0.1))[0] == 255
    gone = type(press)(*[*[getattr(press, name) for name in press.__slots__[:-1]], 0])
    assert lit(machine.advance([gone], 0.2))[0] == 129


def test_pressure_without_the_setting_changes_nothing() -> None:
    """A rule that says nothing of aftertouch does not swell."""
    machine = engine(each())
    machine.advance([on(0.0, 60, 64), ChannelPressure(0.1, "p", 1, 127)], 0.1)
    assert lit(machine.advance([], 0.2))[0] == 129


@pytest.mark.parametrize(("velocity", "seconds"), [(64, 1.0), (96, 0.5), (32, 2.0)])
def test_release_velocity_shapes_the_release(velocity: int, seconds: float) -> None:
    """`release_velocity: true`: 32 over the middle halves the release, 32 under doubles it."""
    machine = engine(each(feel=Feel(release=1.0), release_velocity=True))
    machine.advance([on(0.0, 60)], 0.0)
    machine.advance([NoteOff(1.0, "p", 1, 60, velocity)], 1.0)
    assert lit(machine.advance([], 1.0 + seconds / 2))[0] == 128
    assert lit(machine.advance([], 1.001 + seconds))[0] == 0


def test_a_knob_sets_the_times_of_a_feel() -> None:
    """`sets: release, feel: organ`: notes let go from then on fade in the new time."""
    rule = each(feel=Feel(release=0.1), feel_name="organ")
    machine = engine(rule, sets=(SetRule(control(30), "release", name="organ", between=(0.0, 2.0)),))
    machine.advance([on(0.0, 60), cc(0.5, 30, 127), off(1.0, 60)], 1.0)
    assert lit(machine.advance([], 2.0))[0] == 128
