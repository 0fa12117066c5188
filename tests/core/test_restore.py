"""After a bad end: what stood comes back by name, rising, and never brighter than it was."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.core.engine import Engine
from bridge.values.events import ChannelPressure, Do, Event, KeyPressure, Mark, NewMapping, PortGone, Restore
from bridge.values.mapping import ChordRule, DoRule, Feel, KeyRule, Mapping, SetRule, Trigger
from bridge.values.rig import Lamp, Rig
from bridge.values.sound import Sound
from bridge.values.texture import Texture, TextureRule
from tests.core.builders import cc, control, each, engine, lit, off, on, rig, together
from tests.core.test_engine_laws import EVENTS, mappings

FADE = 0.3


def standing(machine: Engine, t: float = 10.0) -> tuple[Mark, ...]:
    return machine.standing(t)


def born_again(old: Engine, *keys: KeyRule, **mapping: Any) -> Engine:
    """An engine of the same rig and mapping, unless told otherwise, to which what stood was given back."""
    plays = Mapping("test", keys=keys, **mapping) if keys or mapping else old.mapping
    new = Engine(old.rig, plays)
    new.advance([Restore(0.0, old.standing(10.0), FADE)], 0.0)
    return new


def whats(machine: Engine) -> list[str]:
    return [mark.what for mark in machine.standing(10.0)]


def test_a_fresh_show_stands_at_nothing() -> None:
    """Before anything was touched there is only: no look."""
    assert engine(each(mode="latch")).standing(0.0) == (Mark("look", numbers=(0.0,)),)


def test_latched_keys_come_back_at_their_sustain_and_rise() -> None:
    """A latch is where its envelope holds it, from the dark in a straight line, with no attack peak."""
    rule = each(mode="latch", feel=Feel(attack=0.0, decay=0.5, sustain=0.4, release=1.0))
    old = engine(rule)
    old.advance([on(0.0, 60), on(0.0, 62, 64), off(0.1, 60)], 1.0)
    new = born_again(old)
    shown = [lit(new.advance([], k / 40)) for k in range(21)]
    assert shown[0] == [0, 0, 0, 0]
    assert shown[6] == [round(0.4 * 255 / 2), 0, round(0.4 * 64 / 127 * 255 / 2), 0]
    assert shown[12] == shown[20] == lit(old.advance([], 10.0))
    assert max(max(row) for row in shown) == max(shown[20])


def test_a_latch_that_came_back_goes_off_by_its_key_and_by_release_all() -> None:
    """The gate is open: the same key closes it with the rule's own release, and so does release_all."""
    rule = each(mode="latch", feel=Feel(release=1.0))
    old = engine(rule)
    old.advance([on(0.0, 60), on(0.0, 61)], 1.0)
    for ending in (on(1.0, 60), Do(1.0, "release_all")):
        new = born_again(old)
        assert lit(new.advance([ending], 1.5))[0] == 128
        assert lit(new.advance([], 2.1))[0] == 0


def test_held_keys_shots_and_latches_gone_out_do_not_stand() -> None:
    """Fingers are not brought back, nor what has no finger but ends by itself, nor a latch put out."""
    old = engine(
        each(),
        together(70, (1,), mode="shot", feel=Feel(decay=9.0, sustain=0.0)),
        together(71, (2,), mode="latch"),
    )
    old.advance([on(0.0, 60), on(0.0, 70), on(0.0, 71), on(0.5, 71)], 1.0)
    assert whats(old) == ["look"]


def test_asking_what_stands_changes_nothing() -> None:
    """Two engines of one course, one of them asked at every frame, give the same bytes."""
    machines = [engine(each(mode="latch", feel=Feel(0.2, 0.3, 0.5, 0.4), min_on=0.7)) for _ in range(2)]
    events = {3: [on(0.07, 60)], 9: [on(0.22, 61)], 12: [on(0.3, 60)], 30: [on(0.75, 61)]}
    for k in range(60):
        first, second = (machine.advance(events.get(k, []), k / 40) for machine in machines)
        assert first == second
        machines[0].standing(k / 40)


def test_a_long_rise_is_not_cut_short() -> None:
    """A latch that was still rising takes the rest of its time, so that it is never brighter than it was."""
    old = engine(each(mode="latch", feel=Feel(attack=10.0)))
    old.advance([on(0.0, 60)], 0.0)
    new = Engine(old.rig, old.mapping)
    new.advance([Restore(0.0, old.standing(4.0), FADE)], 0.0)
    assert lit(new.advance([], 3.0))[0] == 128
    assert lit(new.advance([], 6.0))[0] == 255


def test_what_no_longer_fits_an_edited_mapping_is_left_out() -> None:
    """A key whose rule now has other lamps or another mode stays dark; the rest comes back."""
    old = engine(each(mode="latch"))
    old.advance([on(0.0, 60), on(0.0, 61), on(0.0, 62)], 1.0)
    rules = (
        together(60, (3,), mode="latch"),
        together(61, (1,)),
        together(62, (2,), mode="latch", feel=Feel(release=2.0)),
    )
    assert lit(born_again(old, *rules).advance([], 1.0)) == [0, 0, 255, 0]


def test_lamps_are_known_by_name_in_a_rig_of_another_order() -> None:
    """A lamp that has moved in the file is the same lamp."""
    old = engine(each(mode="latch"))
    old.advance([on(0.0, 61)], 1.0)
    turned = tuple(Lamp(f"l{3 - i}", i, 1, i + 1) for i in range(4))
    guards = {"load": "off", "flash": "off", "heat": "off"}
    new = Engine(Rig("turned", turned, guards=guards), Mapping("m", keys=(together(61, (2,), mode="latch"),)))
    new.advance([Restore(0.0, standing(old))], 0.0)
    assert lit(new.advance([], 1.0)) == [0, 0, 255, 0]


def test_of_two_latches_on_the_same_lamps_each_comes_back_as_itself() -> None:
    """Soft and hard strokes on rules of their own: the hard one was on, and a hard stroke puts it out."""
    soft = together(60, (0,), mode="latch", velocities=(1, 63), between=(0.0, 0.3))
    hard = together(60, (0,), mode="latch", velocities=(64, 127))
    old = engine(soft, hard)
    old.advance([on(0.0, 60, 127)], 1.0)
    new = born_again(old)
    assert lit(new.advance([], 1.0))[0] == 255
    assert lit(new.advance([on(1.1, 60, 127)], 1.2))[0] == 0


def test_of_latches_that_exclude_each_other_one_comes_back() -> None:
    """Two latches that an edited mapping has made rivals: the one struck last stands."""
    old = engine(each(mode="latch"))
    old.advance([on(0.0, 60), on(0.1, 62)], 1.0)
    assert lit(born_again(old, each(mode="latch", one_of="scene")).advance([], 1.0)) == [0, 0, 255, 0]


def test_restoring_twice_is_restoring_once() -> None:
    """A latch that is on already is not put out, as a second press would."""
    old = engine(each(mode="latch"))
    old.advance([on(0.0, 60)], 1.0)
    new = born_again(old)
    new.advance([Restore(1.0, standing(old))], 1.0)
    assert lit(new.advance([], 2.0)) == [255, 0, 0, 0]


MASTER = SetRule(control(21), "master")
HALF = SetRule(control(22), "master", (0, 1))
LEVEL = SetRule(control(23), "level", (3,), between=(0.0, 0.8))


def test_masters_and_levels_come_back() -> None:
    """What knobs and the page have set stands again: the master, that of a group, a level (which rises)."""
    old = engine(each(mode="latch"), sets=(MASTER, HALF, LEVEL))
    old.advance(
        [Do(0.0, "master", "", 0.8), cc(0.0, 22, 64), cc(0.0, 23, 127), on(0.0, 60), on(0.0, 62)], 1.0
    )
    new = born_again(old)
    assert new.master == 0.8
    assert lit(new.advance([], 0.0))[3] == 0
    assert lit(new.advance([], 0.15))[3] == round(255 * 0.8 * 0.8 / 2)
    assert lit(new.advance([], 1.0)) == lit(old.advance([], 1.0))


def test_a_knob_that_takes_over_must_meet_what_came_back() -> None:
    """The knob lies where it lies: the first turn far from the value that stands changes nothing."""
    taking = SetRule(control(21), "master", takeover=True)
    old = engine(each(), sets=(taking,))
    old.advance([cc(0.0, 21, 127), cc(0.1, 21, 40)], 1.0)
    new = born_again(old)
    assert new.master == pytest.approx(40 / 127)
    new.advance([cc(1.0, 21, 120)], 1.0)
    assert new.master == pytest.approx(40 / 127)
    new.advance([cc(1.1, 21, 30)], 1.2)
    assert new.master == pytest.approx(30 / 127)


def test_a_value_stays_within_what_the_edited_rule_can_set() -> None:
    """A level knob that may only reach 0.4 now brings 0.4."""
    old = engine(each(), sets=(LEVEL,))
    old.advance([cc(0.0, 23, 127)], 1.0)
    now = SetRule(control(23), "level", (3,), between=(0.0, 0.4))
    new = Engine(old.rig, Mapping("m", sets=(now,)))
    new.advance([Restore(0.0, standing(old))], 0.0)
    assert lit(new.advance([], 1.0))[3] == 102


def test_a_level_that_music_moves_does_not_stand() -> None:
    """With the music gone its light would stay for ever."""
    heard = SetRule(Trigger("band", (0,)), "level", (3,))
    old = engine(each(), sets=(heard,))
    old.advance([Sound(0.0, "in", (0.9,))], 0.1)
    assert whats(old) == ["look"]


def test_a_lamp_lit_from_outside_does_not_stand() -> None:
    """The page lights a lamp while a finger is on it; that finger is gone."""
    old = engine(each())
    old.advance([Do(0.0, "light", "l1", 1.0)], 0.1)
    assert whats(old) == ["look"]


LOOKS = {"walkin": ((0, 0.4), (1, 0.2)), "end": ((2, 1.0),)}


def test_the_look_comes_back_and_the_absence_of_one_too() -> None:
    """The look that stood fades in; where none stood, one that a set list has called fades out."""
    old = engine(each(), looks=LOOKS)
    old.advance([Do(0.0, "look", "walkin", 1.0)], 5.0)
    assert lit(born_again(old).advance([], FADE)) == [102, 51, 0, 0]
    old.advance([Do(6.0, "look", "", 1.0)], 8.0)
    new = Engine(old.rig, old.mapping)
    new.advance([Do(0.0, "look", "end", 2.0), Restore(0.0, standing(old))], 0.0)
    assert lit(new.advance([], 1.0)) == [0, 0, 0, 0]
    assert lit(born_again(old, each(), looks={}).advance([], 1.0)) == [0, 0, 0, 0]


def test_a_blackout_is_not_brought_back_and_no_light_that_it_hid() -> None:
    """What was dark is dark, though no blackout stands: keys light lamps, at the master that stood."""
    toggle = DoRule(Trigger("note", (48,)), "blackout", toggle=True)
    old = engine(each(mode="latch"), together(80, (1,)), sets=(MASTER, LEVEL), does=(toggle,), looks=LOOKS)
    begins = [on(0.0, 60), Do(0.0, "look", "end", 0.0), cc(0.0, 23, 127), cc(0.0, 21, 64)]
    for dark in (Do(0.5, "blackout_on"), on(0.5, 48)):
        machine = Engine(old.rig, old.mapping)
        machine.advance([*begins, dark], 1.0)
        new = born_again(machine)
        assert not new.blackout
        assert lit(new.advance([], 1.0)) == [0, 0, 0, 0]
        assert lit(new.advance([on(1.1, 80)], 1.2)) == [0, 129, 0, 0]


WAVE = Texture("wave", "wave", (0, 1, 2, 3), hz=0.5)
DRIFT = Texture("drift", "wave", (0, 1, 2, 3), beats=4.0)


def textures(*rules: TextureRule, **mapping: Any) -> Engine:
    both = {"wave": WAVE, "drift": DRIFT}
    return Engine(rig(), Mapping("test", textures=both, texture_keys=rules, **mapping))


def test_a_latched_texture_goes_on_where_its_motion_was() -> None:
    """The same picture at the same place of its cycle, and its key puts it out."""
    old = textures(TextureRule((60,), "wave", mode="latch", release=0.5))
    old.advance([on(0.0, 60, 100)], 0.0)
    new = Engine(old.rig, old.mapping)
    new.advance([Restore(0.0, old.standing(3.7))], 0.0)
    for k in range(1, 5):
        assert lit(new.advance([], float(k))) == pytest.approx(lit(old.advance([], 3.7 + k)), abs=1)
    assert new.textures == ["wave"]
    assert lit(new.advance([on(5.0, 60)], 5.5)) == [0, 0, 0, 0]


def test_a_started_texture_comes_back_whoever_started_it() -> None:
    """By a key, or by an action: it stands until another is started."""
    for rules, event in (
        ((TextureRule((60,), "wave", mode="start"),), on(0.0, 60)),
        ((), Do(0.0, "texture", "wave", 0.0)),
    ):
        old = textures(*rules)
        old.advance([event], 1.0)
        new = Engine(old.rig, old.mapping)
        new.advance([Restore(0.0, old.standing(1.0))], 0.0)
        assert new.textures == ["wave"]
        new.advance([Do(2.0, "texture", "drift", 0.0)], 2.0)
        assert new.textures == ["drift"]


def test_a_texture_on_the_beat_comes_back_on_a_beat() -> None:
    """The beat begins anew with the show, and what follows it lies on it, with the tempo that stood."""
    old = textures(tempo=60.0)
    old.advance([Do(0.0, "texture", "drift", 0.0)], 6.3)
    marks = old.standing(6.3)
    new = Engine(old.rig, old.mapping)
    new.advance([Restore(0.0, marks)], 0.0)
    on_beat = textures(tempo=60.0)
    on_beat.advance([Do(0.0, "texture", "drift", 0.0)], 6.0)
    assert lit(new.advance([], 1.0)) == lit(on_beat.advance([], 7.0))


def test_a_held_texture_does_not_stand() -> None:
    """Its finger is gone."""
    old = textures(TextureRule((60,), "wave"))
    old.advance([on(0.0, 60)], 1.0)
    assert whats(old) == ["look"]


def chord(then: str, lamps: tuple[int, ...] = (0, 1), **rule: Any) -> ChordRule:
    return ChordRule((0, 4, 7), tuple((lamp, 1.0) for lamp in lamps), then=then, name="major", **rule)


MAJOR = [on(0.0, 60, 100), on(0.0, 64, 100), on(0.0, 67, 100)]
LIFTED = [off(1.0, 60), off(1.0, 64), off(1.0, 67)]


def test_a_shape_that_stays_comes_back_and_its_chord_ends_it() -> None:
    """Fingers gone, the shape stands; the same chord again puts it out."""
    old = engine(chords=(chord("stay", feel=Feel(0.0, 0.5, 0.5)),))
    old.advance([*MAJOR, *LIFTED], 2.0)
    new = born_again(old)
    assert lit(new.advance([], 1.0)) == lit(old.advance([], 3.0)) == [100, 100, 0, 0]
    again = [on(2.0, 60, 100), on(2.0, 64, 100), on(2.0, 67, 100)]
    assert lit(new.advance(again, 3.0)) == [0, 0, 0, 0]


def test_a_shape_comes_back_where_its_root_had_moved_it() -> None:
    """The place of a shape is kept by the chord that drew it."""
    cells = ((0, 1, 2, 3),)
    old = engine(chords=(chord("stay", (0,), cells=cells, move="root"),))
    struck: list[Event] = [on(0.0, note, 127) for note in (62, 66, 69)]
    old.advance([*struck, *(off(1.0, note) for note in (62, 66, 69))], 2.0)
    assert lit(old.advance([], 3.0)) == [0, 0, 255, 0]
    assert lit(born_again(old).advance([], 1.0)) == [0, 0, 255, 0]


def test_a_shape_that_waits_for_the_next_comes_back_until_the_next() -> None:
    """`then: next` stands until another shape is drawn; `release` does not stand."""
    minor = ChordRule((0, 3, 7), ((3, 1.0),), name="minor")
    old = engine(chords=(chord("next"), minor))
    old.advance([*MAJOR, *LIFTED], 2.0)
    new = born_again(old)
    assert lit(new.advance([], 1.0)) == [201, 201, 0, 0]
    assert lit(new.advance([on(2.0, note, 127) for note in (60, 63, 67)], 3.0)) == [0, 0, 0, 255]
    assert whats(new) == ["look"]


def test_it_comes_back_again_after_it_came_back() -> None:
    """What was brought back stands as before: a second bad end loses nothing."""
    old = engine(
        each(mode="latch", feel=Feel(0.0, 0.5, 0.5)), chords=(chord("stay"),), sets=(LEVEL,), looks=LOOKS
    )
    old.advance([on(0.0, 62), cc(0.0, 23, 99), Do(0.0, "look", "walkin", 0.0)], 1.0)
    new = born_again(old)
    new.advance([], 10.0)
    assert new.standing(10.0) == old.standing(10.0)
    assert lit(born_again(new).advance([], 1.0)) == lit(old.advance([], 20.0))


def test_latches_outlive_their_port_as_before() -> None:
    """What came back from a keyboard that is not plugged in yet is a latch like any other."""
    old = engine(each(mode="latch"))
    old.advance([on(0.0, 60)], 1.0)
    new = born_again(old)
    new.advance([PortGone(0.5, "p")], 1.0)
    assert lit(new.advance([NewMapping(1.1, old.mapping)], 2.0)) == [255, 0, 0, 0]


def test_the_flash_guard_sees_a_return_as_any_rise() -> None:
    """A show that falls and comes back over and over flashes no more than three times in a second."""
    old = engine(each(mode="latch"), guards={"flash": "limit"})
    old.advance([on(0.0, note) for note in range(60, 64)], 1.0)
    marks = old.standing(1.0)
    new = Engine(old.rig, old.mapping)
    rises, before = 0, 0
    for k in range(40):
        events: list[Event] = []
        if k % 4 == 0:
            events = [Restore(k / 40, marks, 0.01)]
        elif k % 4 == 2:
            events = [Do(k / 40, "release_all")]
        now = lit(new.advance(events, k / 40))[0]
        rises += now - before > 25
        before = now
    assert 1 <= rises <= 3


@pytest.mark.parametrize("numbers", [(), (1e300,) * 8, (-1.0,) * 8])
def test_marks_of_any_kind_and_any_numbers_are_no_trouble(numbers: tuple[float, ...]) -> None:
    """A forged mark lights something within 0..1, or nothing."""
    machine = engine(
        each(mode="latch"),
        chords=(chord("stay"),),
        sets=(MASTER, LEVEL),
        looks=LOOKS,
        textures={"wave": WAVE},
    )
    kinds = ("latch", "texture", "chord", "look", "set level", "set master", "set nothing", "tempo", "what")
    names = ("", "l0", "l3", "wave", "major", "walkin")
    marks = tuple(
        Mark(what, name, "p", 1, note, numbers) for what in kinds for name in names for note in (-1, 60)
    )
    machine.advance([Restore(0.0, marks, 0.3)], 0.0)
    for t in (0.1, 1.0, 2.0):
        assert all(0 <= slot <= 255 for slot in lit(machine.advance([], t)))


@given(mappings(), st.lists(EVENTS, max_size=25))
def test_any_show_comes_back(mapping: Mapping, events: list[Event]) -> None:
    """Hands gone and everything at rest: the same bytes, or, out of a blackout, the dark without one."""
    assume(not any(rule.repeat for rule in mapping.keys) and not any(rule.chase for rule in mapping.chords))
    played = [event for event in events if not isinstance(event, KeyPressure | ChannelPressure)]
    played += [PortGone(4.0, port) for port in ("piano", "pads")]
    old = Engine(rig(), mapping)
    waiting = sorted(played, key=lambda event: event.stamp)
    for k in range(0, 9 * 40, 10):
        due = [event for event in waiting if event.stamp <= k / 40]
        waiting = waiting[len(due) :]
        old.advance(due, k / 40)
    new = Engine(rig(), mapping)
    new.advance([Restore(0.0, old.standing(9.0))], 0.0)
    assert not new.blackout
    shown = new.advance([], 5.0)
    if old.blackout:
        assert lit(shown) == [0, 0, 0, 0]
    else:
        assert lit(shown) == lit(old.advance([], 20.0))
    assert new.master == old.master
