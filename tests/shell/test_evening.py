"""An evening: nothing starts until told, the look stands between songs, a song's sound steers the lamps."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bridge.core.engine import Engine
from bridge.shell.clock import FakeClock
from bridge.shell.evening import Evening, Number
from bridge.shell.feeds import ListFeed
from bridge.shell.loop import Loop
from bridge.shell.pace import Steered
from bridge.shell.song import SilentSong
from bridge.values.beat import Beat
from bridge.values.errors import DeviceError
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from tests.core.builders import each, lit, rig

HZ = 40.0
LOOKS = {"dusk": ((3, 0.5),)}


def notes(note: int, at: float = 0.5, seconds: float = 0.5) -> list[Event]:
    """One note of a song."""
    return [NoteOn(at, "file", 1, note, 127), NoteOff(at + seconds, "file", 1, note)]


def number(name: str, note: int, **more: object) -> Number:
    """A song of a second with one note."""
    mapping = Mapping(name, keys=(each(),), looks=LOOKS)
    return Number(name, mapping, "", lambda: ListFeed(notes(note)), 1.0, **more)  # type: ignore[arg-type]


class Stage:
    """A loop over a fake clock with an evening in it; words are spoken at their times."""

    def __init__(self, numbers: Sequence[Number], words: dict[float, str], seconds: float) -> None:
        self.clock = FakeClock(100.0)
        pace = Steered(100.0, HZ)
        self.moved: list[int] = []
        self.evening = Evening(numbers, pace, HZ, self.moved.append)
        self.shown: list[list[int]] = []
        self.states: list[tuple[int, bool]] = []
        self._words = dict(words)
        self.evening.choose(0, 0.0)
        assert self.evening.ready(10.0)
        engine = Engine(rig(), Mapping(looks=LOOKS))
        loop = Loop(engine, [self.evening], [self._tap], self.clock, HZ)
        loop.run(lambda: False, seconds, pace)
        self.evening.close()

    def _tap(self, _beat: Beat, frame: Frame, _events: Sequence[Event]) -> None:
        for moment in [moment for moment in self._words if moment <= frame.t]:
            self.evening.wish(self._words.pop(moment), frame.t)
        self.evening.turn(frame.t)
        self.shown.append(lit(frame))
        self.states.append((self.evening.index, self.evening.playing))

    def lamp(self, index: int) -> list[float]:
        """Seconds at which a lamp was fully lit."""
        return [k / HZ for k, frame in enumerate(self.shown) if frame[index] == 255]


def test_nothing_starts_until_told() -> None:
    """A set list stands ready for as long as nobody says start."""
    stage = Stage([number("a", 60), number("b", 61)], {}, 5.0)
    assert not any(any(frame) for frame in stage.shown)
    assert set(stage.states) == {(0, False)}


def test_a_song_plays_from_the_moment_it_is_started_and_the_next_one_waits() -> None:
    """Started at two seconds, its note at half a second sounds at two and a half; then the next is chosen."""
    stage = Stage([number("a", 60), number("b", 61)], {2.0: "start"}, 6.0)
    lit_at = stage.lamp(0)
    assert (lit_at[0], lit_at[-1]) == pytest.approx((2.5, 2.975), abs=1.5 / HZ)
    assert stage.states[-1] == (1, False)
    assert stage.lamp(1) == []
    assert stage.moved == [0, 1]


def test_stop_lets_go_and_start_begins_again() -> None:
    """Stopped in the middle of a note the lamp goes; started again the song is played from its beginning."""
    stage = Stage([number("a", 60)], {1.0: "start", 1.7: "stop", 3.0: "start"}, 6.0)
    lit_at = stage.lamp(0)
    assert max(t for t in lit_at if t < 3.0) < 1.8
    assert min(t for t in lit_at if t > 3.0) == pytest.approx(3.5, abs=2 / HZ)


def test_next_and_previous_stay_within_the_evening() -> None:
    """Before the first and after the last there is nothing to choose."""
    words = {0.5: "previous", 1.0: "next", 1.5: "next", 2.0: "next", 2.5: "previous"}
    stage = Stage([number("a", 60), number("b", 61), number("c", 62)], words, 3.0)
    assert stage.moved == [0, 1, 2, 1]


def test_the_look_stands_before_and_between_songs() -> None:
    """A song's look fades in when it is chosen and goes on standing when a song without one follows."""
    stage = Stage([number("a", 60, look="dusk"), number("b", 61)], {4.0: "start"}, 9.0)
    assert all(frame[3] == 128 for k, frame in enumerate(stage.shown) if k / HZ > 2.1)


def test_a_look_that_the_next_mapping_does_not_know_goes_on_standing() -> None:
    """Between songs the lamps never go dark by accident."""
    bare = Number("b", Mapping("b", keys=(each(),)), "", lambda: ListFeed(notes(61)), 1.0)
    stage = Stage([number("a", 60, look="dusk"), bare], {3.0: "next"}, 6.0)
    assert all(frame[3] == 128 for k, frame in enumerate(stage.shown) if k / HZ > 2.1)


def test_lamps_follow_the_sound_of_a_song() -> None:
    """With sound the song's second 0 is where it is heard, and the end is the end of both."""
    clocks: list[FakeClock] = []

    def sound() -> SilentSong:
        return SilentSong(2.0, lambda: clocks[0].now() if clocks else 100.0)

    class Heard(Stage):
        def __init__(self) -> None:
            self.clock = FakeClock(100.0)
            super().__init__([number("a", 60, sound=sound), number("b", 61)], {1.0: "start"}, 6.0)

        def _tap(self, beat: Beat, frame: Frame, events: Sequence[Event]) -> None:
            if not clocks:
                clocks.append(self.clock)
            super()._tap(beat, frame, events)

    stage = Heard()
    assert stage.lamp(0)[0] == pytest.approx(1.5, abs=0.1)
    ends = [k / HZ for k, state in enumerate(stage.states) if state == (1, False)]
    assert ends[0] == pytest.approx(3.0, abs=0.2)


def test_a_song_whose_sound_cannot_be_had_is_played_in_silence() -> None:
    """The lamps play it all the same, and the reason shows."""

    def sound() -> SilentSong:
        raise DeviceError("the file is gone")

    stage = Stage([number("a", 60, sound=sound)], {1.0: "start"}, 4.0)
    assert stage.lamp(0)[0] == pytest.approx(1.5, abs=2 / HZ)
    assert "the file is gone" in stage.evening.trouble


def test_a_song_is_prepared_as_soon_as_it_is_chosen() -> None:
    """Chosen, stopped, passed by: each time the song that will start next is told to be made ready."""
    told: list[str] = []

    def one(name: str) -> Number:
        return Number(name, feed=lambda: ListFeed(notes(60)), ends=1.0, prepare=lambda: told.append(name))

    evening = Evening([one("a"), one("b")], Steered(0.0, 40.0), 40.0)
    evening.choose(0, 0.0)
    evening.start(0.0)
    evening.wish("stop", 0.5)
    evening.wish("next", 1.0)
    assert told == ["a", "a", "b"]
