"""Terminals that can show less than most: no movements of the cursor, or no letters but those of ASCII."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acceptance.programs import NEEDS_POSIX, InTerminal
from tests.acceptance.scenes import write_song


@pytest.fixture
def show(scene: Path) -> list[object]:
    """A command line that plays a song in the scene's folder."""
    write_song(scene / "song.mid", (0, 127), (5, 40), seconds=60.0)
    return ["play", "--no-page", "--midi-file", "song.mid"]


@NEEDS_POSIX
@pytest.mark.timeout(60)
def test_a_dumb_terminal_gets_lines_from_the_beginning(scene: Path, show: list[object]) -> None:
    """Where nothing can be drawn, what is played is said at once and not only at the end."""
    with InTerminal(*show, folder=scene, env={"TERM": "dumb"}) as running:
        running.shows("Plain: 128 lamps, 40 frames a second")
        running.shows("out: nowhere")
        assert "\x1b" not in running.raw


@NEEDS_POSIX
@pytest.mark.timeout(60)
def test_an_ascii_terminal_is_drawn_on_in_ascii(scene: Path, show: list[object]) -> None:
    """A terminal without our letters shows the rig by others, and the house does not die of it."""
    env = {"PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    with InTerminal(*show, folder=scene, env=env) as running:
        running.shows("One lamp a note")
        running.shows("###")
        running.shows("Ctrl-C ends")
        assert running.raw.isascii()
        assert "Traceback" not in running.raw
