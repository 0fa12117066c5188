"""A whole show in this process writes its report, and one that cannot be written is told."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge.app import Show
from bridge.commands.performing import perform
from bridge.plan import Plan
from bridge.shell.feeds import ListFeed
from bridge.values.errors import UsageError
from bridge.values.events import NoteOn
from bridge.values.mapping import Mapping
from bridge.values.rig import OutputSpec
from tests.core.builders import each, rig


def plan_of(report: Path) -> Plan:
    """Half a second with two keys, to memory, and to a port that is not there."""
    outputs = [OutputSpec("memory"), OutputSpec("serial", port="/dev/none-here")]
    plan = Plan(rig(), Mapping("any", keys=(each(),)), outputs, seconds=0.5, title="two keys")
    plan.feeds.append(ListFeed([NoteOn(0.11, "p", 1, 60, 127), NoteOn(0.31, "p", 1, 60, 127)]))
    plan.report = report
    return plan


def test_a_show_writes_its_report(tmp_path: Path) -> None:
    """Frames, keys, outputs and their reasons are those of the show; the player is told where it is."""
    said: list[str] = []
    assert perform(said.append, plan_of(tmp_path / "show.html")) == 1
    page = (tmp_path / "show.html").read_text(encoding="utf-8")
    assert "<h1>two keys</h1>" in page
    assert "20 frames" in page
    assert "2 notes in all" in page
    assert "All 2 were on the wire" in page or " of 2 (" in page
    assert "never up" in page
    assert said[-1].startswith(str(tmp_path / "show.html"))


def test_a_report_that_cannot_be_written_fails_the_show_at_its_end(tmp_path: Path) -> None:
    """A folder that goes while the show is on: the show is played, the trouble told, and the exit is 1."""
    folder = tmp_path / "gone"
    said: list[str] = []
    show = Show(plan_of(folder / "show.html"), said.append)
    show.run()
    assert show.reporting is not None
    show.reporting.write(said.append, False)
    assert "cannot write" in said[-1]
    assert show.failed


def test_a_place_that_cannot_be_is_told_before_the_show(tmp_path: Path) -> None:
    """No frame is played for a report that has nowhere to go."""
    said: list[str] = []
    with pytest.raises(UsageError, match="there is no folder"):
        perform(said.append, plan_of(tmp_path / "gone" / "show.html"))
    assert said == []


def test_every_key_is_found_on_the_wire_within_its_frame(tmp_path: Path) -> None:
    """A key struck on a frame's own moment goes out with that frame, whatever 1/40 is to a computer."""
    said: list[str] = []
    plan = plan_of(tmp_path / "show.html")
    plan.outputs, plan.seconds = [OutputSpec("memory")], 1.5
    plan.feeds = [ListFeed([NoteOn(k / 40, "p", 1, 60, 127) for k in range(1, 56)])]
    assert perform(said.append, plan) == 0
    page = (tmp_path / "show.html").read_text(encoding="utf-8")
    assert "55 notes in all" in page
    longest = max(float(found) for found in re.findall(r"([\d.]+)\sms</td><td>55</td>", page))
    assert longest < 25.0
