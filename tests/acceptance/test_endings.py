"""How a show ends when it is told to: soon, clean, the lamps as the rig says, the terminal as it was."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import time
from pathlib import Path

import pytest
from sacn.messages.data_packet import DataPacket

from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, NEEDS_PROC, InTerminal, Piped, alive, house_of, until
from tests.acceptance.scenes import SACN, picture, write_scene, write_song

NOTES = {60: 100, 64: 127}
LIT, DARK = picture(NOTES), picture({})
WITHIN = 2.0
"""Seconds from the signal to the end."""

pytestmark = NEEDS_POSIX


def playing(folder: Path, wire: Ear) -> Piped:
    """A show whose chord is lit on the wire."""
    song = write_song(folder / "song.mid", *NOTES.items())
    show = Piped("play", "--no-page", "--midi-file", song, "--out", SACN, folder=folder)
    try:
        wire.shows(LIT)
    except BaseException as error:
        show.__exit__(type(error), error, None)
        raise
    return show


def the_end(packets: list[DataPacket]) -> tuple[list[tuple[int, ...]], list[bool]]:
    """Of the last six packets the three pictures, and whether each says that the stream ends."""
    pictures = [packet.dmxData for packet in packets[-6:-3]]
    return pictures, [packet.option_StreamTerminated for packet in packets[-6:]]


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_ends_a_show_clean(scene: Path, wire: Ear, name: str) -> None:
    """Three dark pictures, three ends of the stream, exit code 130, no complaint, within two seconds."""
    with playing(scene, wire) as show:
        began = time.monotonic()
        show.signal(getattr(signal, name))
        assert show.ended(WITHIN) == 130
        assert time.monotonic() - began < WITHIN
        wire.rest()
        assert the_end(wire.packets) == ([DARK] * 3, [False] * 3 + [True] * 3)
        assert not any(packet.option_StreamTerminated for packet in wire.packets[:-3])
        assert show.errors == ""
        assert "left out" in show.out, "how it went is said"


def test_hold_leaves_the_last_picture(tmp_path: Path, wire: Ear) -> None:
    """With `on_exit: hold` the last pictures are the lit one, and the stream is terminated all the same."""
    write_scene(tmp_path, on_exit="hold")
    with playing(tmp_path, wire) as show:
        show.signal(signal.SIGINT)
        assert show.ended(WITHIN) == 130
        wire.rest()
        assert the_end(wire.packets) == ([LIT] * 3, [False] * 3 + [True] * 3)
        assert show.errors == ""


def test_impatience_changes_nothing(scene: Path, wire: Ear) -> None:
    """A Ctrl-C on top of another, as often as you like, does not cut the clean end short."""
    with playing(scene, wire) as show:
        end = time.monotonic() + WITHIN
        with contextlib.suppress(ProcessLookupError):
            while show.process.poll() is None and time.monotonic() < end:
                show.signal(signal.SIGINT)
                with contextlib.suppress(subprocess.TimeoutExpired):
                    # Not one burst: the end has many stages, and each is to be met.
                    show.process.wait(0.005)
        assert show.ended(0.5) == 130
        wire.rest()
        assert the_end(wire.packets) == ([DARK] * 3, [False] * 3 + [True] * 3)
        assert show.errors == ""


def test_a_script_that_has_run_out_ends_by_itself(scene: Path, wire: Ear) -> None:
    """A song's end is an end like any other, but for its exit code: 0."""
    song = write_song(scene / "song.mid", *NOTES.items(), seconds=0.5)
    with Piped("play", "--no-page", "--midi-file", song, "--out", SACN, folder=scene) as show:
        assert show.ended(20.0) == 0
        wire.rest()
        assert LIT in [packet.dmxData for packet in wire.packets]
        assert the_end(wire.packets) == ([DARK] * 3, [False] * 3 + [True] * 3)
        assert show.errors == ""


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_ends_the_demo_clean(tmp_path: Path, name: str) -> None:
    """The demo ends like a show of one's own."""
    with Piped("demo", "--no-page", folder=tmp_path) as show:
        show.says("out: nowhere")
        show.signal(getattr(signal, name))
        assert show.ended(WITHIN) == 130
        assert show.errors == ""


def test_ctrl_c_in_a_terminal_gives_the_terminal_back(scene: Path, wire: Ear) -> None:
    """Ctrl-C reaches the house process too, stage page and all; both leave, and the screen is as it was."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with InTerminal("play", "--midi-file", song, "--out", SACN, folder=scene) as show:
        show.shows("Ctrl-C ends")
        wire.shows(LIT)
        show.type(b"\x03")
        assert show.ended(WITHIN) == 130
        wire.rest()
        assert the_end(wire.packets) == ([DARK] * 3, [False] * 3 + [True] * 3)
        assert show.raw.rfind("\x1b[?1049l") > show.raw.rfind("\x1b[?1049h") >= 0, "the other screen is left"
        assert show.raw.rfind("\x1b[?25h") > show.raw.rfind("\x1b[?25l") >= 0, "the cursor is shown again"
        after = show.text_from(show.raw.rfind("\x1b[?1049l"))
        assert "Traceback" not in show.text_from(0)
        assert "frames" in after, "how it went is said where it stays to be read"


def test_ctrl_c_at_once_is_no_less_clean(scene: Path, wire: Ear) -> None:
    """Ctrl-C at the first frame, when the house process is still starting: nothing is complained of."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with InTerminal("play", "--no-page", "--midi-file", song, "--out", SACN, folder=scene) as show:
        wire.take()
        show.type(b"\x03")
        assert show.ended(WITHIN) == 130
        wire.rest()
        assert the_end(wire.packets) == ([DARK] * 3, [False] * 3 + [True] * 3)
        assert "Traceback" not in show.text_from(0)
        assert "KeyboardInterrupt" not in show.text_from(0)


def test_a_closed_terminal_ends_the_show_clean(scene: Path, wire: Ear) -> None:
    """Closing the window hangs up on all programs in it: the lamps go dark and no process stays."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with InTerminal("play", "--no-page", "--midi-file", song, "--out", SACN, folder=scene) as show:
        show.shows("Ctrl-C ends")
        wire.shows(LIT)
        show.hang_up()
        assert show.ended(WITHIN) == 130
        wire.rest()
        assert the_end(wire.packets) == ([DARK] * 3, [False] * 3 + [True] * 3)


@NEEDS_PROC
def test_a_stalled_house_delays_no_blackout(scene: Path, wire: Ear) -> None:
    """With a house process that hangs, the lamps still go dark at once, and nothing stays behind."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with InTerminal("play", "--no-page", "--midi-file", song, "--out", SACN, folder=scene) as show:
        show.shows("Ctrl-C ends")
        wire.shows(LIT)
        house = house_of(show.pid)
        assert house is not None
        os.kill(house, signal.SIGSTOP)
        wire.rest()
        show.signal(signal.SIGINT)
        wire.shows(DARK, 1.0)
        assert show.ended(5.0) == 130
        wire.rest()
        assert the_end(wire.packets) == ([DARK] * 3, [False] * 3 + [True] * 3)
        assert not alive(house)


@NEEDS_PROC
def test_no_house_outlives_its_show(scene: Path) -> None:
    """Where the show is killed, its house process leaves by itself."""
    song = write_song(scene / "song.mid", *NOTES.items())
    with InTerminal("play", "--no-page", "--midi-file", song, folder=scene) as show:
        show.shows("Ctrl-C ends")
        house = house_of(show.pid)
        assert house is not None
        show.signal(signal.SIGKILL)
        show.process.wait()
        until(lambda: not alive(house), "the house process is gone", 5.0)
