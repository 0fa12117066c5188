"""Saving the mapping while it is played."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acceptance.ears import Ear
from tests.acceptance.programs import NEEDS_POSIX, InTerminal, Piped, until
from tests.acceptance.scenes import SACN, picture, write_scene, write_song
from tests.shell.jack import Keyboard

SWAPPED = """\
mapping: Only note 60, on another lamp
keys:
  - {notes: 60, lamps: lamps.16.8, spread: each}
"""

MISTAKEN = """\
mapping: A typo
keys:
  - {notes: 60, lamps: lamps.16.8, sprad: each}
"""

pytestmark = NEEDS_POSIX


@pytest.mark.usefixtures("jack")
def test_a_saved_mapping_is_in_force_and_a_mistake_is_not(scene: Path, wire: Ear) -> None:
    """What is saved plays from the next frames on; a mistake is shown, and what was in force stays."""
    mapping = scene / "mapping.yaml"
    moved = picture({127: 100})
    with (
        Keyboard("stand", "stand piano") as keys,
        InTerminal("play", "--no-page", "--midi-in", "stand", "--out", SACN, folder=scene) as show,
    ):
        show.shows("in: stand piano")
        keys.play([0x90, 60, 100])
        wire.shows(picture({60: 100}))
        keys.play([0x80, 60, 0])
        wire.shows(picture({}))

        mapping.write_text(SWAPPED, "utf-8")
        strike_until(keys, wire, moved)

        place = len(show.raw)
        mapping.write_text(MISTAKEN, "utf-8")
        show.shows("mapping.yaml:3:", place)
        show.shows("sprad", place)
        show.shows("did you mean", place)
        show.shows("still the one before", place)
        keys.play([0x90, 60, 100])
        wire.shows(moved)
        keys.play([0x80, 60, 0])
        wire.shows(picture({}))

        write_scene(scene)
        strike_until(keys, wire, picture({60: 100}))
        show.no_longer_shows("sprad")


def strike_until(keys: Keyboard, wire: Ear, wanted: tuple[int, ...]) -> None:
    """Play note 60 until it lights what it should: only the light tells when a mapping is in force."""
    for _ in range(100):
        keys.play([0x90, 60, 100])
        seen = [wire.take().dmxData for _ in range(4)]
        keys.play([0x80, 60, 0])
        wire.shows(picture({}))
        if seen[-1] == wanted:
            return
    raise AssertionError("the saved mapping is not in force")


def test_without_a_terminal_a_mistake_is_said(scene: Path, wire: Ear) -> None:
    """Where nothing is drawn, the message of a mistaken save is a line of what the command says."""
    with Piped("play", "--no-page", "--out", SACN, folder=scene) as show:

        def said() -> bool:
            # Saved again and again: from outside nobody sees when the file begins to be watched.
            wire.take()
            (scene / "mapping.yaml").write_text(MISTAKEN, "utf-8")
            for _ in range(60):
                wire.take()
            return "mapping.yaml:3:" in show.out

        until(said, "the mistake is said")
        show.says("still the one before")


def test_what_is_saved_while_the_show_starts_is_not_missed(scene: Path, wire: Ear) -> None:
    """A save at the very first frame, before anything can be watching, is in force as any other."""
    song = write_song(scene / "song.mid", (60, 100))
    with Piped("play", "--no-page", "--midi-file", song, "--out", SACN, folder=scene):
        wire.take()
        (scene / "mapping.yaml").write_text("mapping: Nothing\n", "utf-8")
        wire.shows(picture({}))


@pytest.mark.usefixtures("jack")
def test_one_of_several_mappings_waits_for_its_turn(scene: Path, wire: Ear) -> None:
    """A mapping saved while another plays changes nothing; a program change then brings in what was saved."""
    other = scene / "other.yaml"
    other.write_text((scene / "mapping.yaml").read_text("utf-8"), "utf-8")
    mappings = ["--mapping", "mapping.yaml", "--mapping", "other.yaml"]
    with (
        Keyboard("stand", "stand piano") as keys,
        Piped("play", *mappings, "--no-page", "--midi-in", "stand", "--out", SACN, folder=scene) as show,
    ):
        show.says("in: stand piano")
        other.write_text(MISTAKEN, "utf-8")
        show.says("other.yaml:3:")
        other.write_text(SWAPPED, "utf-8")
        strike_until(keys, wire, picture({60: 100}))
        keys.play([0xC0, 1])
        strike_until(keys, wire, picture({127: 100}))
        for program, wanted in ((0, picture({60: 100})), (1, picture({127: 100}))):
            keys.play([0xC0, program])
            keys.play([0x90, 60, 100])
            wire.shows(wanted)
            keys.play([0x80, 60, 0])
            wire.shows(picture({}))
