"""A recording that ends badly, killed or on a full disk: what was sent first is there, whole."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from bridge.shell.takes.reader import Take
from tests.shell.takes.child import HEADER, HZ, events, frame

ROOT = Path(__file__).parents[3]

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="children are forked and limited as POSIX does it"
)


def child(*arguments: object) -> list[dict[str, Any]]:
    """Run a recording that ends badly; what it says."""
    run = subprocess.run(
        [sys.executable, "-m", "tests.shell.takes.child", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert run.returncode == 0, run.stderr
    return [json.loads(line) for line in run.stdout.splitlines()]


def holds_a_prefix(path: Path) -> int:
    """Check that a take holds the first frames that were sent, and their events, and no others; how many."""
    with Take(path) as take:
        assert take.header == HEADER
        found = list(take.frames())
        assert [k for k, *_ in found] == list(range(len(found)))
        for k, j, t, shown in found:
            assert (j, t, shown) == (0, k / HZ, frame(k))
        assert [event for _, _, event in take.events()] == [e for k in range(len(found)) for e in events(k)]
        assert take.gaps == ()
        assert take.next_k == len(found)
        assert take.ends == len(found) / HZ
        assert not take.complete
        assert "without a closing mark" in take.reach
        return len(found)


def is_right_alone(path: Path, folder: Path) -> int:
    """Check a copy without its journal, as somebody makes it who knows of none; how many frames it has."""
    copy = folder / "copy.take"
    shutil.copy(path, copy)
    with Take(copy) as take:
        found = list(take.frames())
        assert all((j, t, shown) == (0, k / HZ, frame(k)) for k, j, t, shown in found)
        assert all(event in events(k) for k, _, event in take.events())
        return len(found)


def test_killed_at_fifty_moments(tmp_path: Path) -> None:
    """Killed at fifty random moments, every take opens and holds a prefix of what was sent, all commits."""
    told = child("kill", tmp_path, 50, 2, 0.004, "fast", 1500, os.getpid())
    assert len(told) == 50
    (tmp_path / "alone").mkdir()
    alone = [is_right_alone(tmp_path / line["path"], tmp_path / "alone") for line in told]
    assert all(count >= line["written"] for count, line in zip(alone, told, strict=True))
    kept = [holds_a_prefix(tmp_path / line["path"]) for line in told]
    assert all(line["written"] <= count <= line["sent"] + 1 for count, line in zip(kept, told, strict=True))
    assert sum(kept) > 1000


def test_killed_as_a_show_is_recorded(tmp_path: Path) -> None:
    """Killed at the pace of a show, a take lacks no more than the last half second."""
    told = child("kill", tmp_path, 8, 8, 0.25, "paced", 70, 1)
    for line in told:
        assert holds_a_prefix(tmp_path / line["path"]) >= line["sent"] - 0.5 * HZ


@pytest.mark.parametrize("limit", [100_000, 150_000, 400_000])
def test_a_full_disk(tmp_path: Path, limit: int) -> None:
    """A file that may not grow: the recorder says why it stopped, the show goes on, every commit stays."""
    pytest.importorskip("resource")
    (told,) = child("fill", tmp_path, limit)
    assert "full.take" in told["failed"]
    assert "cannot write the take" in told["failed"]
    assert "has room" in told["failed"]
    kept = holds_a_prefix(tmp_path / "full.take")
    assert told["written"] <= kept <= told["sent"]
    assert limit < 120_000 or kept > 20
    assert (tmp_path / "full.take").stat().st_size <= limit
