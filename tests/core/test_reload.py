"""Another mapping comes into force while hands are on the keys."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.engine import Engine
from bridge.values.events import Do, NewMapping, Picture
from bridge.values.mapping import ChordRule, DoRule, Feel, Mapping, SetRule
from tests.core.builders import cc, control, each, engine, lit, note, off, on, rig, together


def test_held_notes_go_on_when_nothing_about_them_changed() -> None:
    """A saved file with the same rule elsewhere in it is not seen by the audience."""
    machine = engine(each(feel=Feel(attack=1.0)))
    machine.advance([on(0.0, 60)], 0.0)
    other = Mapping("new", keys=(together(99, (3,)), replace(each(feel=Feel(attack=1.0)), line=7)))
    assert lit(machine.advance([NewMapping(0.4, other)], 0.5))[0] == 128


def test_a_changed_rule_is_in_force_at_the_next_frame() -> None:
    """A held note takes the level of the new rule, without a dark frame."""
    machine = engine(each())
    machine.advance([on(0.0, 60, 127)], 0.0)
    machine.advance([], 0.1)
    softer = Mapping(keys=(each(between=(0.0, 0.5)),))
    assert lit(machine.advance([NewMapping(0.2, softer)], 0.2))[0] == 128
    assert lit(machine.advance([off(0.3, 60)], 0.3))[0] == 0


def test_what_no_rule_hears_any_more_is_let_go() -> None:
    """A note whose rule is gone fades by its own release; a held key that a new rule hears begins."""
    machine = engine(each(feel=Feel(release=1.0)))
    machine.advance([on(0.0, 60)], 0.0)
    machine.advance([NewMapping(1.0, Mapping(keys=(together(60, (2,)),)))], 1.0)
    assert lit(machine.advance([], 1.5)) == [128, 0, 255, 0]
    assert lit(machine.advance([off(2.5, 60)], 2.5)) == [0, 0, 0, 0]


def test_another_songs_mapping_starts_with_empty_hands() -> None:
    """`keep` false (a program change between mappings): what is held is let go, nothing begins."""
    machine = engine(each())
    machine.advance([on(0.0, 60)], 0.0)
    assert lit(machine.advance([NewMapping(0.1, Mapping(keys=(each(),)), keep=False)], 0.125))[0] == 0
    machine.advance([off(0.2, 60)], 0.2)
    assert lit(machine.advance([on(0.3, 60)], 0.3))[0] == 255


def test_latches_masters_levels_and_looks_outlive_a_saved_file() -> None:
    """What stands goes on standing: latch, master, knob level, look, toggled blackout."""
    rules = {
        "sets": (SetRule(control(1), "master"), SetRule(control(2), "level", (3,))),
        "does": (DoRule(note(50), "look", look="a"), DoRule(note(51), "blackout", toggle=True)),
        "looks": {"a": ((1, 1.0),)},
    }
    machine = engine(each(mode="latch"), **rules)
    machine.advance([on(0.0, 60), off(0.0, 60), cc(0.0, 1, 64), cc(0.0, 2, 127), on(0.0, 50)], 0.0)
    before = lit(machine.advance([], 1.0))
    assert before == [129, 129, 0, 129]
    machine.advance([NewMapping(1.5, Mapping(keys=(each(mode="latch"),), **rules))], 1.5)
    assert lit(machine.advance([], 3.0)) == before
    assert lit(machine.advance([on(3.5, 60)], 3.5)) == [0, 129, 0, 129]


def test_a_chord_in_the_hand_is_read_anew() -> None:
    """Fingers that hold a chord draw the new file's shape for it."""
    machine = engine(chords=(ChordRule((0, 4, 7), ((0, 1.0),)),))
    machine.advance([on(0.0, 60), on(0.0, 64), on(0.0, 67)], 0.0)
    assert lit(machine.advance([], 0.1)) == [255, 0, 0, 0]
    machine.advance([NewMapping(0.2, Mapping(chords=(ChordRule((0, 4, 7), ((1, 1.0),)),)))], 0.2)
    assert lit(machine.advance([], 0.3)) == [0, 255, 0, 0]


def test_a_picture_of_a_take_stands_under_what_is_played() -> None:
    """A replayed frame shows byte for byte, live keys add by highest, blackout darkens both."""
    machine = engine(each())
    picture = bytes([10, 200, 0, 7] + [0] * 508)
    assert lit(machine.advance([Picture(0.0, (1,), picture)], 0.0)) == [10, 200, 0, 7]
    assert lit(machine.advance([on(0.1, 60)], 0.1)) == [255, 200, 0, 7]
    assert lit(machine.advance([Do(0.2, "blackout_on")], 0.2)) == [0, 0, 0, 0]
    assert lit(machine.advance([Do(0.3, "blackout_off"), Picture(0.3, (), b"")], 0.3)) == [255, 0, 0, 0]


def test_a_picture_already_holds_the_rest_of_its_lamps() -> None:
    """Recorded with the master down, a resting lamp replays as dark as it was."""
    machine = Engine(rig(2, rest=0.5), Mapping())
    assert lit(machine.advance([Picture(0.0, (1,), bytes([13] + [0] * 511))], 0.0), 2) == [13, 0]
    assert lit(machine.advance([Picture(0.1, (), b"")], 0.1), 2) == [128, 128]


def test_a_shape_that_stays_outlives_a_saved_file() -> None:
    """`then: stay` goes on standing where the new file has the same rule, and the same chord ends it."""
    rule = ChordRule((0, 4, 7), ((0, 1.0),), then="stay")
    machine = engine(chords=(rule,))
    chord = [on(0.0, 60), on(0.0, 64), on(0.0, 67)]
    machine.advance(chord, 0.0)
    machine.advance([off(0.1, 60), off(0.1, 64), off(0.1, 67)], 0.2)
    machine.advance([NewMapping(0.3, Mapping(chords=(replace(rule, line=9),)))], 0.3)
    assert lit(machine.advance([], 1.0))[0] == 255
    again = [replace(event, stamp=1.1) for event in chord]
    machine.advance(again, 1.1)
    assert lit(machine.advance([], 1.2))[0] == 0
