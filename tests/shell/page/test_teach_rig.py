"""Lessons in the rig file: lamps moved and lamps patched."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge.shell.files import read_rig
from bridge.shell.page import NewLamp, Teacher
from bridge.values.errors import FileError


@pytest.mark.parametrize(
    ("lamp", "owner", "new"),
    [
        ("door", "door", b"at: [3.5, 0.35]"),
        ("west.amber", "west", b"at: [-1, -0.25]"),
        ("roof.3.2", "roof", b"at: [0.5, 1.75]"),
    ],
)
def test_a_lamp_moves_with_what_it_hangs_on(
    folder: Path, teacher: Teacher, lamp: str, owner: str, new: bytes
) -> None:
    """A lamp's place is two numbers in the rig file; a head and a grid move as a whole."""
    path = folder / "rig.yaml"
    before = path.read_bytes()
    taught = teacher.write(teacher.move(lamp, 0.5, -0.25))
    (old_line,) = [line for line in before.splitlines() if f"name: {owner},".encode() in line]
    (new_line,) = [line for line in path.read_bytes().splitlines() if f"name: {owner},".encode() in line]
    assert new in new_line
    assert path.read_bytes() == before.replace(old_line, new_line)
    assert taught.rig is not None


@pytest.mark.parametrize(
    "text",
    [
        "lamps:\n  - {name: a, slot: 1}  # one\n",
        "lamps:\n  - name: a   # one\n    slot: 1\n  - {name: b, slot: 2}\n",
        "lamps:\n  - name: a\n    at:\n      - 0   # right\n      - 0   # up\n    slot: 1\n",
        "lamps:\r\n  - name: a\r\n    slot: 1\r\n",
        "lamp_types: {t: {parts: {red: {}, green: {at: [0, 1]}}}}\nlamps:\n  - {type: t, slot: 1, name: a}\n",
    ],
)
def test_a_lamp_without_a_place_gets_one(tmp_path: Path, text: str) -> None:
    """Whatever the style, the lamp hangs where it was dragged, and comments stay."""
    path = tmp_path / "rig.yaml"
    path.write_bytes(text.encode())
    small, _ = read_rig(path)
    teacher = Teacher(None, path, small)
    taught = teacher.write(teacher.move(small.lamps[0].name, 1.25, 2))
    assert taught.rig is not None
    assert taught.rig.lamps[0].at == pytest.approx((small.lamps[0].at[0] + 1.25, small.lamps[0].at[1] + 2))
    for comment in re.findall(r"# \w+", text):
        assert comment in path.read_text()


@pytest.mark.parametrize(
    ("lamp", "why"),
    [
        (NewLamp("door", 40, (0, 0)), "door"),
        (NewLamp("mast", 31, (0, 0)), "slot"),
        (NewLamp("mast", 40, (0, 0), kind="nothing"), "unknown lamp type|unknown type"),
        (NewLamp("", 40, (0, 0)), "empty"),
        (NewLamp("a\nb", 40, (0, 0)), "cannot be seen"),
        (NewLamp("mast, slot: 3}", 31, (0, 0)), "slot"),
    ],
)
def test_a_lamp_that_cannot_hang_is_refused(folder: Path, teacher: Teacher, lamp: NewLamp, why: str) -> None:
    """A name or slot that is taken, or a type that is not there: said in words, the file untouched."""
    before = (folder / "rig.yaml").read_bytes()
    with pytest.raises(FileError, match=why):
        teacher.patch(lamp)
    assert (folder / "rig.yaml").read_bytes() == before
