"""What may stand in a page that is handed around."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.report.facts import LONGEST, plain, this_machine


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("cannot open /home/anna/shows/dmx: gone", "cannot open dmx: gone"),
        (r"cannot open C:\Users\Anna Lee\show.yaml", r"cannot open Anna Lee\show.yaml"),
        ("serial /dev/ttyUSB0 break", "serial /dev/ttyUSB0 break"),
        ("a line in /etc/security/limits.d", "a line in /etc/security/limits.d"),
        ("sacn 127.0.0.1 universe 1/2", "sacn 127.0.0.1 universe 1/2"),
        ("two\nlines\x1b[31m and a \u202eturn", "two lines [31m and a turn"),
        ("half \ud800 a letter", "half a letter"),
    ],
)
def test_no_folders_and_no_tricks(text: str, said: str) -> None:
    """Folders go, devices and advice stay; controls and marks that turn a line around go."""
    assert plain(text) == said


def test_neither_home_nor_user_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """The player's home, spaces and all, and the player's name."""
    monkeypatch.setenv("HOME", "/home/anna lee")
    monkeypatch.setenv("USERPROFILE", "/home/anna lee")
    for name in ("LOGNAME", "USER", "LNAME", "USERNAME"):
        monkeypatch.setenv(name, "annalee")
    assert str(Path.home()) == "/home/anna lee"
    assert plain("/home/anna lee/x.yaml is not annalee's") == "~/x.yaml is not you's"


@given(st.text(max_size=900))
def test_any_text_is_one_line_of_letters(text: str) -> None:
    """Whatever comes, it can be written as UTF-8, has no control in it, and is no longer than that."""
    said = plain(text)
    said.encode("utf-8")
    assert not [letter for letter in said if unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp")]
    assert len(said) <= LONGEST
    assert plain(said) == said


def test_the_machine_is_named_without_its_name() -> None:
    """System, Python and cores, not the name of the computer."""
    import platform

    machine = this_machine()
    assert platform.system() in machine.system
    assert machine.python == platform.python_version()
    assert machine.cores >= 1
