"""What a terminal can show: whether it is drawn on, and what stands for a letter it has not."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.terminal import BARS
from bridge.shell.tty import NEAREST, any_letter, can_draw


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """Yes."""
        return True


@pytest.mark.parametrize(
    ("term", "drawn"),
    [("xterm-256color", True), ("", True), ("dumb", False), ("Dumb", False), ("unknown", False)],
)
def test_a_dumb_terminal_is_not_drawn_on(monkeypatch: pytest.MonkeyPatch, term: str, drawn: bool) -> None:
    """A terminal that cannot move its cursor gets lines, as a file does."""
    monkeypatch.setenv("TERM", term)
    assert can_draw(Screen()) is drawn
    assert not can_draw(io.StringIO())


def written(text: str, encoding: str) -> str:
    """A text as it arrives through a stream of an encoding."""
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    any_letter(stream)
    stream.write(text)
    stream.flush()
    return raw.getvalue().decode(encoding)


def test_ascii_keeps_the_shape_of_a_picture() -> None:
    """Each step of a lamp's bar has a sign of its own, one column wide."""
    shown = written(BARS, "ascii")
    assert len(set(shown)) == len(BARS) == len(shown)
    assert shown.isascii()
    assert written("a … b → c", "ascii") == "a ... b -> c"


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-8"])
def test_an_encoding_keeps_what_it_has(encoding: str) -> None:
    """Only letters that are missing are replaced."""
    for letter in ("é", "·", "…", "█"):
        try:
            letter.encode(encoding)
        except UnicodeEncodeError:
            assert written(letter, encoding) == NEAREST.get(letter, "?")
        else:
            assert written(letter, encoding) == letter


@given(st.text(st.characters(codec=None)), st.sampled_from(["ascii", "cp437", "utf-8"]))
def test_no_text_is_an_error(text: str, encoding: str) -> None:
    """Any text, halves of surrogate pairs from odd file names too, can be written to any terminal."""
    assert len(written(text, encoding)) >= len(text.replace("\r", ""))
