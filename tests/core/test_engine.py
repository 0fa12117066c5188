"""The engine's laws that need only keys: order, touch, modes, pedals, merging, short notes."""

from __future__ import annotations

import pytest

from bridge.values.events import NoteOn, PortGone, RealTime
from bridge.values.mapping import Feel, KeyRule
from tests.core.builders import BELL, cc, each, engine, lit, off, on, together


def test_a_key_lights_its_lamp_while_it_is_down() -> None:
    """Hold mode with a feel of zero times: on with the strike, off with the release, velocity for level."""
    machine = engine(each())
    assert lit(machine.advance([on(0.0, 61, 64)], 0.0)) == [0, 129, 0, 0]
    assert lit(machine.advance([], 0.025)) == [0, 129, 0, 0]
    assert lit(machine.advance([off(0.03, 61)], 0.05)) == [0, 0, 0, 0]


def test_time_never_goes_back() -> None:
    """A caller that turns time back is told so."""
    machine = engine(each())
    machine.advance([], 1.0)
    with pytest.raises(ValueError, match="time went back"):
        machine.advance([], 0.5)


def test_a_late_event_counts_from_its_own_stamp() -> None:
    """An event stamped before the last frame fades as if it had come in time."""
    rule = each(feel=Feel(release=1.0))
    late, punctual = engine(rule), engine(rule)
    late.advance([on(0.0, 60)], 0.0)
    late.advance([], 0.5)
    punctual.advance([on(0.0, 60)], 0.0)
    punctual.advance([off(0.4, 60)], 0.5)
    assert late.advance([off(0.4, 60)], 0.75) == punctual.advance([], 0.75)


@pytest.mark.parametrize("mode", ["hold", "latch", "shot"])
def test_note_between_frames_shows_in_exactly_one(mode: str) -> None:
    """A note shorter than a frame shows once at its peak in every mode."""
    machine = engine(each(mode=mode, feel=Feel(decay=0.002, sustain=0.0) if mode == "shot" else Feel()))
    events = [on(0.001, 60), off(0.002, 60)]
    if mode == "latch":
        events += [on(0.003, 60), off(0.004, 60)]
    assert lit(machine.advance(events, 0.025))[0] == 255
    assert lit(machine.advance([], 0.05))[0] == 0


@pytest.mark.parametrize("mode", ["hold", "latch", "shot"])
@pytest.mark.parametrize("early", [0.001, 0.0015, 0.0045])
def test_an_early_frame_takes_no_short_note_from_the_steady_one(mode: str, early: float) -> None:
    """Outputs that send no early frames still get the peak of a note between two of theirs, once (law 4)."""
    machine = engine(each(mode=mode, feel=Feel(decay=0.002, sustain=0.0) if mode == "shot" else Feel()))
    events = [on(0.001, 60), off(0.002, 60)]
    if mode == "latch":
        events += [on(0.003, 60), off(0.004, 60)]
    shown = machine.advance([event for event in events if event.stamp <= early], early, early=True)
    assert lit(shown)[0] > 0
    assert lit(machine.advance([event for event in events if event.stamp > early], 0.025))[0] == 255
    assert lit(machine.advance([], 0.05))[0] == 0


def test_latch_toggles_and_ignores_key_and_pedal() -> None:
    """Press on, press off; neither the release nor the pedal matters."""
    machine = engine(each(mode="latch"))
    machine.advance([on(0.0, 60), off(0.1, 60), cc(0.1, 64, 127), cc(0.2, 64, 0)], 0.3)
    assert lit(machine.advance([], 0.4))[0] == 255
    assert lit(machine.advance([on(0.5, 60)], 0.5))[0] == 0


def test_shot_ignores_key_and_pedal() -> None:
    """A shot decays the same with the key down, up, or pedalled."""
    plain, fussy = engine(each(mode="shot", feel=BELL)), engine(each(mode="shot", feel=BELL))
    plain.advance([on(0.0, 60)], 0.0)
    fussy.advance([on(0.0, 60), cc(0.0, 64, 127), off(0.0, 60)], 0.0)
    for k in range(1, 40):
        assert lit(plain.advance([], k / 40)) == lit(fussy.advance([], k / 40))


@pytest.mark.parametrize(("value", "level"), [(63, 0), (64, 255)])
def test_sustain_pedal_holds_from_64_up(value: int, level: int) -> None:
    """Controller 64: 0..63 off, 64..127 on (MIDI 1.0); a key let go goes on while the pedal is down."""
    machine = engine(each())
    machine.advance([on(0.0, 60), cc(0.01, 64, value), off(0.02, 60)], 0.05)
    assert lit(machine.advance([], 0.1))[0] == level
    assert lit(machine.advance([cc(0.11, 64, 0)], 0.2))[0] == 0


def test_a_rule_may_ignore_the_pedal() -> None:
    """`pedal: ignore` lets go with the key."""
    machine = engine(each(pedal=False))
    machine.advance([cc(0.0, 64, 127), on(0.0, 60)], 0.0)
    machine.advance([off(0.02, 60)], 0.05)
    assert lit(machine.advance([], 0.075))[0] == 0


def test_sostenuto_holds_only_what_was_down() -> None:
    """Controller 66 catches the keys down when it comes, and no later ones (MIDI 1.0)."""
    machine = engine(each())
    machine.advance([on(0.0, 60), cc(0.1, 66, 127), on(0.2, 61), cc(0.25, 66, 127)], 0.3)
    machine.advance([off(0.3, 60), off(0.3, 61)], 0.35)
    assert lit(machine.advance([], 0.4)) == [255, 0, 0, 0]
    assert lit(machine.advance([cc(0.5, 66, 0)], 0.5)) == [0, 0, 0, 0]


def test_soft_pedal_softens_later_strikes_only() -> None:
    """Controller 67 lowers notes struck while it is down to 60 % (our choice, documented)."""
    machine = engine(each())
    machine.advance([on(0.0, 60), cc(0.1, 67, 127), on(0.2, 61)], 0.3)
    assert lit(machine.advance([], 0.4)) == [255, 153, 0, 0]


def test_pedals_are_per_port_and_channel() -> None:
    """A pedal on another channel or port holds nothing here."""
    machine = engine(each())
    events = [cc(0.0, 64, 127, channel=2), cc(0.0, 64, 127, port="q"), on(0.0, 60), off(0.1, 60)]
    machine.advance(events, 0.2)
    assert lit(machine.advance([], 0.3))[0] == 0


def test_all_sound_off_is_dark_at_once() -> None:
    """Controller 120 cuts releases and pedals short, on its own channel only."""
    machine = engine(each(feel=Feel(release=5.0)))
    machine.advance([on(0.0, 60), cc(0.0, 64, 127), on(0.0, 61, channel=2)], 0.0)
    assert lit(machine.advance([cc(0.1, 120, 0)], 0.1)) == [0, 255, 0, 0]


@pytest.mark.parametrize("control", [123, 124, 125, 126, 127])
def test_all_notes_off_lets_keys_go_but_not_the_pedal(control: int) -> None:
    """Controllers 123..127 are note-offs for every key; what the damper holds goes on (MIDI 1.0)."""
    machine = engine(each())
    machine.advance([on(0.0, 60), cc(0.1, control, 0)], 0.1)
    assert lit(machine.advance([], 0.125))[0] == 0
    machine.advance([cc(0.2, 64, 127), on(0.2, 60), cc(0.3, control, 0)], 0.3)
    assert lit(machine.advance([], 0.325))[0] == 255
    assert lit(machine.advance([cc(0.4, 64, 0)], 0.4))[0] == 0


def test_reset_all_controllers_lifts_the_pedals() -> None:
    """Controller 121 puts 64, 66 and 67 at rest (MMA RP-015); keys stay down."""
    machine = engine(each())
    machine.advance([cc(0.0, 64, 127), on(0.0, 60), on(0.0, 61), off(0.1, 60)], 0.2)
    assert lit(machine.advance([], 0.2)) == [255, 255, 0, 0]
    assert lit(machine.advance([cc(0.3, 121, 0)], 0.3)) == [0, 255, 0, 0]


def test_an_unplugged_keyboard_has_let_go_of_everything() -> None:
    """A port that vanishes releases its keys and pedals; latches and other ports stay."""
    machine = engine(each(2), each(2, first=70, mode="latch"), lamps=4)
    machine.advance([cc(0.0, 64, 127), on(0.0, 60), off(0.1, 60), on(0.1, 61, port="q"), on(0.1, 70)], 0.2)
    machine.advance([PortGone(0.3, "p")], 0.3)
    assert lit(machine.advance([], 0.4)) == [255, 255, 0, 0]
    machine.advance([PortGone(0.5, "q")], 0.5)
    assert lit(machine.advance([], 0.6)) == [255, 0, 0, 0]


def test_active_sensing_once_seen_must_go_on() -> None:
    """300 ms (and a tenth) without a byte after FE means the cable is gone; without FE none is due."""
    quiet, sensing = engine(each()), engine(each())
    quiet.advance([on(0.0, 60)], 0.0)
    assert lit(quiet.advance([], 10.0))[0] == 255
    sensing.advance([RealTime(0.0, "p", "active_sensing"), on(0.0, 60)], 0.0)
    sensing.advance([RealTime(0.28, "p", "active_sensing")], 0.3)
    assert lit(sensing.advance([], 0.6))[0] == 255
    assert lit(sensing.advance([], 0.65))[0] == 0
    assert lit(sensing.advance([on(5.0, 60)], 10.0))[0] == 255


def test_highest_takes_precedence_unless_latest_is_asked_for() -> None:
    """Two rules on one lamp: the higher level, or the one struck last, and the one before it returns."""
    highest = engine(together(60, (0,)), together(61, (0,)))
    highest.advance([on(0.0, 60, 127), on(0.1, 61, 64)], 0.2)
    assert lit(highest.advance([], 0.3))[0] == 255
    latest = engine(together(60, (0,), merge="latest"), together(61, (0,), merge="latest"))
    latest.advance([on(0.0, 60, 127), on(0.1, 61, 64)], 0.2)
    assert lit(latest.advance([], 0.3))[0] == 129
    assert lit(latest.advance([off(0.4, 61)], 0.4))[0] == 255


def test_one_note_may_light_many_lamps_and_be_heard_by_many_rules() -> None:
    """`together` and several rules on one note all answer, each with its own level."""
    low = KeyRule((60,), ((3,),), between=(0.0, 0.5))
    machine = engine(together(60, (0, 2)), low)
    assert lit(machine.advance([on(0.0, 60)], 0.0)) == [255, 0, 255, 128]


def test_rules_listen_to_their_channel_and_port() -> None:
    """`channel` and `from` keep other hands out."""
    machine = engine(each(channel=2, source="keys"), inputs={"keys": "Piano"})
    assert lit(machine.advance([on(0.0, 60, channel=1, port="Grand PIANO 1")], 0.0)) == [0, 0, 0, 0]
    assert lit(machine.advance([on(0.1, 60, channel=2, port="pads")], 0.1)) == [0, 0, 0, 0]
    assert lit(machine.advance([on(0.2, 60, channel=2, port="Grand PIANO 1")], 0.2)) == [255, 0, 0, 0]
    assert lit(machine.advance([on(0.3, 61, channel=2, port="file")], 0.3)) == [255, 255, 0, 0]


def test_between_maps_what_is_over_0() -> None:
    """`between: [low, high]`: the softest strike is at low or over it, the hardest at high."""
    machine = engine(each(between=(0.5, 1.0)))
    soft = lit(machine.advance([NoteOn(0.0, "p", 1, 60, 1), NoteOn(0.0, "p", 1, 61, 127)], 0.0))
    assert soft[0] == 129  # 0.5 + 0.5/127 = 0.5039 -> 128.5
    assert soft[1] == 255
