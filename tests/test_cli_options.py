"""What every command shares: which error ends it with which code, and how."""

from __future__ import annotations

import io
import os
import sys

import pytest
import typer

from bridge.cli_options import guarded
from tests.acceptance.programs import NEEDS_POSIX


def ends(error: BaseException) -> int:
    """The exit code of a command whose work ends so."""

    def work() -> int:
        raise error

    with pytest.raises(typer.Exit) as ended:
        guarded(work)
    return int(ended.value.exit_code)


def test_a_broken_pipe_elsewhere_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the reader of standard output may leave in silence; any other pipe that breaks is a fault."""
    # Not by a fixture: pytest puts its own in place between that and the test.
    errors = io.StringIO()
    monkeypatch.setattr(sys, "stderr", errors)
    with pytest.raises(BrokenPipeError, match="the house"):
        guarded(lambda: (_ for _ in ()).throw(BrokenPipeError("the house")))
    assert not errors.closed


@NEEDS_POSIX
def test_a_reader_that_left_ends_a_command_in_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nobody reads standard output any more, that is the end, with code 1 and no word."""
    errors = io.StringIO()
    monkeypatch.setattr(sys, "stderr", errors)
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w", buffering=1, closefd=False) as out:
        monkeypatch.setattr(sys, "stdout", out)
        with pytest.raises(BrokenPipeError) as broken:
            print("a line", flush=True)
        assert ends(broken.value) == 1
        assert errors.closed
        # Let what waits go somewhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), writing)
    os.close(writing)
