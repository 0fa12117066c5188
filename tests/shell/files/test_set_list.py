"""The set list file: songs in order, every mistake at its place, missing files found before the evening."""

from __future__ import annotations

import os
import textwrap
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.files.set_list import read_set_list, set_list_from_text
from bridge.shell.files.set_list_model import SetFile
from bridge.values.errors import FileError, Problem
from bridge.values.set_list import SetList, SetSong
from tests.shell.files.cases import places

EVENING = """\
set: Lanterns on the quay
songs:
  - name: Walking in
    mapping: organ.yaml
    look: walkin
  - {name: 1984, mapping: organ.yaml, song: sound/waltz.flac, midi: waltz.mid, offset_ms: 40, look: walkin}
  - name: "Home"
    song: sound/home.wav
    take: takes/home.take
    offset_ms: -12.5
"""

FILES = ("organ.yaml", "sound/waltz.flac", "waltz.mid", "sound/home.wav", "takes/home.take")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with every file that the evening names."""
    for name in FILES:
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"")
    return tmp_path


def mistakes(text: str, folder: Path, skip_missing: bool = False) -> list[str]:
    """Everything wrong with a set list, one line each."""
    with pytest.raises(FileError) as caught:
        set_list_from_text(textwrap.dedent(text), folder, "evening.yaml", skip_missing)
    return [str(problem) for problem in caught.value.problems]


def test_an_evening_is_read(folder: Path) -> None:
    """Songs in order with all they say; paths from the set list's folder, times in seconds, no warnings."""
    path = folder / "evening.yaml"
    path.write_text(EVENING)
    evening, warnings = read_set_list(path)
    assert warnings == []
    organ = str(folder / "organ.yaml")
    assert evening == SetList(
        "Lanterns on the quay",
        (
            SetSong("Walking in", mapping=organ, look="walkin"),
            SetSong(
                "1984",
                mapping=organ,
                song=str(folder / "sound/waltz.flac"),
                midi=str(folder / "waltz.mid"),
                offset=0.04,
                look="walkin",
            ),
            SetSong(
                "Home",
                song=str(folder / "sound/home.wav"),
                take=str(folder / "takes/home.take"),
                offset=-0.0125,
            ),
        ),
    )
    assert evening.playable == evening.songs
    assert evening.file == str(path)


def test_paths_do_not_depend_on_where_the_command_runs(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From any folder, by any spelling of its own path, the same files are found; absolute ones are kept."""
    (folder / "evening.yaml").write_text("songs: [{name: a, song: sound/home.wav}]")
    monkeypatch.chdir(folder / "takes")
    evening, _ = read_set_list(Path("..") / "evening.yaml")
    assert Path(evening.songs[0].song).samefile(folder / "sound/home.wav")
    there = folder / "sound" / "home.wav"
    evening, _ = set_list_from_text(f"songs: [{{name: a, song: '{there}'}}]", Path("nowhere"))
    assert evening.songs[0].song == str(there)


def test_every_mistake_is_told_at_its_place(folder: Path) -> None:
    """All at once, in the order of the file, with what would be right."""
    known = "name, mapping, song, midi, take, offset_ms, look"
    assert mistakes(
        """\
        set: []
        songs:
          - {nmae: Walking in, look: walkin}
          - {name: a, offset_ms: soon, song: sound/home.wav}
          - {name: b, offset_ms: 100000, song: sound/home.wav}
          - just a name
          - {name: "", mapping: [organ.yaml]}
          - {name: c, take: takes/home.take, midi: waltz.mid}
        sogns: []
        """,
        folder,
    ) == [
        "evening.yaml:1:6: set is a list; give the evening's name",
        "evening.yaml:3:5: a song has no key 'name'; write name: … (what the song is called)",
        f"evening.yaml:3:6: unknown key 'nmae'; did you mean 'name'? known here: {known}",
        "evening.yaml:4:26: offset_ms is the text 'soon'; give a number from -60000 to 60000",
        "evening.yaml:5:26: offset_ms 100000 is out of range; give a number from -60000 to 60000",
        "evening.yaml:6:5: a song is written as keys and values, not as the text 'just a name'; "
        "write {name: …}",
        "evening.yaml:7:12: name is empty; give the song's name",
        "evening.yaml:7:25: mapping is a list; give a file's name",
        "evening.yaml:8:15: the song 'c' has both a midi file and a take to play its lamps; "
        "keep one of them: a take holds the notes that were played",
        "evening.yaml:9:1: unknown key 'sogns'; did you mean 'songs'? known here: set, songs",
    ]


MISSING = """\
songs:
  - {name: a, mapping: ¶orgon.yaml}
  - name: b
    song: ¶sound\\home.wav
    midi: ¶sound
  - {name: c, take: ¶elsewhere/x.take, mapping: ¶orgon.yaml}
"""


def test_files_that_are_not_there_are_mistakes(folder: Path) -> None:
    """Each at its place, with what was probably meant; the same one again is told again."""
    text, marks = places(MISSING)
    meant = (
        "there is no file 'orgon.yaml'; did you mean 'organ.yaml'? a path is taken from the folder of the set"
    )
    said = [
        f"mapping: {meant} list",
        "song: there is no file 'sound\\home.wav'; write folders with '/', which every system understands",
        "midi: 'sound' is a folder; give the name of the file in it",
        "take: there is no file 'elsewhere/x.take'; there is no folder 'elsewhere' either",
        f"mapping: {meant} list",
    ]
    assert mistakes(text, folder) == [
        f"evening.yaml:{line}:{column}: {what}" for (line, column), what in zip(marks, said, strict=True)
    ]


def test_on_the_evening_a_song_without_its_file_is_left_out(folder: Path) -> None:
    """A warning before the show; the song stays in its place, marked, and the others can be played."""
    (folder / "waltz.mid").unlink()
    (folder / "sound" / "waltz.flac").unlink()
    path = folder / "evening.yaml"
    text, marks = places(EVENING.replace("sound/waltz", "¶sound/waltz").replace("waltz.mid", "¶waltz.mid"))
    path.write_text(text)
    evening, warnings = read_set_list(path, skip_missing=True)
    assert [song.missing for song in evening.songs] == [(), ("song", "midi"), ()]
    assert [song.name for song in evening.playable] == ["Walking in", "Home"]
    assert [(problem.line, problem.column) for problem in warnings] == marks
    assert all(problem.warning for problem in warnings)
    assert warnings[0].what == "the song '1984' is left out: song: there is no file 'sound/waltz.flac'"
    line, column = marks[0]
    with pytest.raises(FileError, match=f"{line}:{column}: song: there is no file 'sound/waltz.flac'"):
        read_set_list(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_no_file(folder: Path) -> None:
    """A pipe would hold up the evening for ever."""
    os.mkfifo(folder / "pipe.wav")
    assert mistakes("songs: [{name: a, song: pipe.wav}]", folder) == [
        "evening.yaml:1:25: song: 'pipe.wav' is not a plain file; give the name of a file"
    ]


def test_what_is_odd_is_a_warning(folder: Path) -> None:
    """An offset with nothing to be heard, and an evening without songs."""
    _, warnings = set_list_from_text("songs: [{name: a, offset_ms: 5}, {name: b}]", folder, "evening.yaml")
    assert [str(problem) for problem in warnings] == [
        "evening.yaml:1:19: warning: the song 'a' has an offset_ms and no sound to be in time with; "
        "give 'song:', or take it out"
    ]
    for text in ("set: Empty", "songs:\n", "songs: []"):
        evening, warnings = set_list_from_text(text, folder)
        assert evening.songs == ()
        assert [problem.what for problem in warnings] == ["the set list has no songs"]


def test_what_shows_later_is_told_at_its_place_too(folder: Path) -> None:
    """A finding about a key points at its value; about a key the song does not have, at the song's name."""
    text, [name, look] = places(EVENING.replace("1984", "¶1984").replace("walkin}", "¶walkin}"))
    evening, _ = set_list_from_text(text, folder, "evening.yaml")
    waltz = evening.songs[1]
    assert evening.problem(waltz, "look", "unknown look 'walkin'", "known: dim") == Problem(
        *look, "unknown look 'walkin'", "known: dim", "evening.yaml"
    )
    assert evening.problem(waltz, "take", "odd", warning=True) == Problem(
        *name, "odd", "", "evening.yaml", warning=True
    )


def test_a_file_that_is_none_is_one_clear_mistake(tmp_path: Path) -> None:
    """No file, a folder, no YAML, no table: one line each."""
    for make, words in [
        (lambda _path: None, "there is no such file"),
        (lambda path: path.mkdir(), "this is a folder"),
        (lambda path: path.write_text("songs: [{"), "never closed|not closed"),
        (lambda path: path.write_text("- a\n"), "the file holds a list"),
        (lambda path: path.write_bytes(b"\xff\xfe\0"), "not UTF-8|not a text file"),
    ]:
        path = tmp_path / f"{abs(hash(words))}.yaml"
        make(path)
        with pytest.raises(FileError, match=words):
            read_set_list(path)


def test_the_schema_takes_what_is_read_and_refuses_what_is_not() -> None:
    """The JSON Schema of the model: editors complete and check by it."""
    schema = SetFile.model_json_schema(by_alias=True)
    jsonschema.Draft202012Validator.check_schema(schema)
    check = jsonschema.Draft202012Validator(schema)
    song = {
        "name": 1984,
        "song": "a.wav",
        "offset_ms": -5,
        "midi": "a.mid",
        "look": "dim",
        "mapping": "m.yaml",
    }
    assert check.is_valid({"set": "Evening", "songs": [song, {"name": "b", "take": "b.take"}]})
    for wrong in ({"songs": [{"song": "a.wav"}]}, {"songs": [{"name": "a", "sogn": "b"}]}, {"songs": {}}):
        assert not check.is_valid(wrong)
    assert all("description" in value for value in schema["$defs"]["SongEntry"]["properties"].values())


keys = st.sampled_from(["name", "song", "midi", "take", "mapping", "offset_ms", "look", "set", "songs", "x"])
scalars = st.sampled_from(
    ["a", "1", "-5", "''", "[]", "{}", "~", "true", "organ.yaml", "'a\\0b'", "..", "/", "a: b", "*"]
)
lines = st.builds(
    lambda indent, dash, key, value: f"{indent}{dash}{key}: {value}",
    st.sampled_from(["", "  ", "    "]),
    st.sampled_from(["", "- "]),
    keys,
    scalars,
)


@given(st.lists(lines, max_size=8).map("\n".join) | st.text(max_size=60))
@settings(max_examples=200)
def test_any_text_is_a_set_list_or_the_one_error(text: str) -> None:
    """Whatever is written: songs with names, or a FileError whose every line says what and in which file."""
    try:
        evening, warnings = set_list_from_text(text, ".", "evening.yaml", skip_missing=True)
    except FileError as error:
        problems = list(error.problems)
    else:
        assert all(song.name for song in evening.songs)
        problems = warnings
    assert all(problem.what and problem.file == "evening.yaml" for problem in problems)
