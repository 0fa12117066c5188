"""Beats of a file with librosa, without it, and with one that does not work."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from bridge.parts.beats import whole
from bridge.shell.sound.second_opinion import beats_by_librosa, version
from bridge.shell.sound.whole import strokes_of
from tests.shell.sound.songs import Truth, can_render, render
from tests.shell.sound.tones import beat_sound, write

pytest.importorskip("mir_eval")
from tests.shell.sound.accuracy import beat_f, tempo_share

HIDDEN = """
import importlib.metadata, sys
known = importlib.metadata.version
def version(name):
    if name == "librosa":
        raise importlib.metadata.PackageNotFoundError(name)
    return known(name)
importlib.metadata.version = version
sys.modules["librosa"] = None
"""
"""As `sitecustomize`: a Python in which librosa is not installed."""


Beats = list[tuple[float, float]]


@dataclass(frozen=True)
class Song:
    """A song, what is true of it, the beats found with librosa, and where those are kept."""

    path: Path
    truth: Truth
    beats: Beats
    kept: str


@pytest.fixture(scope="module")
def punk(tmp_path_factory: pytest.TempPathFactory) -> Song:
    """A quick song whose beats our own finder takes for half as many."""
    missing = [] if version() else ["librosa (pip install 'lampwright[sound]')"]
    if not can_render():
        missing.append("FluidSynth or a sound font (apt install fluidsynth timgm6mb-soundfont)")
    if missing:
        reason = f"missing: {', '.join(missing)}"
        if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    path, truth = render("punk", tmp_path_factory.mktemp("songs"), 30.0)
    return Song(path, truth, *found(path, tmp_path_factory.mktemp("cache")))


def found(song: Path, cache: Path, shadow: Path | None = None) -> tuple[Beats, str]:
    """The beats that the program of its own finds and keeps, and the name of what it keeps."""
    env = {**os.environ, "XDG_CACHE_HOME": str(cache), "HOME": str(cache), "LOCALAPPDATA": str(cache)}
    if shadow is not None:
        env["PYTHONPATH"] = os.pathsep.join([str(shadow), env.get("PYTHONPATH", "")])
    command = [sys.executable, "-m", "bridge.shell.sound.whole", str(song)]
    subprocess.run(command, env=env, check=True, capture_output=True, timeout=100)
    (kept,) = cache.rglob("beats/*.json")
    return [(at, bpm) for at, bpm in json.loads(kept.read_text("utf-8"))["beats"]], kept.name


@pytest.mark.timeout(200)
def test_with_librosa_a_song_that_we_take_at_half_its_tempo_is_right(punk: Song) -> None:
    """F at least 0.9 within 70 ms and every tempo within 4 %; our own finder alone has F under 0.75."""
    ours = [at for at, _ in whole(strokes_of(punk.path))]
    assert beat_f(punk.truth.beats, [at for at, _ in punk.beats]) >= 0.9
    assert tempo_share(punk.truth, punk.beats) == 1.0
    assert beat_f(punk.truth.beats, ours) < 0.75


def test_both_kinds_of_beats_are_kept_apart(punk: Song, tmp_path: Path) -> None:
    """What was found without librosa is not taken for what is found with it, nor the other way round."""
    (tmp_path / "sitecustomize.py").write_text(HIDDEN)
    beats, kept = found(punk.path, tmp_path / "cache", tmp_path)
    assert kept != punk.kept
    assert beats == [(round(at, 4), round(bpm, 3)) for at, bpm in whole(strokes_of(punk.path))]


@pytest.mark.parametrize("shadow", ["sitecustomize", "librosa"])
def test_without_librosa_or_with_a_broken_one_the_beats_are_ours(shadow: str, tmp_path: Path) -> None:
    """No librosa, or one that cannot be loaded: the beats are what our own finder says, to the digit kept."""
    song = write(tmp_path / "song.wav", beat_sound(12.0))
    (tmp_path / "shadow").mkdir()
    text = HIDDEN if shadow == "sitecustomize" else "raise ImportError('half installed')\n"
    (tmp_path / "shadow" / f"{shadow}.py").write_text(text)
    beats, _ = found(song, tmp_path / "cache", tmp_path / "shadow")
    assert beats == [(round(at, 4), round(bpm, 3)) for at, bpm in whole(strokes_of(song))]
    assert len(beats) > 12


def test_silence_has_no_beats(tmp_path: Path) -> None:
    """Of a silent file it says nothing, and does not fail."""
    assert beats_by_librosa(write(tmp_path / "quiet.wav", np.zeros((44100, 2)))) == []


def test_neither_the_show_nor_the_analysis_loads_librosa() -> None:
    """It is loaded by the program that analyses a file ahead, and there only once a file is analysed."""
    code = (
        "import sys, bridge.cli, bridge.app, bridge.commands.play, bridge.commands.listen,"
        " bridge.shell.sound.worker, bridge.shell.sound.whole;"
        "sys.exit('librosa' in sys.modules or 'numba' in sys.modules)"
    )
    assert find_spec("bridge") is not None
    assert subprocess.run([sys.executable, "-c", code], timeout=60).returncode == 0
