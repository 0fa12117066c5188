"""A Bach chorale through `render`, beside the piano roll that pretty_midi draws of the same file."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pretty_midi
import pytest

from tests.acceptance.chorale import chorale, write_chorale
from tests.acceptance.programs import run
from tests.acceptance.scenes import slot_value

HZ = 40


@pytest.fixture
def rendered(scene: Path) -> tuple[np.ndarray, np.ndarray]:
    """(ours, theirs): slot values 0..255, shape (frames, 128 notes)."""
    song = write_chorale(scene / "chorale.mid")
    done = run("render", "--midi-file", song, "--csv", "out.csv", folder=scene)
    assert done.returncode == 0, done.stderr
    with open(scene / "out.csv", encoding="utf-8", newline="") as file:
        head, *table = csv.reader(file)
    assert head == ["seconds", *(f"1.{note + 1}" for note in range(128))]
    assert [float(row[0]) for row in table] == pytest.approx([k / HZ for k in range(len(table))])
    ours = np.array([[int(cell) for cell in row[1:]] for row in table])

    voices = [one.get_piano_roll(fs=HZ) for one in pretty_midi.PrettyMIDI(str(song)).instruments]
    assert len(voices) == 4
    # One roll for each channel, the highest of them for a lamp: a sum would add two voices on one pitch.
    roll = np.zeros((128, len(ours)))
    for voice in voices:
        # Not longer but by the frame in which the last chord ends.
        assert voice.shape[1] <= len(ours)
        roll[:, : voice.shape[1]] = np.maximum(roll[:, : voice.shape[1]], voice)
    values = np.array([slot_value(velocity) for velocity in range(128)])
    return ours, values[roll.T.astype(int)]


def test_the_frames_are_the_piano_roll(rendered: tuple[np.ndarray, np.ndarray]) -> None:
    """Every slot of every frame is the velocity in the piano roll, but for one frame where a note turns."""
    ours, theirs = rendered
    lit = len({(one.channel, one.note, one.begins) for one in chorale()})
    assert lit == 163
    padded = np.pad(theirs, ((1, 1), (0, 0)), mode="edge")
    near = [padded[:-2], theirs, padded[2:]]
    allowed = np.any([ours == one for one in near], axis=0)
    assert allowed.all(), np.argwhere(~allowed)[:10]
    # The frame that may differ lies at an edge, and at most one does at each.
    edges = np.count_nonzero(np.diff(theirs, axis=0))
    differ = np.count_nonzero(ours != theirs)
    assert differ <= edges
    assert np.count_nonzero(theirs) > 10 * edges


def test_unisons_of_two_voices_are_there_to_be_merged() -> None:
    """The chorale holds what the comparison is for: two voices at once on one pitch, and repeated pitches."""
    sung = chorale()
    unisons = [
        (one, other)
        for one in sung
        for other in sung
        if one.channel < other.channel
        and one.note == other.note
        and one.begins < other.ends
        and other.begins < one.ends
    ]
    repeats = [
        (one, other)
        for one in sung
        for other in sung
        if one.channel == other.channel and one.note == other.note and one.ends == other.begins
    ]
    assert len(unisons) == 9
    assert len(repeats) == 23
