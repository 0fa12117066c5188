"""Collecting mistakes, and saying what was probably meant."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files.report import GUESSES, Place, Report, listed, quote
from bridge.values.errors import FileError


def test_mistakes_come_in_the_order_of_the_file_each_once() -> None:
    """Whatever the order in which they were found, mistakes are told by line and column, and not twice."""
    report = Report("a")
    for line, column in [(3, 1), (1, 9), (1, 2), (3, 1)]:
        report.error(Place(line, column), "wrong")
    with pytest.raises(FileError, match=r"^a:1:2: wrong\na:1:9: wrong\na:3:1: wrong$"):
        report.finish()


def test_warnings_alone_are_no_error() -> None:
    """Warnings come back where there are no mistakes, and stay out of the error where there are."""
    report = Report("a")
    report.warn(Place(2, 1), "odd", "do otherwise")
    assert [str(problem) for problem in report.finish()] == ["a:2:1: warning: odd; do otherwise"]
    report.error(Place(1, 1), "wrong")
    assert report.failed
    with pytest.raises(FileError, match=r"^a:1:1: wrong$"):
        report.finish()


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("sofft", "did you mean 'soft'? known: soft, hard, linear"),
        ("HARD", "did you mean 'hard'? known: soft, hard, linear"),
        ("xyz", "known: soft, hard, linear"),
    ],
)
def test_near_misses(word: str, near: str) -> None:
    """A slip of the pen or of the shift key finds the word; a strange word gets the list."""
    assert Report("a").near(word, ["soft", "hard", "linear"]) == near


def test_guessing_ends() -> None:
    """After many slips only the list is given, since comparing words is slow."""
    report = Report("a")
    told = [report.near("sofft", ["soft"]) for _ in range(GUESSES + 1)]
    assert told[-2:] == ["did you mean 'soft'? known: soft", "known: soft"]


@given(st.text(max_size=100))
def test_what_a_player_wrote_is_shown_on_one_line(text: str) -> None:
    """Any text is shown in quotes, on one line, without control characters, and not longer than 42."""
    shown = quote(text)
    assert shown.isprintable()
    assert len(shown) <= 42


@given(st.integers(0, 40), st.integers(1, 30))
def test_lists_are_counted_beyond_their_limit(count: int, limit: int) -> None:
    """So many names are shown, and the rest is a number."""
    text = listed([f"n{i}" for i in range(count)], limit)
    assert text.count("n") - text.count("and") == min(count, limit)
    assert text.endswith(f" and {count - limit} more") == (count > limit)
