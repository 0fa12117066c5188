"""Who rules the beat."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.beats import Beats
from bridge.core.conductor import Conductor
from bridge.core.ports import PortNames
from bridge.values.events import RealTime, SongPosition
from bridge.values.sound import BeatHeard, Timing


class Band:
    """A conductor and the beats it steers."""

    def __init__(self, order: tuple[str, ...] = ("clock", "tap", "sound"), clock_from: str = "") -> None:
        self.beats = Beats(120.0)
        ports = PortNames({"desk": "desk"})
        self.conductor = Conductor(Timing(order, clock_from), ports, self.beats)

    def clock(self, start: float, bpm: float, ticks: int, port: str = "desk") -> float:
        """Ticks at an even pace; the moment after the last."""
        for n in range(ticks):
            self._at(start + n * 2.5 / bpm)
            self.conductor.take(RealTime(start + n * 2.5 / bpm, port, "clock"))
        return start + ticks * 2.5 / bpm

    def say(self, kind: str, t: float, port: str = "desk") -> None:
        """Start, stop or continue."""
        self._at(t)
        self.conductor.take(RealTime(t, port, kind))

    def tap(self, *moments: float) -> None:
        """Taps on a key."""
        for t in moments:
            self._at(t)
            self.conductor.tap(t)

    def hear(self, *moments: float, bpm: float) -> None:
        """Beats of the music."""
        for t in moments:
            self._at(t)
            self.conductor.hear(BeatHeard(t, "song", bpm, 1.0))

    def _at(self, t: float) -> None:
        self.beats.moment = t


def test_nobody_rules_at_first() -> None:
    """Without a clock, taps or music the beat goes at the tempo that was set."""
    band = Band()
    assert band.conductor.ruler(0.0) == "set"
    assert band.beats.at(3.0) == pytest.approx(6.0)


def test_a_clock_rules_and_says_where_the_bar_is() -> None:
    """A started clock gives tempo and place: its beat 8 is a beat whose number is a whole bar of four."""
    band = Band()
    band.say("start", 0.9)
    end = band.clock(1.0, 140.0, 8 * 24 + 1) - 2.5 / 140
    assert band.conductor.ruler(end) == "clock"
    assert band.beats.tempo == pytest.approx(140, rel=0.001)
    assert band.beats.at(end) % 4 == pytest.approx(0.0, abs=0.02)


def test_a_clock_that_ends_leaves_its_tempo() -> None:
    """Ticks stop coming: the beat goes on as it went, and does not leap."""
    band = Band()
    end = band.clock(1.0, 100.0, 200)
    before = band.beats.at(end)
    assert band.conductor.ruler(end + 10.0) == "set"
    assert band.beats.at(end + 10.0) - before == pytest.approx(10 * 100 / 60, rel=0.01)


def test_only_the_named_port_counts() -> None:
    """With `clock_from` the clock of any other port is not heard."""
    band = Band(clock_from="desk")
    end = band.clock(1.0, 90.0, 100, "other")
    assert band.conductor.ruler(end) == "set"
    end = band.clock(end, 90.0, 100, "the desk")
    assert band.conductor.ruler(end) == "clock"


def test_two_clocks_do_not_fight() -> None:
    """Of two clocks the one that was there first rules while it ticks."""
    band = Band()
    for n in range(300):
        t = 1.0 + n / 48
        band.beats.moment = t
        band.conductor.take(RealTime(t, "a", "clock"))
        band.conductor.take(RealTime(t + 0.001 * (n % 7), "b", "clock"))
    assert band.beats.tempo == pytest.approx(120, rel=0.01)


def test_taps_set_tempo_and_beat() -> None:
    """The last tap is a beat, and the next one comes when the hand would tap again."""
    band = Band()
    band.tap(1.03, 1.63, 2.23, 2.83)
    assert band.conductor.ruler(3.0) == "tap"
    assert band.beats.tempo == pytest.approx(100)
    assert (band.beats.at(3.43) + 0.5) % 1 == pytest.approx(0.5, abs=0.001)


def test_music_rules_where_nothing_else_does() -> None:
    """Beats of the music steer; a tap takes over for a while, then the music has it again."""
    band = Band()
    band.hear(1.0, 1.6, 2.2, bpm=100.0)
    assert band.conductor.ruler(2.3) == "sound"
    assert (band.beats.at(2.8) + 0.5) % 1 == pytest.approx(0.5, abs=0.001)
    band.tap(3.0, 3.5)
    band.hear(3.9, bpm=100.0)
    assert band.conductor.ruler(4.0) == "tap"
    assert band.beats.tempo == pytest.approx(120)
    band.hear(64.0, bpm=100.0)
    assert band.conductor.ruler(64.1) == "sound"
    band.hear(65.0, bpm=0.0)
    assert band.conductor.ruler(65.1) == "set"


def test_the_order_is_the_mappings() -> None:
    """What stands first in `order` rules; what does not stand there never does."""
    band = Band(order=("sound", "clock"))
    end = band.clock(1.0, 90.0, 100)
    band.hear(end, bpm=150.0)
    assert band.conductor.ruler(end) == "sound"
    band.tap(end + 0.1, end + 0.5)
    assert band.beats.tempo == pytest.approx(150)


def test_song_position_moves_the_place() -> None:
    """A clock that is told to go on elsewhere does so from its next tick."""
    band = Band()
    band.say("start", 0.9)
    end = band.clock(1.0, 120.0, 49)
    band.say("stop", end)
    band.conductor.take(SongPosition(end, "desk", 16 + 8))
    band.say("continue", end)
    end = band.clock(end, 120.0, 25) - 2.5 / 120
    assert band.beats.at(end) % 4 == pytest.approx(3.0, abs=0.05)


@given(
    steps=st.lists(
        st.tuples(st.floats(0.01, 2.0), st.floats(0, 8), st.floats(30, 300), st.sampled_from([1.0, 4.0])),
        max_size=12,
    )
)
def test_the_beat_never_goes_back(steps: list[tuple[float, float, float, float]]) -> None:
    """However it is steered, the beat only grows, and reaches the place it was told within half a beat."""
    beats = Beats(120.0)
    t, last = 0.0, 0.0
    for gap, beat, bpm, part in steps:
        for n in range(1, 5):
            now = beats.at(t + gap * n / 4)
            assert now >= last - 1e-9
            last = now
        t += gap
        beats.moment = t
        beats.steer(beat, bpm, part)
        later = t + 31.0 / bpm
        off = (beats.at(later) - beat - 31.0 / 60.0) % part
        assert min(off, part - off) < 1e-6
        last = beats.at(t)
