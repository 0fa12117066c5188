"""When an output is opened, fed and kept alive: no clock, no thread."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.outputs.schedule import FIRST_PAUSE, KEEP_ALIVE, LONGEST_PAUSE, Act, Schedule


def opened(refresh_hz: float = 0.0) -> Schedule:
    """A schedule whose device is open."""
    schedule = Schedule(refresh_hz)
    schedule.opened()
    return schedule


def test_first_of_all_it_is_opened() -> None:
    """A new output is opened at once, whether or not there is a frame."""
    assert Schedule().due(0.0, 0) == (Act.OPEN, 0.0)
    assert Schedule().due(5.0, 3)[0] is Act.OPEN


def test_without_a_frame_only_a_frame_brings_work() -> None:
    """An open output with nothing to send waits for the bell alone."""
    assert opened().due(9.0, 0) == (Act.WAIT, None)


def test_a_new_frame_goes_out_at_once() -> None:
    """With no rate of its own an output sends whenever there is something newer."""
    schedule = opened()
    assert schedule.due(1.0, 1)[0] is Act.SEND
    schedule.sent(1.0, 1)
    assert schedule.due(1.0, 2)[0] is Act.SEND
    assert schedule.due(1.1, 1)[0] is Act.WAIT


def test_an_old_frame_is_kept_alive() -> None:
    """The same number is due again 0.8 s after its send began: E1.31 6.6.2 says 800 to 1000 ms."""
    assert 0.8 <= KEEP_ALIVE < 1.0
    schedule = opened()
    schedule.sent(10.0, 4)
    act, pause = schedule.due(10.0, 4)
    assert act is Act.WAIT
    assert pause is not None
    assert abs(pause - KEEP_ALIVE) < 1e-9
    assert schedule.due(10.0 + KEEP_ALIVE, 4)[0] is Act.SEND


def test_a_reopened_device_gets_the_old_frame_at_once() -> None:
    """After a failure the last frame is due again though its number is known."""
    schedule = opened()
    schedule.sent(1.0, 1)
    schedule.failed(1.5)
    assert schedule.due(1.5 + FIRST_PAUSE, 1)[0] is Act.OPEN
    schedule.opened()
    assert schedule.due(1.76, 1)[0] is Act.SEND


def test_only_a_send_makes_the_pauses_short_again() -> None:
    """Opening proves nothing: a device that opens and fails keeps its growing pauses."""
    schedule = Schedule()
    now, pauses = 0.0, []
    for _ in range(7):
        schedule.opened()
        schedule.failed(now)
        _, pause = schedule.due(now, 1)
        assert pause is not None
        pauses.append(pause)
        now += pause
    assert pauses == [0.25, 0.5, 1.0, 2.0, 4.0, 4.0, LONGEST_PAUSE]
    schedule.opened()
    schedule.sent(now, 1)
    schedule.failed(now)
    assert schedule.due(now, 1) == (Act.WAIT, FIRST_PAUSE)


@given(
    st.lists(st.floats(0.0005, 1.5), min_size=1, max_size=60),
    st.sampled_from([0.0, 0.2, 5.0, 25.0, 44.0]),
)
def test_rate_and_keep_alive_bound_every_gap(arrivals: list[float], refresh_hz: float) -> None:
    """However frames come, sends are at least a period and at most 0.8 s apart, and always the newest."""
    schedule = opened(refresh_hz)
    moments, at = [], 0.0
    for gap in arrivals:
        at += gap
        moments.append(at)
    end = at + 2.0
    now, number, sends = moments[0], 0, []
    while now <= end:
        number = sum(1 for moment in moments if moment <= now)
        act, pause = schedule.due(now, number)
        if act is Act.SEND:
            sends.append(now)
            schedule.sent(now, number)
            continue
        coming = [moment for moment in moments if moment > now]
        assert pause is not None
        now = min([now + pause, *coming]) + 1e-9
    gaps = [after - before for before, after in pairwise(sends)]
    assert gaps
    assert max(gaps) <= KEEP_ALIVE + 1e-6
    if refresh_hz:
        assert min(gaps) >= min(1 / refresh_hz, KEEP_ALIVE) - 1e-6


def test_an_early_frame_waits_for_the_line_and_no_longer() -> None:
    """Between two steady frames an early one goes out once the line is free, whatever its own rate."""
    schedule = Schedule(refresh_hz=20.0, line=0.0013)
    schedule.opened()
    schedule.sent(1.0, 1)
    act, pause = schedule.due(1.0005, 2, early=True)
    assert (act, round(pause or 0.0, 6)) == (Act.WAIT, 0.0008)
    assert schedule.due(1.0013, 2, early=True)[0] is Act.SEND


def test_a_steady_frame_keeps_its_time_beside_early_ones() -> None:
    """An early frame moves the steady one after it by no more than the line is busy."""
    schedule = Schedule(refresh_hz=20.0, line=0.0013)
    schedule.opened()
    schedule.sent(1.0, 1)
    schedule.sent(1.01, 2, early=True)
    act, pause = schedule.due(1.02, 3)
    assert (act, round(pause or 0.0, 6)) == (Act.WAIT, 0.03)
    schedule.sent(1.0495, 4, early=True)
    assert schedule.due(1.05, 5)[0] is Act.WAIT
    assert schedule.due(1.05081, 5)[0] is Act.SEND


@given(st.lists(st.tuples(st.floats(0.0, 0.02), st.booleans()), max_size=60), st.sampled_from([0.0, 20.0]))
def test_no_two_sends_are_closer_than_the_line_allows(
    drawn: list[tuple[float, bool]], refresh_hz: float
) -> None:
    """ANSI E1.31 clause 6.6.1, E1.11 Table 6: whatever is posted when, packets keep their distance."""
    schedule, line = Schedule(refresh_hz, 0.0013), 0.0013
    schedule.opened()
    now, sends = 10.0, []
    for number, (step, early) in enumerate(drawn, 1):
        end = now + step
        while True:
            act, pause = schedule.due(now, number, early)
            if act is Act.SEND:
                schedule.sent(now, number, early)
                sends.append(now)
            elif pause is None or now + pause > end:
                break
            else:
                now += max(pause, 1e-9)
        now = end
    assert all(after - before >= line - 1e-9 for before, after in pairwise(sends))


def test_a_frame_is_not_sent_before_its_moment() -> None:
    """What is handed on ahead of its moment waits for it, the first of all and every other."""
    schedule = opened()
    for number, moment in ((1, 2.0), (2, 2.025)):
        act, pause = schedule.due(moment - 0.0008, number, moment=moment)
        assert (act, round(pause or 0.0, 6)) == (Act.WAIT, 0.0008)
        assert schedule.due(moment, number, moment=moment)[0] is Act.SEND
        schedule.sent(moment, number)
