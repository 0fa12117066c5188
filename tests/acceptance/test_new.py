"""What `new` asks and writes: files that check and play, whatever was answered."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke, core_yaml, rows_of
from tests.acceptance.scenes import write_song

NAMES = [
    "Plain",
    'the "old" lamps',
    "it's",
    "two\nlines",
    "Käthe's Lämpchen 灯",
    "#1: [x] {y}",
    "a\\b",
    "yes",
    "null",
    "12",
]


OUTS = [
    *("none", "sacn:127.0.0.1/1", "sacn:/7", "sacn:[::1]/63999", "artnet:10.0.0.2/0", "artnet:node/32767"),
    *("break:/dev/ttyUSB0", "packet:COM3", "break:auto", "memory"),
]


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Callable[[list[str]], Iterator[str]]:
    """Answers the questions one after the other; what is left over was not asked for."""

    def answer(lines: list[str]) -> Iterator[str]:
        left = iter(lines)
        monkeypatch.setattr("builtins.input", lambda _question: next(left))
        return left

    return answer


def check_and_render(invoke: Invoke, folder: Path) -> list[list[str]]:
    """The two files of a folder stand up to `check`, and play a song; the rows it gave."""
    rig, mapping = folder / "rig.yaml", folder / "mapping.yaml"
    song = write_song(folder / "song.mid", (48, 127), seconds=0.5)
    done = invoke("check", "--rig", rig, "--mapping", mapping)
    assert done.code == 0, done.errors
    args = ["--rig", rig, "--mapping", mapping, "--midi-file", song, "--csv", folder / "out.csv"]
    done = invoke("render", *args)
    assert done.code == 0, done.errors
    return rows_of(folder / "out.csv")


@pytest.mark.parametrize(
    ("columns", "rows"), [(1, 1), (2, 1), (1, 2), (6, 4), (512, 1), (1, 512), (16, 32), (27, 3)]
)
def test_new_writes_files_that_play_whatever_the_size(
    tmp_path: Path, invoke: Invoke, columns: int, rows: int
) -> None:
    """From one lamp to a full universe: no mistakes, and the first key lights the first lamp."""
    done = invoke("new", tmp_path / "x", "--columns", columns, "--rows", rows, "--yes")
    assert done.code == 0, done.errors
    table = check_and_render(invoke, tmp_path / "x")
    assert len(table[0]) == 1 + columns * rows
    assert int(table[4][1]) > 0
    assert set(table[4][2:]) <= {"0"}


@pytest.mark.parametrize("name", NAMES)
def test_new_writes_files_that_play_whatever_the_name(tmp_path: Path, invoke: Invoke, name: str) -> None:
    """Quotes, line breaks and signs that mean something in YAML are a name like any other."""
    done = invoke("new", tmp_path / "x", "--name", name, "--keyboard", name, "--yes")
    assert done.code == 0, done.errors
    check_and_render(invoke, tmp_path / "x")
    shown = " ".join(name.split("\n"))
    assert core_yaml(tmp_path / "x" / "rig.yaml")["rig"] == shown


@pytest.mark.parametrize("option", ["--name", "--keyboard"])
@pytest.mark.parametrize("text", ["", " ", "\n"])
def test_new_never_writes_a_file_that_it_would_not_read(
    tmp_path: Path, invoke: Invoke, option: str, text: str
) -> None:
    """An empty name is refused or replaced, but not written into a file that `check` refuses."""
    done = invoke("new", tmp_path / "x", option, text, "--yes")
    if done.code == 0:
        check_and_render(invoke, tmp_path / "x")
    else:
        assert done.code == 2
        assert not (tmp_path / "x").exists()


@pytest.mark.parametrize(
    ("out", "watts"),
    list(product(OUTS, ["0.1", "1000"])),
)
def test_new_writes_files_that_play_whatever_the_output(
    tmp_path: Path, invoke: Invoke, out: str, watts: str
) -> None:
    """Every kind of output and every wattage gives a rig that reads, and that names the output as asked."""
    done = invoke("new", tmp_path / "x", "--out", out, "--watts", watts, "--yes")
    assert done.code == 0, done.errors
    check_and_render(invoke, tmp_path / "x")
    outputs = core_yaml(tmp_path / "x" / "rig.yaml").get("outputs")
    assert (outputs is None) == (out == "none")


def test_new_asks_six_questions(
    tmp_path: Path, invoke: Invoke, typed: Callable[[list[str]], Iterator[str]]
) -> None:
    """Enter takes what is proposed; an answer is taken as given; nothing more is asked."""
    left = typed(["Shed", "3", "", "2,5", "none", "any", "seventh"])
    done = invoke("new", tmp_path / "x")
    assert done.code == 0
    assert list(left) == ["seventh"]
    rig = core_yaml(tmp_path / "x" / "rig.yaml")
    assert (rig["rig"], rig["grids"][0]["columns"], rig["grids"][0]["rows"]) == ("Shed", 3, 4)
    assert rig["lamp_types"]["lamp"]["watts"] == 2.5
    check_and_render(invoke, tmp_path / "x")


@pytest.mark.parametrize("there", ["rig.yaml", "mapping.yaml"])
def test_new_never_overwrites(tmp_path: Path, invoke: Invoke, there: str) -> None:
    """Where one of the files is, nothing is written, not even the other."""
    (tmp_path / there).write_text("mine", "utf-8")
    done = invoke("new", tmp_path, "--yes")
    assert done.code == 2
    assert f"{there} is there already" in done.errors
    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--columns", "513"], "--columns"),
        (["--columns", "0"], "--columns"),
        (["--columns", "512", "--rows", "2"], "one universe has 512"),
        (["--watts", "0"], "watts"),
        (["--watts", "nan"], "watts"),
        (["--watts", "1e300"], "watts"),
        (["--out", "nowhere"], "sacn:HOST/1"),
        (["--out", "artnet:/0"], "names no host"),
    ],
)
def test_new_refuses_what_cannot_be(tmp_path: Path, invoke: Invoke, options: list[str], says: str) -> None:
    """Exit code 2, what is wrong with which option, and no file."""
    done = invoke("new", tmp_path / "x", *options, "--yes")
    assert done.code == 2
    assert says in done.errors
    assert not (tmp_path / "x").exists()


def test_the_files_of_new_play(tmp_path: Path, invoke: Invoke) -> None:
    """The line that `new` proposes for playing does play."""
    folder = tmp_path / "x"
    said = invoke("new", folder, "--yes").out
    options = f"--rig {folder / 'rig.yaml'} --mapping {folder / 'mapping.yaml'}"
    assert f"lampwright play {options}" in said
    song = write_song(tmp_path / "song.mid", (48, 127))
    done = invoke(
        "play", "--no-page", *options.split(), "--midi-file", song, "--out", "memory", "--seconds", 0.2
    )
    assert done.code == 0
    assert done.errors == ""
