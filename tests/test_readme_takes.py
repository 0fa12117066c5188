"""The page of README.md about takes: each of its commands is run, in its order."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tables import README

ROOT = README.parent
BOATHOUSE = ROOT / "examples" / "boathouse"
MORE = {
    "play": ["--no-page", "--seconds", "4", "--midi-file", str(BOATHOUSE / "evening.mid")],
    "replay": ["--no-page", "--seconds", "1"],
}
"""What a test adds: hands that play, and an end."""


@pytest.mark.timeout(120)
def test_every_step_of_the_page_about_takes_works(tmp_path: Path) -> None:
    """Record, look, fix the timing of a bar, export, replay: as a player would paste them."""
    page = README.read_text(encoding="utf-8").split("## Takes: record, fix, replay", 1)[1]
    block = re.search(r"```sh\n(.*?)```", page, re.DOTALL)
    assert block is not None
    lines = [shlex.split(line) for line in block[1].strip().splitlines()]
    assert len(lines) >= 6
    for name in ("rig.yaml", "mapping.yaml"):
        shutil.copy(BOATHOUSE / name, tmp_path / name)
    for first, *words in lines:
        assert first == "lampwright"
        command = [sys.executable, "-m", "bridge", *words, *MORE.get(words[0], [])]
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, f"{words}: {done.stdout}{done.stderr}"
    made = {path.name for path in tmp_path.iterdir()}
    assert {"evening.take", "evening.png", "better.take", "better.mid"} <= made
