"""A whole show in this process: in which order its parts end, and what its outputs get."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import pytest

from bridge.app import Show
from bridge.plan import Plan
from bridge.shell.evening import Number
from bridge.shell.takes.feeds import PictureFeed
from bridge.shell.takes.reader import Take
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.values.mapping import Mapping
from bridge.values.rig import OutputSpec
from bridge.wire.take_header import TakeHeader
from tests.core.builders import each, rig


class Told:
    """A song without sound that tells how the show's output is when its device is given back."""

    length = 60.0
    trouble = ""
    underruns = 0
    playing = ended = False

    def __init__(self) -> None:
        self.show: Show | None = None
        self.found: list[str] = []

    def start(self, _at: float = 0.0, _when: float | None = None) -> None:
        """As `Song.start`."""
        self.playing = True

    def stop(self) -> None:
        """As `Song.stop`."""
        self.playing = False

    def position(self) -> None:
        """As `Song.position`; it never gets anywhere."""

    def close(self) -> None:
        """As `Song.close`."""
        assert self.show is not None
        self.found.append(self.show.on.workers[0].state().note)


def test_lamps_are_left_dark_before_a_sound_device_is_waited_for() -> None:
    """Giving a sound device back may take for ever; the outputs have ended before that begins."""
    song = Told()
    plan = Plan(rig(), Mapping("any"), [OutputSpec("memory")], seconds=0.2)
    plan.numbers = [Number("song", sound=lambda: song)]
    song.show = show = Show(plan, lambda _line: None)
    show.run()
    assert song.found == ["ended"]


class Struck:
    """A key that goes down, once, in the middle between two frames, and comes up at once."""

    def __init__(self) -> None:
        self._done = False

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        if self._done or until < 0.1 or not 0.009 < until % 0.025 < 0.015:
            return []
        self._done = True
        return [NoteOn(until, "p", 1, 60, 127), NoteOff(until, "p", 1, 60)]


def test_an_early_output_gets_a_strike_between_two_frames_and_others_with_the_next() -> None:
    """One key, two outputs: one picture more for the one that sends early, and both show the note."""
    plan = Plan(
        rig(), Mapping("any", keys=(each(),)), [OutputSpec("memory", early=True), OutputSpec("memory")]
    )
    plan.feeds, plan.seconds = [Struck()], 0.5
    show = Show(plan, lambda _line: None)
    show.run()
    early, steady = ([t for t, _ in worker.times] for worker in show.on.workers)
    between = [t for t in early if t not in steady]
    assert show.on.tally.early == 1
    assert len(between) == 1
    assert 0.009 <= between[0] % 0.025 <= 0.018


def test_a_take_holds_an_early_frame_and_a_replay_sends_it_early_again(tmp_path: Path) -> None:
    """In the take it is number (k, 1) at its own time; shown again it goes out between the same two."""
    lamps = rig()
    first = Plan(lamps, Mapping("any", keys=(each(),)), [OutputSpec("memory", early=True)])
    first.feeds, first.seconds, first.record, first.recording = [Struck()], 0.3, tmp_path / "a.take", True
    first.header = TakeHeader(refresh_hz=lamps.refresh_hz, universes=lamps.universes)
    Show(first, lambda _line: None).run()
    with Take.open(tmp_path / "a.take") as take:
        numbered = [(k, j, t) for row in take.frame_rows() for k, j, t, _ in take.unpack(row)]
        found = [(k, t) for k, j, t in numbered if j]
        again = Plan(lamps, Mapping("any"), [OutputSpec("memory", early=True)], [PictureFeed(take)])
    again.seconds = 0.3
    show = Show(again, lambda _line: None)
    show.run()
    assert len(found) == 1
    assert show.on.tally.early == 1
    sent = [t for t, _ in show.on.workers[0].times if t * 40 % 1 > 1e-6]
    assert [int(t * 40) for t in sent] == [found[0][0]]
    assert found[0][1] <= sent[0] < found[0][1] + 0.005


@pytest.mark.skipif(not hasattr(os, "sched_getscheduler"), reason="this system gives Python no scheduler")
def test_a_show_that_is_over_stands_in_nobodys_way() -> None:
    """Real-time priority is the show's: what the same program does afterwards runs like any other."""
    Show(Plan(rig(), Mapping("any"), [OutputSpec("memory")], seconds=0.1), lambda _line: None).run()
    assert os.sched_getscheduler(0) == os.SCHED_OTHER
