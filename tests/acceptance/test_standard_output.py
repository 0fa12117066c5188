"""Standard output as a place for a table, and one whose letters are few."""

from __future__ import annotations

import csv
import io
import os
import subprocess
from pathlib import Path

import pytest

from tests.acceptance.programs import LAMPWRIGHT
from tests.acceptance.scenes import write_song


def output_of(folder: Path, *words: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    """A command with its standard output a pipe."""
    command = [*LAMPWRIGHT, *words]
    return subprocess.run(
        command, cwd=folder, capture_output=True, timeout=60, check=False, env=os.environ | env
    )


@pytest.mark.skipif(not Path("/dev/stdout").exists(), reason="this system has no /dev/stdout")
def test_a_table_goes_through_a_pipe(scene: Path) -> None:
    """`--csv /dev/stdout` gives the table and nothing else; what is said goes to standard error."""
    write_song(scene / "song.mid", (60, 100), seconds=0.5)
    done = output_of(scene, "render", "--midi-file", "song.mid", "--csv", "/dev/stdout", "--seconds", "0.5")
    assert done.returncode == 0, done.stderr
    rows = list(csv.reader(io.StringIO(done.stdout.decode("ascii"))))
    assert len(rows) == 1 + 21
    assert {len(row) for row in rows} == {129}
    assert b"21 frames" in done.stderr


def test_a_letter_that_the_output_lacks_ends_no_command(scene: Path) -> None:
    """A name with an accent is said as far as an ASCII terminal goes, and the command does its work."""
    rig = scene / "rig.yaml"
    rig.write_text(rig.read_text("utf-8").replace("One lamp a note", "Café — lamps"), "utf-8")
    done = output_of(scene, "check", PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert b"Caf? - lamps: 128 lamps" in done.stdout
