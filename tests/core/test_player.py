"""What a player leaves for the shell: wishes, recent arrivals, notes nobody hears, the chord's name."""

from __future__ import annotations

import pytest

from bridge.core.unheard import fitting_shift, reason
from bridge.values.mapping import ChordRule, DoRule, Mapping
from tests.core.builders import cc, each, engine, note, on, together


@pytest.mark.parametrize("word", ["record", "next", "previous", "start", "stop"])
def test_words_the_engine_cannot_do_become_wishes(word: str) -> None:
    """A press of `does: record` is handed to the shell once."""
    machine = engine(does=(DoRule(note(40), word),))
    machine.advance([on(0.0, 40)], 0.0)
    assert machine.take_wishes() == [word]
    assert machine.take_wishes() == []


def test_arrivals_say_whether_a_rule_heard_them() -> None:
    """Notes, pedals and knobs are remembered, each with whether it did anything."""
    machine = engine(each())
    machine.advance([on(0.0, 60), on(0.0, 10), cc(0.0, 64, 127), cc(0.0, 9, 1)], 0.0)
    assert [heard for _, heard in machine.recent] == [True, False, True, False]


def test_unheard_notes_are_counted_by_key() -> None:
    """What no rule hears is kept, port and channel with it."""
    machine = engine(each())
    machine.advance([on(0.0, 10), on(0.1, 10), on(0.2, 60)], 0.3)
    assert machine.unheard == {("p", 1, 10): 2}


@pytest.mark.parametrize(
    ("notes", "octaves"), [([48, 51], 1), ([72], -1), ([36], 2), ([60], None), ([49, 61], None)]
)
def test_the_octave_that_would_fit(notes: list[int], octaves: int | None) -> None:
    """Keys 60 and 63 in the rule: the nearest octave that all notes need, none if there or never."""
    mapping = Mapping(keys=(together(60, (0,)), together(63, (1,))))
    assert fitting_shift(mapping, notes) == octaves


@pytest.mark.parametrize(
    ("key", "why"),
    [
        (("piano", 1, 9), "note"),
        (("pads", 1, 60), "port"),
        (("piano", 2, 60), "channel"),
        (("piano", 1, 60), "velocity"),
    ],
)
def test_why_a_note_is_not_heard(key: tuple[str, int, int], why: str) -> None:
    """Wrong note, port, channel, or a velocity window: each has its own name."""
    mapping = Mapping(inputs={"keys": "piano"}, keys=(together(60, (0,), source="keys", channel=1),))
    assert reason(mapping, key) == why


def test_the_chord_in_the_hand_is_named() -> None:
    """For the page: what is held, and the shape it draws."""
    machine = engine(chords=(ChordRule((0, 4, 7), ((0, 1.0),), name="left"),))
    machine.advance([on(0.0, 60), on(0.0, 64), on(0.0, 67)], 0.0)
    machine.advance([], 0.1)
    assert machine.chord == ("C major", "left")
