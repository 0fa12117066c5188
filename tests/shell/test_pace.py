"""When frame k is due: steady by itself, and in time with a song whose clock is not the machine's."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import dataclass

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.shell.pace import CATCH_SLEW, KEPT, LOCK_SLEW, Pace, Steady, Steered
from bridge.shell.song.line import RATE_MOST

START = 5000.0
LOOSE = 1e-6
"""Seconds that floats of this size may round away, with much to spare."""


@dataclass
class Sound:
    """A sound card that plays a song: its clock runs `ppm` fast, its readings jitter, it may be gone a while.

    Args:
        rate: frames a second; positions are counted in blocks of 256.
        jitter: standard deviation of the readings' wall time in seconds.
        begins: seconds after the start of the show at which the song's second 0 is heard.
        gone: (from, to) seconds after the start in which there are no readings.
    """

    ppm: float = 0.0
    rate: int = 48000
    jitter: float = 0.0
    begins: float = 0.0
    gone: tuple[float, float] = (0.0, 0.0)
    latency: float = 0.02
    jumps_at: float = math.inf
    jump: float = 0.0
    late_only: bool = False

    def __post_init__(self) -> None:
        self._chance = random.Random(1)
        self._next = 0

    def second(self, wall: float) -> float:
        """The second of the song that is heard at a wall time."""
        passed = wall - START - self.begins
        return passed * (1.0 + self.ppm * 1e-6) - (self.jump if wall - START >= self.jumps_at else 0.0)

    def tell(self, pace: Steered, until: float) -> None:
        """Give all readings that come up to a wall time: one each 50 ms, of the block that then went out."""
        while self._next * 0.05 <= until - START:
            passed = self._next * 0.05
            self._next += 1
            if self.gone[0] <= passed < self.gone[1]:
                continue
            sounding = self.second(START + passed + self.latency)
            block = math.floor(sounding * self.rate / 256) * 256 / self.rate
            if block < 0.0:
                continue
            heard = START + passed + self.latency - (sounding - block) / (1.0 + self.ppm * 1e-6)
            wrong = self._chance.gauss(0.0, self.jitter)
            pace.hear(heard + (abs(wrong) if self.late_only else wrong), block)


@dataclass
class Show:
    """What a loop saw: the wall time of each frame, and how far lamps and song were apart then."""

    due: list[float]
    off: list[float]
    pace: Steered

    def steps(self, hz: float, first: int = 0) -> list[float]:
        """From frame to frame, in periods."""
        return [(b - a) * hz for a, b in itertools.pairwise(self.due[first:])]

    def worst(self, first: float, last: float, hz: float) -> float:
        """The most that lamps and song were apart, in seconds, in a part of the show."""
        return max(map(abs, self.off[int(first * hz) : int(last * hz)]))


def play(sound: Sound, seconds: float, hz: float = 40.0) -> Show:
    """A loop in simulated time: asks for a frame's moment, waits for it, hears readings meanwhile."""
    pace = Steered(START, hz)
    due, off = [], []
    for k in range(round(seconds * hz)):
        moment = pace.due(k)
        sound.tell(pace, moment)
        assert abs(pace.due(k) - moment) < LOOSE
        due.append(moment)
        off.append(sound.second(moment) - k / hz)
    return Show(due, off, pace)


@given(st.floats(0.0, 1e7), st.floats(1.0, 830.0), st.integers(0, 10**6))
def test_steady_frames_come_a_period_apart(start: float, hz: float, k: int) -> None:
    """Frame k is due k periods after the start, and show time is the inverse."""
    pace: Pace = Steady(start, hz)
    assert pace.due(k) == start + k / hz
    assert pace.show(pace.due(k)) == pytest.approx(k / hz, abs=LOOSE)


def test_without_a_song_steered_is_steady() -> None:
    """Nothing heard, nothing bent: the same moments as those of a steady pace."""
    steered, steady = Steered(START, 40.0), Steady(START, 40.0)
    assert [steered.due(k) for k in range(2000)] == pytest.approx([steady.due(k) for k in range(2000)])
    assert steered.show(START - 2.0) == pytest.approx(-2.0)
    assert not steered.locked


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("ppm", [200.0, -200.0, 0.0])
def test_lamps_and_song_stay_within_5_ms_for_ten_minutes(rate: int, ppm: float) -> None:
    """A sound clock 200 ppm off would be 120 ms away after ten minutes; readings jitter by several ms."""
    show = play(Sound(ppm, rate, jitter=0.004), 600.0)
    assert show.worst(0.0, 600.0, 40.0) < 0.005
    assert show.worst(60.0, 600.0, 40.0) < 0.002
    assert show.pace.locked
    assert show.pace.rate - 1.0 == pytest.approx(ppm * 1e-6, abs=1e-5)


def test_frames_keep_within_2_percent_of_their_period() -> None:
    """In lock no frame is bunched with the next or waits for it, whatever the readings jitter."""
    for hz in (25.0, 40.0, 44.0):
        steps = play(Sound(200.0, jitter=0.005), 60.0, hz).steps(hz, first=round(2 * hz))
        assert min(steps) > 0.98
        assert max(steps) < 1.02


@pytest.mark.parametrize("begins", [0.012, -0.012, 0.3, -0.3])
def test_a_start_is_caught_within_two_seconds(begins: float) -> None:
    """Where the song begins earlier or later than frame 0, lamps and song soon meet; no frames bunch."""
    show = play(Sound(100.0, jitter=0.002, begins=begins), 10.0)
    assert show.worst(2.0, 10.0, 40.0) < 0.005
    most = CATCH_SLEW + RATE_MOST
    steps = show.steps(40.0)
    assert 1.0 / (1.0 + most) <= min(steps) + LOOSE
    assert max(steps) <= 1.0 / (1.0 - most) + LOOSE


def test_a_song_that_stops_telling_is_followed_at_its_last_rate() -> None:
    """Five minutes without a reading cost no more than the rate was unsure by; then the song is found."""
    show = play(Sound(200.0, jitter=0.003, gone=(120.0, 420.0)), 600.0)
    assert show.worst(120.0, 420.0, 40.0) < 0.005
    assert show.worst(430.0, 600.0, 40.0) < 0.003
    steps = show.steps(40.0, first=120 * 40)
    assert min(steps) > 0.98
    assert max(steps) < 1.02


@pytest.mark.parametrize("jump", [0.15, -0.15, 1.0])
def test_a_song_that_stumbles_is_caught_again(jump: float) -> None:
    """After a silence of the sound card the song is late for good, and the lamps wait for it."""
    show = play(Sound(200.0, jitter=0.002, jumps_at=30.0, jump=jump), 60.0)
    assert show.worst(10.0, 29.9, 40.0) < 0.003
    assert show.worst(38.0, 60.0, 40.0) < 0.005
    assert show.pace.locked


@pytest.mark.parametrize("jitter", [0.0003, 0.004])
@pytest.mark.parametrize("step", [0.008, -0.008, 0.015])
def test_a_lost_block_is_taken_up_in_two_seconds(step: float, jitter: float) -> None:
    """A sound card that loses a few milliseconds, less than a jump, is met again soon and in small steps."""
    show = play(Sound(200.0, jitter=jitter, jumps_at=30.0, jump=step), 60.0)
    assert show.worst(10.0, 29.9, 40.0) < 0.003
    assert show.worst(32.5, 60.0, 40.0) < 0.005
    steps = show.steps(40.0, first=10 * 40)
    assert min(steps) > 0.98
    assert max(steps) < 1.02


def test_a_song_that_keeps_losing_time_is_not_run_away_from() -> None:
    """A sound system that stumbles all the time, 4 % too slow: faster than the lock follows, and followed."""
    show = play(Sound(-40000.0, jitter=0.001), 30.0)
    assert show.worst(2.0, 30.0, 40.0) < 0.05


def test_single_readings_far_off_bend_nothing() -> None:
    """A reading of half a second away, one in twenty, moves no lamp by 5 ms."""
    sound = Sound(100.0, jitter=0.001)
    pace = Steered(START, 40.0)
    chance = random.Random(2)
    off = []
    for k in range(40 * 60):
        moment = pace.due(k)
        sound.tell(pace, moment)
        if chance.random() < 0.1:
            pace.hear(moment + 0.03, k / 40.0 + chance.choice([-0.5, 0.5]))
        off.append(abs(sound.second(moment) - k / 40.0))
    assert max(off) < 0.005


def test_readings_that_only_ever_come_late_cost_their_mean() -> None:
    """Lateness that has no early counterpart cannot be told from distance: 1.6 ms of mean stay within 5."""
    assert play(Sound(200.0, jitter=0.002, late_only=True), 60.0).worst(0.0, 60.0, 40.0) < 0.003


def test_the_next_song_is_caught_where_it_belongs() -> None:
    """`begin` says where a second song lies in show time; what was told before stays as it was."""
    pace = Steered(START, 40.0)
    first = Sound(150.0, jitter=0.001)
    told = []
    for k in range(400):
        told.append(pace.due(k))
        first.tell(pace, told[-1])
    # Heard for the first time 9 ms before frame 410, where it belongs.
    second = Sound(150.0, jitter=0.001, begins=pace.due(410) - 0.009 - START)
    pace.begin(410 / 40.0)
    off = []
    for k in range(410, 2000):
        moment = pace.due(k)
        second.tell(pace, moment)
        off.append(abs(second.second(moment) - (k - 410) / 40.0))
    assert [pace.due(k) for k in range(400)] == pytest.approx(told, abs=LOOSE)
    assert max(off[40:]) < 0.003
    assert off[0] > 0.005


readings = st.tuples(
    st.floats(-1.0, 5.0) | st.sampled_from([math.nan, math.inf, -math.inf]),
    st.floats(-1e4, 1e4) | st.floats(-0.1, 0.1) | st.just(math.nan),
)


@given(st.floats(20.0, 100.0), st.lists(st.lists(readings, max_size=3), min_size=2, max_size=120))
def test_whatever_is_heard_frames_neither_bunch_nor_repeat(
    hz: float, heard: list[list[tuple[float, float]]]
) -> None:
    """Any readings: steps within the slew, show time the inverse, and nothing told is ever taken back."""
    pace = Steered(START, hz)
    told: list[float] = []
    for k, some in enumerate(heard):
        told.append(pace.due(k))
        assert pace.show(told[-1]) == pytest.approx(k / hz, abs=LOOSE)
        for late, off in some:
            pace.hear(told[-1] + late, k / hz + off)
    assert [pace.due(k) for k in range(len(told))] == pytest.approx(told, abs=LOOSE)
    most = CATCH_SLEW + RATE_MOST
    for one, next_one in itertools.pairwise(told):
        assert 1.0 / (1.0 + most) - LOOSE <= (next_one - one) * hz <= 1.0 / (1.0 - most) + LOOSE


@given(st.lists(st.tuples(st.floats(0.0, 0.2), st.floats(-0.3, 0.3)), min_size=2, max_size=100))
def test_show_time_never_runs_back(moves: list[tuple[float, float]]) -> None:
    """Asked at later and later wall times, with readings in between, show time only grows."""
    assume(any(step > 0.0 for step, _ in moves))
    pace = Steered(START, 40.0)
    wall, last = START, -math.inf
    for step, off in moves:
        wall += step
        show = pace.show(wall)
        assert show >= last
        last = show
        pace.hear(wall + 0.01, show + off)
        assert pace.show(wall) == pytest.approx(show, abs=LOOSE)


def test_late_events_are_dated_by_the_past_as_it_was() -> None:
    """The show time of a wall time seconds ago is what it was then, through thousands of readings."""
    pace = Steered(START, 40.0)
    sound = Sound(200.0, jitter=0.004)
    told: list[tuple[float, float]] = []
    for k in range(10 * KEPT):
        moment = pace.due(k)
        sound.tell(pace, moment)
        told.append((moment, k / 40.0))
        if k % 100 == 0:
            for wall, show in told[-400::50]:
                assert pace.show(wall) == pytest.approx(show, abs=LOOSE)


def test_slews_add_up_to_2_percent() -> None:
    """What the lock may slew and what a clock may be off leave the period within 2 %, as the words say."""
    assert LOCK_SLEW + RATE_MOST <= 0.02
