"""What a command must say, and with which exit code, when something in its surroundings is wrong."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke, rows_of
from tests.acceptance.programs import LAMPWRIGHT, NEEDS_POSIX, run
from tests.acceptance.scenes import write_song


@pytest.fixture
def song(scene: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A short song in the scene's folder, which is the current one."""
    monkeypatch.chdir(scene)
    return write_song(scene / "song.mid", (60, 100), seconds=0.3)


@NEEDS_POSIX
@pytest.mark.parametrize("command", [["demo"], ["play", "--midi-file", "song.mid"]])
def test_a_show_needs_no_standard_output(scene: Path, command: list[str]) -> None:
    """Started with its output closed, as launchers do, a show plays and ends well."""
    write_song(scene / "song.mid", (60, 100), seconds=0.1)
    line = subprocess.list2cmdline([*LAMPWRIGHT, *command, "--no-page", "--seconds", "0.2"])
    done = subprocess.run(
        ["sh", "-c", f"exec {line} >&-"], cwd=scene, capture_output=True, text=True, timeout=30, check=False
    )
    assert "Traceback" not in done.stderr
    assert done.returncode == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
@pytest.mark.parametrize("command", [["check"], ["schema", "rig"], ["ports"]])
def test_a_full_disk_for_what_is_said_is_one_line(scene: Path, command: list[str]) -> None:
    """Where what a command says finds no room it ends with code 1 and no traceback."""
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [*LAMPWRIGHT, *command],
            cwd=scene,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=30,
            check=False,
        )
    assert "Traceback" not in done.stderr
    assert done.returncode == 1


@NEEDS_POSIX
def test_an_output_that_never_worked_says_why_at_the_end(song: Path) -> None:
    """The last lines keep the reason and the remedy of an output that failed, and the exit code is 1."""
    done = run(
        "play",
        "--no-page",
        "--midi-file",
        song,
        "--seconds",
        "0.4",
        "--out",
        "packet:/dev/null",
        folder=song.parent,
    )
    last = done.stdout.splitlines()[-1]
    assert "failed" in last
    assert not last.endswith(": ended")
    assert done.returncode == 1


@pytest.mark.parametrize("place", ["missing/x.take", "."])
def test_a_recording_that_cannot_be_written_is_a_failure(song: Path, place: str) -> None:
    """A show whose take could not be written says so without our own words for it, and ends with code 1."""
    done = run(
        "play",
        "--no-page",
        "--midi-file",
        song,
        "--seconds",
        "0.3",
        "--record",
        place,
        folder=song.parent,
    )
    said = done.stdout + done.stderr
    assert "Error:" not in said
    assert done.returncode in (1, 2)


def test_a_length_beyond_all_numbers_is_refused(invoke: Invoke, song: Path) -> None:
    """`--seconds 1e308` is an answerable mistake, not a traceback."""
    done = invoke("render", "--midi-file", song, "--csv", "o.csv", "--seconds", "1e308")
    assert done.code == 2
    assert "seconds" in done.errors


@pytest.mark.parametrize(
    "option", [("--first", "nan"), ("--first", "inf"), ("--first", "1e308"), ("--beats", "inf")]
)
def test_a_grid_beyond_all_numbers_is_refused(invoke: Invoke, song: Path, option: tuple[str, str]) -> None:
    """`take align` answers a grid that cannot be with one line and code 2."""
    assert invoke("take", "import", song, "a.take").code == 0
    done = invoke("take", "align", "a.take", "b.take", "--tempo", "100", *option)
    assert done.code == 2
    assert done.errors.count("\n") == 1


@pytest.mark.parametrize("folder", ["song.mid", "x" * 300])
def test_new_in_a_place_that_cannot_be_a_folder(invoke: Invoke, song: Path, folder: str) -> None:
    """`new` names the folder that it cannot make, in one line."""
    assert song.exists()
    done = invoke("new", folder, "--yes")
    assert done.code in (1, 2)
    assert folder in done.errors


@pytest.mark.parametrize("given", [("--name", ""), ("--keyboard", ""), ("--watts", "9000")])
def test_new_writes_nothing_that_check_refuses(
    invoke: Invoke, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, given: tuple[str, str]
) -> None:
    """What `new` cannot write as good files it refuses."""
    monkeypatch.chdir(tmp_path)
    if invoke("new", "--yes", *given).code == 0:
        assert invoke("check", "--mapping", "mapping.yaml").code == 0


def test_render_never_writes_over_what_it_reads(invoke: Invoke, song: Path) -> None:
    """An output that is one of the inputs is refused before anything is written."""
    before = Path("rig.yaml").read_text("utf-8")
    done = invoke("render", "--midi-file", song, "--csv", "rig.yaml")
    assert Path("rig.yaml").read_text("utf-8") == before
    assert done.code == 2


def test_a_chase_step_beyond_all_counting_is_refused(
    invoke: Invoke, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A step too short to be counted is a mistake in the file; it never fails a frame."""
    monkeypatch.chdir(tmp_path)
    Path("rig.yaml").write_text("rig: r\nlamps: [{name: a, slot: 1}, {name: b, slot: 2}]\n", "utf-8")
    Path("mapping.yaml").write_text(
        "mapping: m\nchords: {shapes: [{chord: [0, 4], chase: [a, b], step_beats: 1e-308}]}\n", "utf-8"
    )
    song = write_song(tmp_path / "song.mid", (60, 100), (64, 100), seconds=0.3)
    done = invoke("render", "--midi-file", song, "--csv", "o.csv")
    assert done.code == 2
    assert "step_beats" in done.errors


def test_a_lamp_called_all_does_not_take_the_name_of_every_lamp(
    invoke: Invoke, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`all` is every lamp: a lamp of that name is refused as a group of that name is."""
    monkeypatch.chdir(tmp_path)
    Path("rig.yaml").write_text("rig: r\nlamps: [{name: all, slot: 1}, {name: b, slot: 2}]\n", "utf-8")
    assert invoke("check").code == 2


def test_a_replay_recorded_again_has_the_same_frames(song: Path) -> None:
    """Record, replay, record: both takes hold the same frames, none more."""
    folder = song.parent
    assert run("take", "import", song, "a.take", folder=folder).returncode == 0
    again = run("replay", "a.take", "--no-page", "--record", "b.take", folder=folder)
    assert again.returncode == 0, again.stderr
    for name in ("a", "b"):
        assert run("take", "export", f"{name}.take", f"{name}.csv", folder=folder).returncode == 0
    first, second = rows_of(folder / "a.csv"), rows_of(folder / "b.csv")
    assert len(second) == len(first)
