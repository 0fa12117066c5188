"""Lessons in the player's files: every other byte stays, the result is what was meant, undone it is gone."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import bridge.shell.page.edit as edit
from bridge.shell.files import mapping_from_text, read_mapping, read_rig, rig_from_text
from bridge.shell.page import Lesson, NewLamp, Teacher
from bridge.shell.page.lesson_text import names_for
from bridge.values.errors import FileError
from bridge.values.rig import Rig

DOOR = Lesson("note", 72, "light", ("door",))

RIG_TEXT = "lamps: [{name: a, slot: 1, at: [0, 0]}, {name: b, slot: 2, at: [1, 0]}]\n"


def added(before: bytes, after: bytes) -> list[bytes]:
    """The lines that are new; fails if any other line changed."""
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    extra, at = [], 0
    for line in new:
        if at < len(old) and line == old[at]:
            at += 1
        else:
            extra.append(line)
    assert at == len(old), old[at]
    return extra


@pytest.mark.parametrize(
    ("lesson", "line"),
    [
        (DOOR, "  - {notes: C5, lamps: door}"),
        (
            Lesson(
                "note",
                61,
                "light",
                ("door", "west.red"),
                source="piano",
                mode="shot",
                feel="bell",
                between=(0.2, 0.9),
            ),
            "  - {notes: C#4, from: piano, lamps: [door, west.red], mode: shot, feel: bell, "
            "between: [0.2, 0.9]}",
        ),
        (
            Lesson(
                "note",
                44,
                "light",
                ("roof.3.2", "roof.4.2", "roof.3.3", "roof.4.3"),
                source="pads",
                channel=10,
            ),
            "  - {notes: G#2, from: pads, channel: 10, lamps: heart}",
        ),
        (
            Lesson("control", 24, "level", ("door",), between=(0.0, 0.5)),
            "  - {control: 24, sets: level, lamps: door, between: [0, 0.5]}",
        ),
        (Lesson("bend", 0, "level", ("door",)), "  - {bend: true, sets: level, lamps: door}"),
        (Lesson("control", 7, "master"), "  - {control: 7, sets: master}"),
        (Lesson("note", 53, "blackout", source="pads"), "  - {notes: F3, from: pads, does: blackout}"),
        (Lesson("control", 80, "look", look="dusk"), "  - {control: 80, does: look, look: dusk}"),
        (Lesson("note", 54, "look", source="pads"), "  - {notes: F#3, from: pads, does: look, look: none}"),
        (Lesson("pressure", 0, "release_all"), "  - {pressure: true, does: release_all}"),
    ],
)
def test_a_lesson_is_one_line_more(
    folder: Path, rig: Rig, teacher: Teacher, lesson: Lesson, line: str
) -> None:
    """The rule stands at the end of its section, as a player would write it; every other byte stays."""
    path = folder / "mapping.yaml"
    before = path.read_bytes()
    taught = teacher.write(teacher.rule(lesson))
    assert added(before, path.read_bytes()) == [f"{line}\n".encode()]
    assert taught.mapping == read_mapping(path, rig)[0]
    teacher.undo()
    assert path.read_bytes() == before


MAPPINGS = {
    "nothing yet": "mapping: x\n",
    "no newline at the end": "mapping: x",
    "an empty section": "keys:\ncurve: soft\n",
    "an empty section with a comment": "keys:   # later\n  # - {notes: 1, lamps: a}\ncurve: soft\n",
    "null": "keys: null\ncurve: soft\n",
    "an empty list": "keys: []\n",
    "a flow list": "keys: [{notes: 1, lamps: a}, {notes: 2, lamps: b}]  # two\n",
    "a flow list over lines": "keys: [\n  {notes: 1, lamps: a},  # one\n  {notes: 2, lamps: b},  # two\n]\n",
    "all in flow": "{mapping: x, keys: [{notes: 1, lamps: a}]}\n",
    "all in flow, no keys": "{mapping: x}\n",
    "dashes at the edge": "keys:\n- notes: 1\n  lamps: a   # one\n# end\ncurve: soft\n",
    "dashes far in": "keys:\n      -   notes: 1\n          lamps: [a,\n           b]\n\n# end\ncurve: soft\n",
    "dash alone": "keys:\n  -\n    notes: 1\n    lamps: a\ncurve: soft\n",
    "windows": "# é\r\nkeys:\r\n  - {notes: 1, lamps: a}  # ü\r\n\r\ncurve: soft\r\n",
    "the section last": "curve: soft\nkeys:\n  - {notes: 1, lamps: a}\n  # the end",
    "indented": "  mapping: x\n  curve: soft\n",
    "document marks": "---\nkeys:\n  - {notes: 1, lamps: a}\n",
    "quoted keys": '"keys":\n  - {"notes": 1, "lamps": a}\n',
    "anchors": "keys:\n  - &one {notes: 1, lamps: a}\n  - notes: 2\n    lamps: &l [a, b]\n",
    "a folded text last": "keys:\n  - lamps: a\n    notes: >-\n      C4\n\n# after\ncurve: soft\n",
    "middle C": "middle_c: C3\nkeys:\n  - {notes: C3, lamps: a}\n",
}


@pytest.mark.parametrize("text", MAPPINGS.values(), ids=MAPPINGS)
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
def test_however_a_file_is_written(tmp_path: Path, text: str, bom: bytes) -> None:
    """Nothing is taken out, whatever the style; the rules that were there are there, and one more."""
    small, _ = rig_from_text(RIG_TEXT)
    path = tmp_path / "mapping.yaml"
    before = bom + text.encode()
    path.write_bytes(before)
    old, _ = mapping_from_text(text, small)
    teacher = Teacher(path, None, small)
    taught = teacher.write(teacher.rule(replace(DOOR, lamps=("b",))))
    after = path.read_bytes()
    assert taught.mapping is not None
    assert [rule.notes for rule in taught.mapping.keys] == [*(rule.notes for rule in old.keys), (72,)]
    # Only put in, but for a `null` that gives way.
    kept = before.replace(b"null", b"") if b"null" in before else before
    assert one_piece_more(kept, after)
    assert after.startswith(bom)
    assert b"\r\n" not in text.encode() or b"\n" not in after.replace(b"\r\n", b"")
    teacher.undo()
    assert path.read_bytes() == before


def one_piece_more(small: bytes, large: bytes) -> bool:
    """True if one piece put into `small` makes `large`."""
    extra = len(large) - len(small)
    return extra >= 0 and any(large[:at] + large[at + extra :] == small for at in range(len(small) + 1))


@pytest.mark.parametrize(
    "text",
    [
        "keys: &k\n  - {notes: 1, lamps: a}\nlooks: {x: {a: 1}}\n...\n",
        "looks: {x: &one {a: 1}}\nkeys:\n  - {notes: 1, lamps: a}\n  - &r {notes: 2, lamps: a}\n  - *r\n",
    ],
)
def test_where_no_place_is_sure_nothing_is_written(tmp_path: Path, text: str) -> None:
    """Aliases and the like: either the file says just one rule more, or it is refused and left alone."""
    small, _ = rig_from_text(RIG_TEXT)
    path = tmp_path / "mapping.yaml"
    path.write_text(text)
    teacher = Teacher(path, None, small)
    try:
        teacher.write(teacher.rule(replace(DOOR, lamps=("b",))))
    except FileError:
        assert path.read_text() == text
    else:
        assert len(read_mapping(path, small)[0].keys) == len(mapping_from_text(text, small)[0].keys) + 1


@pytest.mark.parametrize(
    ("lesson", "why"),
    [
        (replace(DOOR, lamps=()), "choose a lamp first"),
        (replace(DOOR, lamps=("nowhere",)), "no lamp 'nowhere'"),
        (replace(DOOR, source="organ"), "unknown input 'organ'"),
        (replace(DOOR, feel="}, evil: {"), "unknown feel"),
        (replace(DOOR, mode="shot"), "no decay|without a feel|has no decay"),
        (replace(DOOR, source="a\nkeys:"), "control characters|unknown input"),
        (Lesson("note", 60, "level", ("door",)), "a key lights lamps"),
        (Lesson("control", 60, "light", ("door",)), "a knob sets a level"),
        (Lesson("control", 120, "master"), "out of range"),
        (Lesson("note", 60, "look", look="dawn"), "unknown look 'dawn'"),
    ],
)
def test_what_makes_no_rule_is_not_written(folder: Path, teacher: Teacher, lesson: Lesson, why: str) -> None:
    """A lesson that is none, or that tries to be more than one, is refused in words; nothing is written."""
    before = (folder / "mapping.yaml").read_bytes()
    if lesson.mode == "shot":
        # The boathouse's usual feel has a decay: without one a shot cannot ring out.
        before = before.replace(b"feel: lamplight\n", b"", 1)
        (folder / "mapping.yaml").write_bytes(before)
    with pytest.raises(FileError, match=why):
        teacher.rule(lesson)
    assert (folder / "mapping.yaml").read_bytes() == before


names = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=12
).filter(
    lambda name: (
        name == name.strip()
        and name.isprintable()
        and "*" not in name
        and all(part.strip() for part in name.split("."))
    )
)


@given(names)
def test_any_name_is_written_so_that_it_is_read_again(name: str) -> None:
    """Hostile names (brackets, quotes, hashes, words of YAML) stay names within a list or table."""
    text = edit.flow({"name": name, "list": [name, 1, 0.25, True]})
    top = edit.top_of(text + "\n")
    assert edit.word(top, "name") == name
    found = edit.child(top, "list")
    assert found is not None
    assert [node.value for node in found[1].value] == [name, "1", "0.25", "true"]


@given(names)
def test_a_lamp_of_any_name_is_patched_and_taught(name: str) -> None:
    """A rig and a mapping take any name that they may hold, and nothing else with it."""
    import tempfile

    with tempfile.TemporaryDirectory() as place:
        rig_path, mapping_path = Path(place, "rig.yaml"), Path(place, "mapping.yaml")
        rig_path.write_text(RIG_TEXT)
        mapping_path.write_text("keys:\n  - {notes: 1, lamps: a}\n")
        small, _ = read_rig(rig_path)
        teacher = Teacher(mapping_path, rig_path, small)
        try:
            taught = teacher.write(teacher.patch(NewLamp(name, 9, (1.5, 2.0))))
        except FileError:
            # A name that is there already, or stands for others (`all`).
            assert rig_path.read_text() == RIG_TEXT
            return
        assert taught.rig is not None
        assert [lamp.name for lamp in taught.rig.lamps] == ["a", "b", name]
        teacher = Teacher(mapping_path, rig_path, taught.rig)
        rule = teacher.write(teacher.rule(replace(DOOR, lamps=(name,))))
        assert rule.mapping is not None
        assert rule.mapping.keys[1].lamps == ((2,),)


def test_a_file_saved_meanwhile_is_left_alone(folder: Path, teacher: Teacher) -> None:
    """Between reading and writing somebody saves: nothing is written; the next lesson stands on theirs."""
    path = folder / "mapping.yaml"
    draft = teacher.rule(DOOR)
    path.write_bytes(path.read_bytes() + b"tempo: 90\n")
    theirs = path.read_bytes()
    with pytest.raises(FileError, match="changed by somebody else"):
        teacher.write(draft)
    assert path.read_bytes() == theirs
    assert teacher.write(teacher.rule(DOOR)).mapping.tempo == 90  # type: ignore[union-attr]


def test_an_undo_never_takes_another_hands_work(folder: Path, teacher: Teacher) -> None:
    """A file changed since the lesson is not undone; put back as it was, it is."""
    path = folder / "mapping.yaml"
    before = path.read_bytes()
    teacher.write(teacher.rule(DOOR))
    ours = path.read_bytes()
    path.write_bytes(ours + b"# mine\n")
    with pytest.raises(FileError, match="changed by somebody else"):
        teacher.undo()
    path.write_bytes(ours)
    teacher.undo()
    assert path.read_bytes() == before
    with pytest.raises(FileError, match="nothing was taught"):
        teacher.undo()


def test_lessons_are_taken_back_one_by_one(folder: Path, teacher: Teacher) -> None:
    """Undo goes back through both files in the reverse order of the lessons."""
    mapping, rig_path = folder / "mapping.yaml", folder / "rig.yaml"
    states = [(mapping.read_bytes(), rig_path.read_bytes())]
    for draft in (
        lambda: teacher.rule(DOOR),
        lambda: teacher.move("door", 1, 0),
        lambda: teacher.rule(replace(DOOR, number=73)),
    ):
        teacher.write(draft())
        states.append((mapping.read_bytes(), rig_path.read_bytes()))
    for state in states[-2::-1]:
        teacher.undo()
        assert (mapping.read_bytes(), rig_path.read_bytes()) == state


def test_a_file_with_mistakes_is_mended_by_hand_first(folder: Path, teacher: Teacher) -> None:
    """Its mistakes are told with their places; nothing is written."""
    path = folder / "mapping.yaml"
    path.write_bytes(path.read_bytes().replace(b"feel: bell", b"feel: bel", 1))
    before = path.read_bytes()
    with pytest.raises(FileError, match=r"mapping.yaml:\d+:\d+: unknown feel 'bel'; did you mean 'bell'"):
        teacher.rule(DOOR)
    assert path.read_bytes() == before


def test_a_link_to_a_file_and_its_rights_stay(folder: Path, rig: Rig) -> None:
    """A file reached through a link is written where it is, with the rights it had."""
    if os.name == "nt":
        pytest.skip("links need rights there")
    real = folder / "mapping.yaml"
    real.chmod(0o640)
    link = folder / "link.yaml"
    link.symlink_to(real)
    teacher = Teacher(link, None, rig)
    teacher.write(teacher.rule(DOOR))
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert b"lamps: door}" in real.read_bytes()


def test_no_file_no_lesson(rig: Rig, tmp_path: Path) -> None:
    """A show without files of its own, and a file that is gone, are said to be so."""
    with pytest.raises(FileError, match="no mapping file"):
        Teacher(None, None, rig).rule(DOOR)
    with pytest.raises(FileError, match="cannot be read"):
        Teacher(None, tmp_path / "gone.yaml", rig).move("door", 1, 1)


def test_lamps_are_named_as_a_player_would(rig: Rig) -> None:
    """A group that has just these lamps, the shortest name of it; else one by one; one lamp by its name."""
    column = [f"roof.1.{row}" for row in range(1, 5)]
    cases: list[tuple[list[str], Any]] = [
        (column, "roof.1"),
        (["west.red", "east.red"], ["west.red", "east.red"]),
        (["west.amber", "east.amber"], "ambers"),
        ([lamp.name for lamp in rig.lamps], "all"),
        (["door", "door"], "door"),
    ]
    for lamps, wanted in cases:
        assert names_for(lamps, rig) == wanted
