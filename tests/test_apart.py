"""Tests whose sound servers come and go, each group in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
import xml.etree.ElementTree as Tree
from pathlib import Path

import pytest

from tests.conftest import APART, GROUPS

HERE = Path(__file__).parent


@pytest.mark.timeout(600)
@pytest.mark.parametrize("group", GROUPS)
def test_a_group_passes_by_itself(group: str, tmp_path: Path) -> None:
    """All tests of the group pass; libjack may still end the process badly once they are through."""
    report = tmp_path / "report.xml"
    command = [sys.executable, "-m", "pytest", str(HERE / group), f"--junitxml={report}"]
    done = subprocess.run(
        command, cwd=HERE.parent, env=os.environ | {APART: "1"}, capture_output=True, text=True, timeout=590
    )
    assert report.exists(), done.stdout[-5000:] + done.stderr[-3000:]
    suite = Tree.parse(report).getroot().find("testsuite")
    assert suite is not None
    counts = {name: int(suite.get(name, "0")) for name in ("tests", "failures", "errors", "skipped")}
    assert counts["failures"] == counts["errors"] == 0, done.stdout[-8000:]
    assert counts["tests"] > 0
