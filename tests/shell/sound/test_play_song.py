"""The program itself: a song and a rig, and no mapping at all."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np

from bridge.core.engine import Engine
from bridge.shell.files import read_rig
from bridge.shell.files.mapping import mapping_from_text
from bridge.shell.loop import offline
from bridge.shell.takes.feeds import EventFeed
from bridge.shell.takes.reader import Take
from bridge.values.sound import BeatHeard, Onset, Sound
from tests.shell.sound.tones import beat_sound, write

RIG = Path(__file__).parents[3] / "examples" / "boathouse" / "rig.yaml"


def test_a_song_plays_a_rig_without_a_mapping_and_the_take_plays_it_again(tmp_path: Path) -> None:
    """Lamps move with the song; the take holds what was heard, and its mapping, and gives the same frames."""
    shutil.copy(RIG, tmp_path / "rig.yaml")
    write(tmp_path / "song.wav", beat_sound(5.0))
    command = [sys.executable, "-m", "bridge", "play", "--song", "song.wav", "--seconds", "5", "--no-page"]
    ran = subprocess.run(
        [*command, "--record", "song.take", "--out", "memory"],
        cwd=tmp_path,
        env={**os.environ, "XDG_CACHE_HOME": str(tmp_path / "cache"), "JACK_NO_START_SERVER": "1"},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ran.returncode == 0, ran.stderr
    assert "the music plays the lamps" in ran.stdout
    with Take(tmp_path / "song.take") as take:
        rig, _ = read_rig(RIG)
        mapping, _ = mapping_from_text(take.header.mapping, rig)
        feed, kinds = EventFeed(take), {type(event) for event in EventFeed(take).take(10.0)}
        frames = [frame for _, frame, _ in offline(Engine(rig, mapping), [feed], 40, 180)]
    assert {Sound, Onset, BeatHeard} <= kinds
    lit = np.array([frame.slots[0][:31].astype(int).sum() for frame in frames])
    assert lit[60:].max() > 1000
    assert lit[60:].min() < lit[60:].max() / 3
