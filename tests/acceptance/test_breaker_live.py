"""What must hold in a running show: a house that hangs, mappings saved again, a program that plays into us."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import mido
import pytest
import rtmidi

from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, NEEDS_PROC, InTerminal, Piped, house_of, until
from tests.acceptance.scenes import SACN, picture, write_scene, write_song
from tests.shell.jack import JACK, hushed

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


def test_saving_one_of_several_mappings_changes_that_one_only(scene: Path, wire: Ear) -> None:
    """Each of several mappings is in force as last saved, and saving one does not switch to it."""
    song = strokes(scene / "song.mid", 30.0, b=1.0, a=8.0)
    one_key(scene, "a.yaml", "lamps.1.1")
    one_key(scene, "b.yaml", "lamps.2.1")
    command = ["play", "--no-page", "--midi-file", song, "--mapping", "a.yaml", "--mapping", "b.yaml"]
    first, second, third = ({number: 127} for number in range(3))
    with Piped(*command, "--out", SACN, folder=scene) as show:
        wire.shows(picture(first))
        wire.shows(picture(second))
        one_key(scene, "a.yaml", "lamps.3.1")
        seen = set()
        end = time.monotonic() + 3.0
        while time.monotonic() < end:
            seen.add(wire.take().dmxData)
        assert picture(third) not in seen, "a.yaml was saved while b.yaml is in force"
        until(lambda: wire.take().dmxData in (picture(first), picture(third)), "program 1 brings a.yaml")
        wire.shows(picture(third), seconds=2.0)
        assert show.process.poll() is None


@pytest.mark.usefixtures("jack")
def test_a_program_that_plays_into_our_port_is_heard_once(scene: Path, wire: Ear) -> None:
    """What another program sends to our own port counts once, and is let go when that program vanishes."""
    write_scene(scene)
    with Piped("play", "--no-page", "--out", SACN, folder=scene) as show:
        show.says("in: Lampwright")
        wire.shows(picture({}))
        with hushed():
            other = rtmidi.MidiOut(JACK, name="Workstation")
        port = next(n for n, name in enumerate(other.get_ports()) if "Lampwright" in name)
        other.open_port(port)
        seen = len(wire.raw)
        until(lambda: wire.take() and len(wire.raw) > seen + 120, "three seconds to look for ports")
        assert "in: Workstation" not in show.out
        other.send_message([0x90, 60, 100])
        wire.shows(picture(NOTES))
        with hushed():
            other.close_port()
            other.delete()
        wire.shows(picture({}), seconds=5.0)
