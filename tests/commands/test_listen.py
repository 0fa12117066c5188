"""What `listen` says when it is done."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.commands.listen import of_whole_file, report, spans
from bridge.shell.sound.whole import find_beats
from bridge.values.sound import USUAL_HEARING, BeatHeard, Hearing, Onset, Sound
from tests.shell.sound.tones import beat_sound, write


def test_each_band_says_what_it_hears() -> None:
    """Bands are told by their hertz, however many there are."""
    assert spans(USUAL_HEARING) == ["under 250 Hz", "250 to 2500 Hz", "over 2500 Hz"]
    assert spans(Hearing(crossovers=(80.0,), bands=("low", "high"))) == ["under 80 Hz", "over 80 Hz"]


def test_the_report_says_how_hard_strokes_were() -> None:
    """Levels on average, strokes and the strength that half of them reach, for `least`; beats and tempo."""
    heard: list[Sound | Onset | BeatHeard] = [
        Sound(0.01, "x", (0.5, 0.0, 1.0)),
        Sound(0.02, "x", (0.7, 0.0, 1.0)),
    ]
    heard += [Onset(0.1 * n, "x", 0, 0.1 * n) for n in range(1, 8)]
    heard += [BeatHeard(0.5 * n, "x", bpm, 1.0) for n, bpm in enumerate((99.0, 120.0, 121.0))]
    lines = report(heard, USUAL_HEARING)
    assert lines[0] == "bass: level 0.60 on average, 7 strokes, half of them at 0.40 or harder"
    assert lines[1] == "middle: level 0.00 on average, 0 strokes"
    assert lines[3] == "beats: 3, at 120.0 a minute in the middle of them"
    assert report([], USUAL_HEARING)[3] == "beats: none found"


def test_a_file_known_as_a_whole_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Once a file's beats were found ahead, they are said in a line; before, nothing is."""
    for name in ("XDG_CACHE_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path))
    song = str(write(tmp_path / "song.wav", beat_sound(10.0)))
    assert of_whole_file(song) == ""
    beats = find_beats(song)
    said = of_whole_file(song)
    assert said.startswith(f"the whole file: {len(beats)} beats, the first at {beats[0][0]:.2f} s, 120.")
