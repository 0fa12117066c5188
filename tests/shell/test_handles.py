"""The limit of open files, told from every other error."""

from __future__ import annotations

import errno

import pytest

from bridge.shell.handles import explain, used_up


@pytest.mark.parametrize(
    ("error", "is_it"),
    [
        (OSError(errno.EMFILE, "of this program"), True),
        (OSError(errno.ENFILE, "of the system"), True),
        (OSError(errno.ENOENT, "no such file"), False),
        (ValueError(errno.EMFILE), False),
    ],
)
def test_only_the_limit_counts(error: Exception, is_it: bool) -> None:
    """EMFILE is the program's limit and ENFILE the system's (POSIX errno); nothing else is meant."""
    assert used_up(error) is is_it


def test_the_words_say_what_came_of_it_and_what_to_do() -> None:
    """The consequence and a remedy stand in one line."""
    assert str(explain("it cannot start")).startswith("too many open files, so it cannot start; end other")
