"""Wishes leave for the show without anyone waiting for it."""

from __future__ import annotations

import pickle
import threading

from bridge.shell.page.outbox import MOST, Outbox
from bridge.shell.page.wishes import Asked, Left, Played, Turned, Wish
from bridge.values.events import Bend, ChannelPressure, Control, Do, NoteOff, NoteOn, PortGone


def test_wishes_cross_a_pipe_and_become_events() -> None:
    """Each wish survives pickling and makes its event once its stamp is known."""
    pairs = [
        (Played("page", 1, 60, 90), NoteOn(1.5, "page", 1, 60, 90)),
        (Played("page", 1, 60, 0), NoteOff(1.5, "page", 1, 60)),
        (Turned("page", 2, "control", 7, 3), Control(1.5, "page", 2, 7, 3)),
        (Turned("page", 2, "bend", 0, -5), Bend(1.5, "page", 2, -5)),
        (Turned("page", 2, "pressure", 0, 9), ChannelPressure(1.5, "page", 2, 9)),
        (Left("page"), PortGone(1.5, "page")),
        (Asked("look", "dusk", 2.0), Do(1.5, "look", "dusk", 2.0)),
    ]
    for wish, event in pairs:
        assert pickle.loads(pickle.dumps(wish))(1.5) == event


def test_a_show_that_takes_nothing_loses_strikes_alone() -> None:
    """With a pipe that is stuck, strikes beyond the bound are dropped; releases and words are kept."""
    gate, got = threading.Event(), list[Wish]()

    def send(wish: Wish) -> None:
        gate.wait(5.0)
        got.append(wish)

    box = Outbox(send)
    taken = sum(box.put(Played("page", 1, 60, 90)) for _ in range(MOST + 100))
    kept = [Played("page", 1, 60, 0), Asked("blackout_on"), Turned("page", 1, "control", 64, 0)]
    assert all(box.put(wish) for wish in kept)
    assert not box.put(Turned("page", 1, "control", 7, 0))
    # One may be in the sender's hands already.
    assert taken in (MOST, MOST + 1)
    assert box.dropped == MOST + 100 - taken + 1
    gate.set()
    box.close()
    assert got[-3:] == kept


def test_a_pipe_that_breaks_ends_it_quietly() -> None:
    """A show that is gone makes no noise: later wishes are dropped."""

    def send(_wish: Wish) -> None:
        raise BrokenPipeError

    box = Outbox(send)
    box.put(Asked("release_all"))
    box.close()
    assert not box.put(Asked("release_all"))
