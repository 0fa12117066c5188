"""What a player does wrong on the first evening: one clear line each, exit code 2, no traceback."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke
from tests.acceptance.programs import run
from tests.acceptance.scenes import write_song

CASES = {
    "no rig here": (["play"], None, ["rig.yaml: there is no such file"]),
    "a rig that is elsewhere": (["check", "--rig", "nowhere/rig.yaml"], None, ["nowhere/rig.yaml"]),
    "a mapping that is elsewhere": (["play", "--mapping", "other.yaml"], "scene", ["other.yaml"]),
    "a song that is elsewhere": (["play", "--midi-file", "song.mid"], "scene", ["song.mid"]),
    "a song that is none": (["play", "--midi-file", "rig.yaml"], "scene", ["rig.yaml", "MThd"]),
    "a folder for a file": (["check", "--rig", "."], "scene", ["."]),
    "a kind of output that is none": (["play", "--out", "sacm:1.2.3.4/1"], "scene", ["did you mean 'sacn'"]),
    "an output without a port": (
        ["play", "--out", "break:"],
        "scene",
        ["names no port", "break:/dev/ttyUSB0"],
    ),
    "a universe that is none": (["play", "--out", "sacn:127.0.0.1/0"], "scene", ["1 to 63999"]),
    "nothing to render to": (["render", "--midi-file", "song.mid"], "song", ["--csv FILE"]),
    "a schema of what is none": (["schema", "mappings"], None, ["did you mean mapping?"]),
    "nothing to identify": (["identify"], "scene", ["--out"]),
    "a command that is none": (["plya"], None, ["plya", "play"]),
    "an option that is none": (["play", "--rigg", "rig.yaml"], "scene", ["--rigg", "--rig"]),
    "a number that is none": (["demo", "--seconds", "ten"], None, ["Invalid value", "--seconds"]),
    "less than no time": (["demo", "--seconds", "-1"], None, ["Invalid value", "--seconds"]),
    "a typo in the rig": (["check"], "typo", ["rig.yaml:2:", "refresh_hz", "did you mean"]),
    "two typos": (
        ["check", "--mapping", "mapping.yaml"],
        "typos",
        ["mapping.yaml:3:7: unknown feel", "mapping.yaml:5:11: unknown key"],
    ),
}


def prepare(folder: Path, needs: str | None) -> None:
    """Make the folder as the case wants it: empty, with a song, or with typos in its files."""
    if needs is None:
        for name in ("rig.yaml", "mapping.yaml"):
            (folder / name).unlink()
    elif needs == "song":
        write_song(folder / "song.mid", (60, 100))
    elif needs == "typo":
        rig = (folder / "rig.yaml").read_text("utf-8").replace("refresh_hz", "refesh_hz")
        (folder / "rig.yaml").write_text(rig, "utf-8")
    elif needs == "typos":
        mapping = (folder / "mapping.yaml").read_text("utf-8")
        mapping = mapping.replace("feel: plain", "feel: plane").replace("attack_ms", "atack_ms")
        (folder / "mapping.yaml").write_text(mapping, "utf-8")


@pytest.mark.parametrize("case", CASES)
def test_a_mistake_says_what_would_be_right(
    scene: Path, monkeypatch: pytest.MonkeyPatch, invoke: Invoke, case: str
) -> None:
    """Exit code 2; stderr names what was wrong and what would be right; stdout stays empty."""
    args, needs, says = CASES[case]
    prepare(scene, needs)
    monkeypatch.chdir(scene)
    done = invoke(*args)
    assert done.code == 2, done.out + done.errors
    assert done.out == ""
    for text in says:
        assert text in done.errors
    assert "Traceback" not in done.errors


@pytest.mark.parametrize("case", ["no rig here", "a kind of output that is none", "an option that is none"])
def test_so_it_is_on_a_real_command_line(scene: Path, case: str) -> None:
    """A process of its own ends in the same way."""
    args, needs, says = CASES[case]
    prepare(scene, needs)
    done = run(*args, folder=scene)
    assert (done.returncode, done.stdout) == (2, "")
    assert all(text in done.stderr for text in says)
