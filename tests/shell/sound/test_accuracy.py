"""Strokes, beats and tempo of rendered songs; the bounds are those of the job.

Two short songs in the normal run; all twelve with LAMPWRIGHT_ACCURACY=1, and a table by `accuracy.py`.
"""

from __future__ import annotations

import os

import pytest

pytest.importorskip("mir_eval")
from tests.shell.sound.accuracy import Result, measure
from tests.shell.sound.songs import HELD_OUT, SECONDS, TUNED, can_render

ALL = os.environ.get("LAMPWRIGHT_ACCURACY") == "1"
SONGS = (*TUNED, *HELD_OUT) if ALL else ("funk", "shuffle")
LENGTH = SECONDS if ALL else 24.0


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Result]:
    """What was measured, by song."""
    if not can_render():
        reason = "FluidSynth or a sound font is missing (apt install fluidsynth timgm6mb-soundfont)"
        if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    folder = tmp_path_factory.mktemp("songs")
    return {name: measure(name, folder, LENGTH) for name in SONGS}


@pytest.mark.timeout(600)
def test_drums_are_heard(results: dict[str, Result]) -> None:
    """Strokes of drums: F at least 0.85 within 50 ms on the mean of the songs, 0.8 in each."""
    assert sum(one.drums for one in results.values()) / len(results) >= 0.85
    assert {name: one.drums for name, one in results.items() if one.drums < 0.8} == {}


def test_beats_are_followed_live(results: dict[str, Result]) -> None:
    """Beats without looking ahead, after 10 s: F at least 0.85 within 70 ms on the mean of the songs."""
    assert sum(one.live for one in results.values()) / len(results) >= 0.85


def test_beats_of_a_file_are_found(results: dict[str, Result]) -> None:
    """Beats of a whole file: F at least 0.9 within 70 ms on the mean of the songs."""
    assert sum(one.file for one in results.values()) / len(results) >= 0.9


def test_the_tempo_is_right(results: dict[str, Result]) -> None:
    """The tempo is within 4 % for at least nine beats of ten, on the mean of the songs."""
    assert sum(one.tempo for one in results.values()) / len(results) >= 0.9
