"""What must hold in a running show: a house that hangs, mappings saved, a program that plays into us."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import mido

from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, NEEDS_PROC, InTerminal, Piped, house_of, until
from tests.acceptance.scenes import SACN, picture, write_song

NOTES = {60: 100}

pytestmark = [NEEDS_POSIX, NEEDS_PROC]


def test_a_house_that_hangs_keeps_no_lamp_lit(scene: Path, wire: Ear) -> None:
    """Ctrl-C blacks out at once even when the house is stopped, and the end comes within 2 s."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with Piped("play", "--no-page", "--midi-file", song, "--out", SACN, folder=scene) as show:
        wire.shows(picture(NOTES))
        house = until(lambda: house_of(show.pid), "the house is there")
        os.kill(house, signal.SIGSTOP)
        asked = time.monotonic()
        show.signal(signal.SIGINT)
        wire.shows(picture({}))
        assert time.monotonic() - asked < 0.5
        assert show.ended(2.0) == 130


def test_a_dead_house_leaves_the_terminal_usable(scene: Path) -> None:
    """A show that ends while its house is dead gives back the cursor and the screen that was there before."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with InTerminal("play", "--no-page", "--midi-file", song, "--out", "memory", folder=scene) as show:
        show.shows("Ctrl-C ends")
        house = until(lambda: house_of(show.pid), "the house is there")
        os.kill(house, signal.SIGKILL)
        show.type(b"\x03")
        assert show.ended(3.0) == 130
        assert show.raw.count("\x1b[?1049h") == show.raw.count("\x1b[?1049l")
        assert show.raw.count("\x1b[?25l") <= show.raw.count("\x1b[?25h")


def strokes(path: Path, seconds: float, **programs: float) -> Path:
    """Note 60 four times a second, and program changes a, b ... (0, 1 ...) at the given seconds."""
    song, track = mido.MidiFile(type=0, ticks_per_beat=500), mido.MidiTrack()
    song.tracks.append(track)
    messages = []
    for number in range(int(seconds * 4)):
        messages.append((number * 250, mido.Message("note_on", note=60, velocity=127)))
        messages.append((number * 250 + 200, mido.Message("note_off", note=60)))
    for name, moment in programs.items():
        messages.append((round(moment * 1000), mido.Message("program_change", program=ord(name[0]) - 97)))
    before = 0
    for at, message in sorted(messages, key=lambda pair: pair[0]):
        track.append(message.copy(time=at - before))
        before = at
    song.save(path)
    return path


def one_key(folder: Path, name: str, lamp: str) -> None:
    """A mapping of one key and one lamp."""
    (folder / name).write_text(
        f"mapping: {name}\nkeys: [{{notes: 60, lamps: {lamp}, velocity: 1..127}}]\n", "utf-8"
    )
