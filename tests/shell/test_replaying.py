"""Takes that are shown again while a show goes on: which there are, one that is shown, its end."""

from __future__ import annotations

import itertools
import os
from pathlib import Path

import numpy as np
import pytest

from bridge.shell.feeds import ListFeed
from bridge.shell.replaying import Known, Replaying
from bridge.shell.takes.reader import Take
from bridge.values.events import Event, Picture
from tests.acceptance.programs import until
from tests.shell.takes.child import HEADER as ONE_UNIVERSE
from tests.shell.takes.players import HZ, RIG, record, song

FRAMES = 64
LENGTH = FRAMES / HZ
NOTHING = b""


def recorded(folder: Path, *names: str) -> list[Path]:
    """Takes of the same song, each a minute older than the one after it."""
    paths = []
    for age, name in enumerate(reversed(names)):
        path = record(folder / name, [ListFeed(song())], FRAMES)
        os.utime(path, (1e9 - 60 * age, 1e9 - 60 * age))
        paths.append(path)
    return paths[::-1]


@pytest.fixture
def replaying(tmp_path: Path) -> Replaying:
    """Two takes in a folder, known."""
    recorded(tmp_path, "first.take", "second.take")
    made = Replaying(tmp_path, RIG.universes)
    made.look()
    until(lambda: len(made.known) == 2, "both takes are known")
    return made


def begun(replaying: Replaying, number: int, t: float) -> list[Event]:
    """Start a take and ask for events at show time `t` until it is shown; what came out."""
    replaying.start(str(number))
    out: list[Event] = []

    def shown() -> bool:
        out.extend(replaying.take(t))
        return bool(replaying.showing)

    until(shown, "the take is shown")
    return out


def at(replaying: Replaying, *times: float) -> list[Event]:
    """What comes out when asked at these show times."""
    return [event for t in times for event in replaying.take(t)]


def test_takes_are_told_of_from_the_oldest_on(replaying: Replaying) -> None:
    """Each with its number, name, length and count of notes."""
    notes = sum(event.stamp < LENGTH for event in song() if type(event).__name__ == "NoteOn")
    assert replaying.known == (
        Known(1, "first.take", round(LENGTH, 1), notes),
        Known(2, "second.take", round(LENGTH, 1), notes),
    )


def test_a_take_keeps_its_number(replaying: Replaying, tmp_path: Path) -> None:
    """Whatever else is recorded or removed: the page may ask for it by what it was told before."""
    recorded(tmp_path, "third.take")
    (tmp_path / "first.take").unlink()
    replaying.look()
    until(lambda: {take.number for take in replaying.known} == {2, 3}, "the third is known, the first is not")


def test_what_cannot_be_shown_is_not_told_of(tmp_path: Path) -> None:
    """Takes of other universes, files that are no takes, folders and pipes are passed over in silence."""
    from bridge.shell.takes.recorder import Recorder
    from bridge.values.beat import Beat
    from bridge.values.frame import Frame

    recorder = Recorder(tmp_path / "other.take", ONE_UNIVERSE)
    recorder.tap(Beat(0, 0.0), Frame(0.0, (1,), np.zeros((1, 512), dtype=np.uint8)), [])
    recorder.close()
    (tmp_path / "text.take").write_text("no take", "utf-8")
    (tmp_path / "folder.take").mkdir()
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.take")
    recorded(tmp_path, "good.take")
    replaying = Replaying(tmp_path, RIG.universes)
    replaying.look()
    until(lambda: replaying.known, "the good one is known")
    assert [take.name for take in replaying.known] == ["good.take"]
    assert replaying.trouble == ""


def test_a_take_is_shown_to_the_bit(replaying: Replaying, tmp_path: Path) -> None:
    """From the moment at which it is open the pictures are those that went out then, as long after it."""
    out = begun(replaying, 1, 10.0)
    out += at(replaying, 10.5, 10.0 + LENGTH / 2, 10.0 + LENGTH - 0.001)
    with Take(tmp_path / "first.take") as take:
        frames = [(t, frame.slots.tobytes()) for _, _, t, frame in take.frames()]
    changes = [frames[0], *(b for a, b in itertools.pairwise(frames) if a[1] != b[1])]
    pictures = [event for event in out if isinstance(event, Picture)]
    assert pictures == out
    assert [event.slots for event in pictures] == [slots for _, slots in changes]
    assert [event.stamp - 10.0 for event in pictures] == pytest.approx([t for t, _ in changes], abs=1e-6)
    assert replaying.showing == "first.take"
    assert replaying.position(10.5) == pytest.approx(0.5)


def test_at_its_end_it_leaves_the_rig(replaying: Replaying) -> None:
    """The last thing that comes is no picture, at the take's end, and nothing is shown any more."""
    begun(replaying, 1, 3.0)
    out = at(replaying, 3.0 + LENGTH + 0.01)
    assert out[-1] == Picture(3.0 + LENGTH, (), NOTHING)
    assert replaying.showing == ""
    assert replaying.position(3.0 + LENGTH + 0.01) == 0.0
    assert at(replaying, 30.0) == []


def test_a_loop_goes_round_until_it_is_told_not_to(replaying: Replaying) -> None:
    """With `loop` the same pictures come again a length later; without it the time through is the last."""
    replaying.loop = True
    first = begun(replaying, 2, 0.0) + at(replaying, LENGTH - 0.001)
    again = at(replaying, 2 * LENGTH - 0.002)
    assert [event.slots for event in again][-5:] == [event.slots for event in first][-5:]
    assert replaying.showing == "second.take"
    assert replaying.position(1.5 * LENGTH) == pytest.approx(LENGTH / 2)
    replaying.loop = False
    assert at(replaying, 2 * LENGTH + 0.01)[-1] == Picture(2 * LENGTH, (), NOTHING)
    assert replaying.showing == ""


def test_a_showing_is_stopped_at_once(replaying: Replaying) -> None:
    """A stop leaves the rig with no picture; where nothing is shown it says nothing."""
    begun(replaying, 1, 1.0)
    replaying.stop(1.2)
    assert at(replaying, 1.2) == [Picture(1.2, (), NOTHING)]
    assert replaying.showing == ""
    replaying.stop(1.3)
    assert at(replaying, 2.0) == []


def test_a_stop_forgets_one_that_is_about_to_begin(replaying: Replaying) -> None:
    """A take that was called off while it was opened never shows, and stands in the way of no other."""
    for _ in range(10):
        replaying.start("1")
        replaying.stop(0.5)
        begun(replaying, 2, 1.0)
        assert replaying.showing == "second.take"
        replaying.stop(1.5)
        replaying.take(1.5)


def test_an_unknown_number_shows_nothing(replaying: Replaying) -> None:
    """Whatever the page sends, only what was told of can be shown: no name, no path."""
    for number in ("0", "9", "first.take", "../first.take", ""):
        replaying.start(number)
    begun(replaying, 1, 1.0)
    assert replaying.showing == "first.take"


def test_a_take_that_has_gone_is_said(replaying: Replaying, tmp_path: Path) -> None:
    """A take removed since it was told of gives a line, and the show goes on; the next one clears it."""
    (tmp_path / "first.take").unlink()
    replaying.start("1")
    until(lambda: replaying.trouble, "its trouble is said")
    assert replaying.trouble.startswith("first.take: ")
    assert at(replaying, 1.0) == []
    begun(replaying, 2, 1.0)
    assert replaying.trouble == ""
