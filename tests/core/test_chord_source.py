"""Chord shapes: when chords are judged, what they draw, how one becomes the next."""

from __future__ import annotations

import pytest

from bridge.core.engine import Engine
from bridge.values.frame import Frame
from bridge.values.mapping import ChordRule, Feel, Mapping
from tests.core.builders import each, engine, lit, off, on, rig

MAJOR, MINOR, DOMINANT = (0, 4, 7), (0, 3, 7), (0, 4, 7, 10)
LEFT, RIGHT = ((0, 1.0), (1, 0.5)), ((2, 1.0),)


def play(machine: Engine, t: float, *notes: int, up: tuple[int, ...] = ()) -> Frame:
    """Press and lift together at t, and see what is lit once the window is over."""
    events = [off(t, number) for number in up] + [on(t, number) for number in notes]
    machine.advance(events, t)
    return machine.advance([], t + 0.025)


def test_a_chord_draws_its_shape_on_any_root_and_inversion() -> None:
    """C major, F major in first inversion: the same shape; C minor another."""
    machine = engine(chords=(ChordRule(MAJOR, LEFT), ChordRule(MINOR, RIGHT)))
    assert lit(play(machine, 0.0, 60, 64, 67)) == [255, 128, 0, 0]
    assert lit(play(machine, 1.0, up=(60, 64, 67))) == [0, 0, 0, 0]
    assert lit(play(machine, 2.0, 69, 72, 77)) == [255, 128, 0, 0]
    play(machine, 3.0, up=(69, 72, 77))
    assert lit(play(machine, 4.0, 60, 63, 67)) == [0, 0, 255, 0]


def test_a_chord_is_judged_when_still_for_the_window() -> None:
    """Rolled notes count together; nothing is drawn before the window is over, and then at that moment."""
    machine = engine(chords=(ChordRule(MAJOR, LEFT, feel=Feel(attack=1.0)),), window=0.1)
    machine.advance([on(0.0, 60), on(0.06, 64), on(0.12, 67)], 0.2)
    assert lit(machine.advance([], 0.21)) == [0, 0, 0, 0]
    # Judged at 0.22: half way up its attack at 0.72, whatever frames came in between.
    assert lit(machine.advance([], 0.72))[0] == 128


def test_the_level_is_that_of_the_hardest_finger() -> None:
    """A chord plays at the highest of its velocities."""
    machine = engine(chords=(ChordRule(MAJOR, ((0, 1.0),)),))
    machine.advance([on(0.0, 60, 20), on(0.0, 64, 64), on(0.0, 67, 10)], 0.0)
    assert lit(machine.advance([], 0.05))[0] == 129


def test_growing_a_seventh_does_not_blink() -> None:
    """When a larger match replaces a smaller one, a common lamp never dips, whatever the feels."""
    slow = Feel(attack=0.3, release=0.1)
    rules = (
        ChordRule(MAJOR, ((0, 1.0), (1, 1.0)), feel=slow),
        ChordRule(DOMINANT, ((0, 1.0), (2, 1.0)), feel=slow),
    )
    machine = engine(chords=rules)
    machine.advance([on(0.0, 60), on(0.0, 64), on(0.0, 67)], 0.0)
    assert lit(machine.advance([], 1.0)) == [255, 255, 0, 0]
    shown = [lit(machine.advance([on(1.0, 70)] if k == 0 else [], 1.0 + k / 40)) for k in range(41)]
    assert all(frame[0] == 255 for frame in shown)
    assert shown[-1] == [255, 0, 255, 0]


@pytest.mark.parametrize(
    ("then", "after_lift", "after_again"),
    [("release", 0, 255), ("stay", 255, 0), ("next", 255, 255)],
)
def test_what_happens_when_the_chord_ends(then: str, after_lift: int, after_again: int) -> None:
    """release: it goes; stay: until the same chord again; next: until another shape."""
    machine = engine(chords=(ChordRule(MAJOR, ((0, 1.0),), then=then), ChordRule(MINOR, RIGHT)))
    play(machine, 0.0, 60, 64, 67)
    assert lit(play(machine, 1.0, up=(60, 64, 67)))[0] == after_lift
    assert lit(play(machine, 2.0, 60, 64, 67))[0] == after_again
    play(machine, 3.0, up=(60, 64, 67))
    shown = lit(play(machine, 4.0, 62, 65, 69))
    assert shown[2] == 255
    assert shown[0] == 0


def test_a_stay_follows_its_chord_to_another_root() -> None:
    """The same kind of chord on another root strikes the shape anew where it belongs; on its own it ends."""
    cells = ((0, 1, 2, 3),)
    machine = engine(chords=(ChordRule(MAJOR, ((0, 1.0),), cells=cells, move="root", then="stay"),))
    play(machine, 0.0, 60, 64, 67)
    assert lit(play(machine, 1.0, up=(60, 64, 67))) == [255, 0, 0, 0]
    assert lit(play(machine, 2.0, 61, 65, 68)) == [0, 255, 0, 0]
    assert lit(play(machine, 3.0, up=(61, 65, 68))) == [0, 255, 0, 0]
    # An inversion is the same chord.
    assert lit(play(machine, 4.0, 53, 56, 61)) == [0, 0, 0, 0]
    assert lit(play(machine, 5.0, up=(53, 56, 61))) == [0, 0, 0, 0]


def test_a_stay_without_a_move_is_struck_anew_on_another_root() -> None:
    """Where the shape has one place it stays there, and is as bright as the last chord was struck."""
    machine = engine(chords=(ChordRule(MAJOR, ((0, 1.0),), then="stay"),))
    play(machine, 0.0, 60, 64, 67)
    play(machine, 1.0, up=(60, 64, 67))
    assert lit(play(machine, 2.0, 62, 66, 69))[0] == 255
    assert lit(play(machine, 3.0, up=(62, 66, 69)))[0] == 255
    assert lit(play(machine, 4.0, 62, 66, 69))[0] == 0


def test_a_stay_outlives_other_shapes() -> None:
    """Another chord's shape comes and goes over it; only `next` gives way to one."""
    machine = engine(chords=(ChordRule(MAJOR, ((0, 1.0),), then="stay"), ChordRule(MINOR, RIGHT)))
    play(machine, 0.0, 60, 64, 67)
    play(machine, 1.0, up=(60, 64, 67))
    assert lit(play(machine, 2.0, 60, 63, 67))[0] == 255
    assert lit(play(machine, 3.0, up=(60, 63, 67)))[0] == 255


def test_exact_wants_no_other_note() -> None:
    """`exact: true`: a foreign note spoils the chord."""
    machine = engine(chords=(ChordRule(MAJOR, LEFT, exact=True),))
    assert lit(play(machine, 0.0, 60, 64, 67, 69)) == [0, 0, 0, 0]
    assert lit(play(machine, 1.0, up=(69,))) == [255, 128, 0, 0]


def test_shapes_move_with_the_root_and_turn_with_the_inversion() -> None:
    """Over two by two cells: D is two columns on (back home), C# one; an inversion turns by a quarter."""
    cells = ((0, 1), (2, 3))
    moving = engine(chords=(ChordRule(MAJOR, ((0, 1.0),), cells=cells, move="root"),))
    assert lit(play(moving, 0.0, 61, 65, 68)) == [0, 255, 0, 0]
    play(moving, 1.0, up=(61, 65, 68))
    assert lit(play(moving, 2.0, 62, 66, 69)) == [255, 0, 0, 0]
    turning = engine(chords=(ChordRule(MAJOR, ((0, 1.0),), cells=cells, turn=True),))
    assert lit(play(turning, 0.0, 64, 67, 72)) == [0, 255, 0, 0]
    play(turning, 1.0, up=(64, 67, 72))
    assert lit(play(turning, 2.0, 67, 72, 76)) == [0, 0, 0, 255]


def test_keys_and_shapes_draw_on_the_same_notes_unless_the_shape_takes_them() -> None:
    """`takes_keys: true`: the notes of the chord light nothing else, not even for a frame; others do."""
    both = engine(each(), chords=(ChordRule(MAJOR, ((3, 1.0),)),))
    assert lit(play(both, 0.0, 60, 64, 67)) == [255, 0, 0, 255]
    taken = engine(each(), chords=(ChordRule(MAJOR, ((3, 1.0),), takes_keys=True),))
    taken.advance([on(0.0, 60), on(0.0, 64), on(0.0, 67), on(0.0, 61)], 0.0)
    shown = [lit(taken.advance([], k / 200)) for k in range(1, 20)]
    assert all(frame[0] == 0 for frame in shown)
    assert shown[-1] == [0, 255, 0, 255]


def test_a_note_too_short_to_be_judged_still_shows() -> None:
    """A key that waits for the judgement and is let go before it strikes at once, for one frame."""
    machine = engine(each(), chords=(ChordRule(MAJOR, ((3, 1.0),), takes_keys=True),), window=0.1)
    shown = machine.advance([on(0.001, 60), off(0.01, 60)], 0.025)
    assert lit(shown)[0] == 255


def test_a_chase_lights_one_lamp_after_the_other() -> None:
    """A chase steps every `step` seconds from the moment the chord is judged, in a circle."""
    machine = engine(chords=(ChordRule(MAJOR, chase=(0, 2, 1), step=0.1),))
    machine.advance([on(0.0, 60), on(0.0, 64), on(0.0, 67)], 0.0)
    order = [lit(machine.advance([], 0.07 + k * 0.1)).index(255) for k in range(5)]
    assert order == [0, 2, 1, 0, 2]


def test_a_chord_that_no_rule_draws_leaves_keys_alone() -> None:
    """Held notes that are no chord of the file only play keys."""
    machine = Engine(rig(), Mapping(keys=(each(),), chords=(ChordRule(MAJOR, ((3, 1.0),)),)))
    assert lit(play(machine, 0.0, 60, 61, 62)) == [255, 255, 255, 0]
