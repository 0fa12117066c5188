"""A show is killed, every process of it: the next of the same files is where it was, within half a second."""

from __future__ import annotations

import json
import signal
import time
from pathlib import Path
from typing import Any

import mido
import pytest

from bridge.shell.bookmark import cache_folder
from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, Piped, run, until
from tests.acceptance.scenes import SACN, write_scene
from tests.shell.jack import JackServer, Keyboard

MAPPING = """\
mapping: Plain
feels:
  slow: {attack_ms: 0, decay_ms: 100, sustain: 0.5, release_ms: 0}
keys:
  - {notes: 0..99, lamps: lamps, spread: each, mode: latch, feel: slow}
looks:
  walkin: {lamps.16.8: 0.4}
controls:
  - {control: 21, sets: master}
  - {control: 22, sets: level, lamps: lamps.15.8}
  - {notes: 110, does: look, look: walkin, fade_ms: 0}
  - {notes: 111, does: blackout, toggle: true}
"""

PLAYED = [
    mido.Message("note_on", note=10, velocity=127),
    mido.Message("note_off", note=10),
    mido.Message("note_on", note=11, velocity=64),
    mido.Message("control_change", control=21, value=102),
    mido.Message("control_change", control=22, value=127),
    mido.Message("note_on", note=110, velocity=100),
]

MASTER = 102 / 127
STOOD = {10: 0.5 * MASTER, 11: 0.5 * 64 / 127 * MASTER, 126: MASTER, 127: 0.4 * MASTER}
"""Slot from 0 -> level: linear drive, the sustain of the feel, all under the master."""

WITHIN = 0.5
"""Seconds from the first packet of a show to the picture that stood."""

pytestmark = NEEDS_POSIX


def slots(levels: dict[int, float]) -> tuple[int, ...]:
    out = [0] * 512
    for slot, level in levels.items():
        out[slot] = int(level * 255 + 0.5)
    return tuple(out)


@pytest.fixture
def latching(tmp_path: Path) -> Path:
    """A folder with a rig and a mapping that latches, and a MIDI file that plays it and then waits."""
    write_scene(tmp_path)
    (tmp_path / "mapping.yaml").write_text(MAPPING, "utf-8")
    song = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack()
    song.tracks.append(track)
    track += [*PLAYED, mido.MetaMessage("text", text="", time=480 * 240)]
    song.save(tmp_path / "song.mid")
    return tmp_path


NO_JACK = {"JACK_DEFAULT_SERVER": "lampwright-none", "JACK_NO_START_SERVER": "1"}
"""Not that of another test: a JACK server in its synchronous mode waits long for clients that were killed."""


def play(folder: Path, *more: object, out: str = SACN, env: dict[str, str] | None = None) -> Piped:
    env = NO_JACK if env is None else env
    return Piped("play", "--no-page", "--out", out, *more, folder=folder, env=env)


LIVE = ("--midi-in", "nothing of that name")
FILE = ("--midi-file", "song.mid")


def marks() -> list[dict[str, Any]]:
    found = []
    for path in sorted(cache_folder().glob("show-*.json")):
        found.append(json.loads(path.read_text("utf-8")))
    return found


def marked(*what: str) -> None:
    """Wait until these kinds of mark stand in one file."""
    until(
        lambda: any(set(what) <= {mark[0] for mark in found["marks"]} for found in marks()),
        f"{what} are marked",
    )


def kill(show: Piped) -> None:
    """End every process of a show, as a power cut does."""
    show.signal(signal.SIGKILL, group=True)
    show.process.wait()


def comes_back(wire: Ear, stood: tuple[int, ...]) -> None:
    """The next show's picture: no brighter on its way than where it ends, and soon there."""
    first = wire.take()
    begun = time.monotonic()
    shown = first.dmxData
    while shown != stood:
        assert time.monotonic() - begun < WITHIN, f"not there: {[v for v in shown if v]}"
        assert all(now <= then for now, then in zip(shown, stood, strict=True))
        shown = wire.take().dmxData


def test_pads_and_knobs_come_back_and_a_clean_end_forgets(
    latching: Path, wire: Ear, jack: JackServer
) -> None:
    """Played through JACK, killed, begun again: the same picture; ended by Ctrl-C, begun again: dark.

    The server goes with the show, as in a power cut.
    """
    with Keyboard("pads", "pads out") as pads, play(latching, "--midi-in", "pads", env={}) as show:
        show.says("in: pads out")
        wire.shows(slots({}))
        pads.play(*(message.bytes() for message in PLAYED))
        wire.shows(slots(STOOD))
        marked("latch", "set master", "set level", "look")
        kill(show)
        jack.stop()
    wire.rest()
    jack.start()
    with Keyboard("pads", "pads out") as pads:
        with play(latching, "--midi-in", "pads", env={}) as show:
            comes_back(wire, slots(STOOD))
            show.says("found where the show was at")
            show.says("master 80 %, look walkin, 2 latched, 1 setting; play --fresh begins anew")
            show.says("in: pads out")
            pads.play([0x90, 10, 90])
            wire.shows(slots({slot: level for slot, level in STOOD.items() if slot != 10}))
            show.signal(signal.SIGINT)
            assert show.ended(5.0) == 130
        assert marks() == []
        wire.rest()
        with play(latching, "--midi-in", "pads", env={}) as show:
            show.says("in: pads out")
            wire.shows(slots({}))
            assert "found where" not in show.out


@pytest.mark.parametrize("again", [LIVE, FILE], ids=["by hand", "the file again"])
def test_what_a_file_played_comes_back_once(latching: Path, wire: Ear, again: tuple[str, ...]) -> None:
    """Killed while a file played: a show by hand is where it was, and so is the file begun anew.

    The file presses its keys again: latches that had come back would be put out by that.
    """
    with play(latching, *FILE) as show:
        wire.shows(slots(STOOD))
        marked("latch", "set master", "set level", "look")
        kill(show)
    wire.rest()
    with play(latching, *again) as show:
        if again == LIVE:
            comes_back(wire, slots(STOOD))
        else:
            wire.shows(slots(STOOD))
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130


def test_fresh_begins_anew_and_so_does_rubbish(latching: Path, wire: Ear) -> None:
    """`--fresh` and a mark that cannot be read: dark, and at full master."""
    for way in ("--fresh", "rubbish"):
        with play(latching, *FILE) as show:
            wire.shows(slots(STOOD))
            marked("latch")
            kill(show)
        wire.rest()
        if way == "rubbish":
            for path in cache_folder().glob("show-*.json"):
                path.write_text('{"version": 1, "marks": [[')
        with play(latching, *LIVE, *(["--fresh"] if way == "--fresh" else [])) as show:
            assert wire.take().dmxData == slots({})
            show.signal(signal.SIGINT)
            assert show.ended(5.0) == 130
        assert "found where" not in show.out
        wire.rest()


def test_a_blackout_does_not_come_back_and_nothing_lights_up(latching: Path, wire: Ear) -> None:
    """Killed in the dark: dark, and a key lights its lamp at once, under the master that stood."""
    song = mido.MidiFile(latching / "song.mid")
    song.tracks[0].insert(len(PLAYED), mido.Message("note_on", note=111, velocity=1, time=0))
    song.save(latching / "dark.mid")
    with play(latching, "--midi-file", "dark.mid") as show:
        marked("dark", "latch")
        kill(show)
    wire.rest()
    key = mido.MidiFile(type=0)
    key.tracks.append(mido.MidiTrack([mido.Message("note_on", note=20, velocity=127, time=960)]))
    key.tracks[0].append(mido.Message("note_off", note=20, time=96000))
    key.save(latching / "key.mid")
    with play(latching, "--midi-file", "key.mid") as show:
        show.says("blacked out, so the lamps stay dark until you play")
        begun = time.monotonic()
        while time.monotonic() - begun < WITHIN:
            assert wire.take().dmxData == slots({})
        wire.shows(slots({20: 0.5 * MASTER}))
        kill(show)


def test_two_shows_of_the_same_files_keep_apart(latching: Path, wire: Ear) -> None:
    """The second begins fresh beside the first; its clean end leaves what the first will need."""
    with play(latching, *FILE) as first:
        wire.shows(slots(STOOD))
        marked("latch")
        with play(latching, *LIVE, out="memory") as second:
            second.says("frames a second")
            until(lambda: len(marks()) == 2, "each has a mark")
            second.signal(signal.SIGINT)
            assert second.ended(5.0) == 130
            assert "found where" not in second.out
        assert len(marks()) == 1
        kill(first)
    wire.rest()
    with play(latching, *LIVE) as third:
        comes_back(wire, slots(STOOD))
        kill(third)


def test_a_take_of_the_second_show_holds_what_came_back(latching: Path, wire: Ear) -> None:
    """`take info` tells of it, and the notes performed anew begin with the same picture."""
    with play(latching, *FILE) as show:
        wire.shows(slots(STOOD))
        marked("latch", "look")
        kill(show)
    wire.rest()
    with play(latching, *LIVE, "--record", "after.take") as show:
        comes_back(wire, slots(STOOD))
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
    wire.rest()
    assert "restore once" in run("take", "info", "after.take", folder=latching).stdout
    anew = (
        "replay",
        "after.take",
        "--rig",
        "rig.yaml",
        "--mapping",
        "mapping.yaml",
        "--out",
        SACN,
        "--no-page",
    )
    with Piped(*anew, "--loop", folder=latching):
        wire.shows(slots(STOOD))


def test_the_evening_goes_on_with_its_song(latching: Path, wire: Ear) -> None:
    """Killed in the second song of a set list: the next evening begins there, its latches on."""
    (latching / "set.yaml").write_text(
        "set: Evening\nsongs:\n  - {name: One}\n  - {name: Two, midi: song.mid}\n  - {name: Three}\n", "utf-8"
    )
    evening = (*LIVE, "--set", "set.yaml")
    with play(latching, *evening) as show:
        show.says("frames a second")
        marked("look")
        place = next(cache_folder().glob("show-*.json"))
        kill(show)
    found = json.loads(place.read_text("utf-8"))
    found |= {
        "song": 1,
        "name": "Two",
        "marks": [["latch", "lamps.11.1", "pads", 1, 10, [0.5, 1, 0, 1, 127]]],
    }
    place.write_text(json.dumps(found), "utf-8")
    wire.rest()
    with play(latching, *evening) as show:
        show.says("song 2, Two, 1 latched")
        wire.shows(slots({10: 0.5}))
        until(lambda: any(mark["song"] == 1 for mark in marks()), "the second song is marked again")
        kill(show)
