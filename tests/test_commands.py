"""Knows: what every command promises to whoever types it: help, exit codes, files written, words said.

Most run inside this process, as the console script would run them; what is about the process runs in one.
"""

from __future__ import annotations

import importlib.metadata
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from bridge import __main__ as program
from bridge import cli
from tests.acceptance.inside import Invoke, core_yaml, invoke, rows_of
from tests.acceptance.scenes import write_scene, write_song
from tests.shell.jack import Keyboard, jack_server

ROOT = Path(__file__).parent.parent
BOATHOUSE = ROOT / "examples" / "boathouse"
COMMANDS = [
    command.name or command.callback.__name__ for command in cli.app.registered_commands if command.callback
]
__all__ = ["invoke"]
SHIPPED = {
    "rig": [BOATHOUSE / "rig.yaml"],
    "mapping": [BOATHOUSE / "mapping.yaml", *sorted((ROOT / "mappings").glob("*.yaml"))],
}


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The current folder, with a rig, a mapping and a song of one second."""
    write_scene(tmp_path)
    write_song(tmp_path / "song.mid", (60, 100), seconds=1.0)
    monkeypatch.chdir(tmp_path)
    return tmp_path


# ---- help and the console script


def test_the_commands_are_those_of_the_design() -> None:
    """Nothing that users and tests may rely on is missing."""
    assert {"demo", "new", "play", "render", "check", "identify", "ports", "schema"} <= set(COMMANDS)


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_answers(command: str) -> None:
    """Every command tells how it is used, on stdout, with exit code 0."""
    args = [sys.executable, "-m", "bridge", *([command] if command else []), "--help"]
    done = subprocess.run(args, capture_output=True, text=True, encoding="utf-8", timeout=30, check=False)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "Usage:" in done.stdout
    assert all(name in done.stdout for name in ([command] if command else COMMANDS))


def test_help_loads_nothing_heavy() -> None:
    """Help imports neither numpy nor what reads files, or it would not be there within 0.3 s."""
    heavy = "{'numpy', 'pydantic', 'rtmidi', 'PIL', 'mido', 'serial', 'yaml', 'multiprocessing'}"
    code = f"import sys, bridge.cli; print({heavy} & set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=30, check=True
    )
    assert done.stdout == "set()\n"


def test_the_console_script_is_this_command() -> None:
    """The distribution installs `lampwright`."""
    (script,) = importlib.metadata.entry_points(group="console_scripts", name="lampwright")
    assert script.load() is program.main


# ---- demo, play, identify


def test_the_demo_ends_when_told(invoke: Invoke) -> None:
    """`--seconds` ends it with exit code 0, having said how it went and what comes next."""
    done = invoke("demo", "--no-page", "--seconds", 0.3)
    assert done.code == 0
    assert done.errors == ""
    assert "12 frames, none left out" in done.out or "left out" in done.out
    assert "lampwright new" in done.out


@pytest.mark.usefixtures("scene")
def test_play_takes_the_files_of_the_folder(invoke: Invoke) -> None:
    """Without `--rig` and `--mapping` it plays rig.yaml and mapping.yaml from where it is."""
    done = invoke("play", "--no-page", "--midi-file", "song.mid", "--out", "memory", "--seconds", 0.2)
    assert done.code == 0
    assert done.errors == ""
    assert "Plain: 128 lamps, 40 frames a second" in done.out
    assert "out: memory" in done.out


@pytest.mark.usefixtures("scene")
def test_play_says_that_this_machine_lights_nothing(invoke: Invoke) -> None:
    """An output that ends inside the machine is warned of."""
    done = invoke(
        "play", "--no-page", "--midi-file", "song.mid", "--out", "sacn:127.0.0.1/1", "--seconds", 0.1
    )
    assert done.code == 0
    assert "lights nothing outside it" in done.out


@pytest.mark.usefixtures("scene")
def test_a_dead_output_does_not_end_the_show(invoke: Invoke) -> None:
    """The show is played to its end; what failed is said there, with what to do, and by the exit code."""
    done = invoke(
        "play", "--no-page", "--midi-file", "song.mid", "--out", "break:/dev/no-such-port", "--seconds", 0.3
    )
    assert done.code == 1
    assert "/dev/no-such-port" in done.out
    assert "failed" in done.out


def test_identify_walks_the_lamps_in_order(tmp_path: Path, invoke: Invoke) -> None:
    """Each lamp is named with its slot as it lights, in the order of the rig file."""
    rig = tmp_path / "rig.yaml"
    rig.write_text(
        "rig: Three\nlamp_types: {plain: {watts: 1}}\nlamps:\n"
        "  - {name: last, type: plain, at: [2, 0], slot: 9}\n"
        "  - {name: first, type: plain, at: [0, 0], slot: 1}\n"
        "  - {name: wide, type: plain, at: [1, 0], slot: 4, bits: 16}\n",
        "utf-8",
    )
    done = invoke("identify", "--rig", rig, "--out", "memory", "--each", 0.1)
    assert done.code == 0, done.errors
    lines = [line for line in done.out.splitlines() if " of 3: " in line]
    assert lines == [
        "1 of 3: last, universe 1 slot 9",
        "2 of 3: first, universe 1 slot 1",
        "3 of 3: wide, universe 1 slot 4 and 5",
    ]


# ---- render


def test_render_writes_what_it_is_asked_for(scene: Path, invoke: Invoke) -> None:
    """Table, chart and animation in one go, each a file of its kind; the same input gives the same bytes."""
    kinds = {"csv": "out.csv", "png": "out.png", "gif": "out.gif"}
    options = [text for kind, name in kinds.items() for text in (f"--{kind}", name)]
    assert invoke("render", "--midi-file", "song.mid", *options).code == 0
    with Image.open("out.png") as chart, Image.open("out.gif") as film:
        assert (chart.format, film.format) == ("PNG", "GIF")
        assert film.n_frames > 1  # type: ignore[attr-defined]
    once = {name: Path(name).read_bytes() for name in kinds.values()}
    assert invoke("render", "--midi-file", "song.mid", *options).code == 0
    assert {name: Path(name).read_bytes() for name in kinds.values()} == once
    assert sorted(path.name for path in scene.iterdir()) == sorted(
        ["mapping.yaml", "rig.yaml", "song.mid", *kinds.values()]
    )


@pytest.mark.usefixtures("scene")
@pytest.mark.parametrize(("seconds", "frames"), [("0.5", 21), ("3", 121)])
def test_render_is_as_long_as_told(invoke: Invoke, seconds: str, frames: int) -> None:
    """A frame at 0 and one each 25 ms until the end, the song's own end or not."""
    done = invoke("render", "--midi-file", "song.mid", "--csv", "out.csv", "--seconds", seconds)
    assert done.code == 0
    rows = rows_of(Path("out.csv"))
    assert len(rows) == frames
    assert float(rows[-1][0]) == pytest.approx(float(seconds))


@pytest.mark.usefixtures("scene")
@pytest.mark.parametrize("seconds", ["inf", "1e400"])
def test_render_has_an_end(invoke: Invoke, seconds: str) -> None:
    """For ever is no length for a file, and is refused."""
    done = invoke("render", "--midi-file", "song.mid", "--csv", "out.csv", "--seconds", seconds)
    assert done.code == 2
    assert done.errors
    assert not Path("out.csv").exists()


@pytest.mark.usefixtures("scene")
def test_render_lasts_until_the_lamps_are_dark(invoke: Invoke) -> None:
    """Without `--seconds` the last row is dark, and the row after the song's beginning is not."""
    assert invoke("render", "--midi-file", "song.mid", "--csv", "out.csv").code == 0
    rows = rows_of(Path("out.csv"))
    assert set(rows[-1][1:]) == {"0"}
    assert set(rows[1][1:]) != {"0"}


@pytest.mark.usefixtures("scene")
def test_render_that_cannot_write_leaves_what_was_there(invoke: Invoke) -> None:
    """No such folder: exit code 1 and what to do. A song that fails leaves the table of before."""
    done = invoke("render", "--midi-file", "song.mid", "--csv", "nowhere/out.csv")
    assert done.code == 1
    assert "cannot write nowhere/out.csv" in done.errors
    Path("out.csv").write_text("the table of before", "utf-8")
    Path("broken.mid").write_bytes(Path("song.mid").read_bytes()[:-7])
    done = invoke("render", "--midi-file", "broken.mid", "--csv", "out.csv")
    assert done.code == 2
    assert "broken.mid" in done.errors
    assert Path("out.csv").read_text("utf-8") == "the table of before"


# ---- schema, check


@pytest.mark.parametrize("kind", SHIPPED)
def test_the_schema_takes_the_shipped_files(invoke: Invoke, kind: str) -> None:
    """What is printed is a JSON Schema of draft 2020-12 that takes every file we ship, and no typo."""
    done = invoke("schema", kind)
    assert done.code == 0
    schema = json.loads(done.out)
    Draft202012Validator.check_schema(schema)
    reader = Draft202012Validator(schema)
    assert SHIPPED[kind]
    for path in SHIPPED[kind]:
        content = core_yaml(path)
        assert [error.message for error in reader.iter_errors(content)] == []
        assert not reader.is_valid(content | {"lampz": []})


@pytest.mark.parametrize("mapping", SHIPPED["mapping"], ids=lambda path: path.stem)
def test_check_is_content_with_the_shipped_files(invoke: Invoke, mapping: Path) -> None:
    """No mistake and no warning; every lamp with its slot, the rate the line allows, and the cautions."""
    done = invoke("check", "--rig", BOATHOUSE / "rig.yaml", "--mapping", mapping)
    assert done.code == 0
    assert done.errors == ""
    assert "Boathouse lamps: 31 lamps on 1 universe" in done.out
    assert "warning" not in done.out
    assert "24: roof.6.4" in done.out
    assert "31: door" in done.out
    assert "seizures" in done.out


@pytest.mark.usefixtures("scene")
def test_check_reads_both_files_of_the_folder(invoke: Invoke) -> None:
    """Alone in a folder it checks rig.yaml and, where there is one, mapping.yaml."""
    assert "mapping.yaml: Plain: 1 rule" in invoke("check").out
    Path("mapping.yaml").unlink()
    done = invoke("check")
    assert done.code == 0
    assert "mapping.yaml" not in done.out


@pytest.mark.usefixtures("scene")
def test_check_refuses_more_than_the_line_can_carry(invoke: Invoke) -> None:
    """512 slots allow 44.1 frames a second (ANSI E1.11: 1 s / (92 + 12 + 44 x 513) us), 45 are too many."""
    text = Path("rig.yaml").read_text("utf-8").replace("slot: 1}", "slot: 385}")
    for rate, code in (("44", 0), ("45", 2)):
        Path("rig.yaml").write_text(text.replace("refresh_hz: 40", f"refresh_hz: {rate}"), "utf-8")
        done = invoke("check")
        assert done.code == code, done.out + done.errors
    assert "44" in done.errors


# ---- ports


def ports(**environment: str) -> subprocess.CompletedProcess[str]:
    """Runs the command in a process of its own: the sound library would not let go of a server in ours."""
    args = [sys.executable, "-m", "bridge", "ports"]
    env = os.environ | environment
    return subprocess.run(
        args, capture_output=True, text=True, encoding="utf-8", timeout=30, env=env, check=False
    )


def test_ports_answers_where_nothing_is() -> None:
    """Without a sound system it says what is missing and how to get it, and no library prints a word."""
    done = ports(JACK_DEFAULT_SERVER="lampwright-nobody", JACK_NO_START_SERVER="1")
    assert done.returncode == 0
    assert done.stderr == ""
    for title in ("MIDI inputs", "Serial ports", "Sound devices"):
        assert title in done.stdout
    assert "JACK does not answer; start jackd" in done.stdout


def test_ports_gives_the_line_to_paste() -> None:
    """A keyboard that is there is listed with the words that name it in a command."""
    with jack_server(), Keyboard("stand", "stand piano"):
        done = ports()
    assert done.returncode == 0
    assert done.stderr == ""
    (line,) = (line for line in done.stdout.splitlines() if "stand piano" in line and "--midi-in" in line)
    assert line.strip().startswith("stand piano")
