"""Knows: the songs of an evening in order, and what each one needs; all frozen.

Must never know: the text of a set list file, whether a file can be read, or which song plays.

Paths are texts as the system takes them, already joined to the folder of the set list.
"""

from __future__ import annotations

from collections.abc import Mapping as ReadOnly
from dataclasses import dataclass, field

from bridge.values.errors import Problem

FILES = ("mapping", "song", "midi", "take")
"""The keys of a song that name files."""


@dataclass(frozen=True, slots=True)
class SetSong:
    """One song of the evening.

    Args:
        name: what it is called.
        mapping: the mapping file; empty for the one of the evening.
        song: the audio file; empty for none.
        midi: the MIDI file that plays the lamps; empty for none.
        take: the take to replay; empty for none.
        offset: seconds by which the lamps come later than the song's sound; below 0, earlier.
        look: name of the look, in the mapping, that stands before it starts; empty to keep what stands.
        missing: those of `FILES` that name a file which is not there: the song cannot be played.
        places: key -> (line, column) of its value, 1-based, for messages; `name` is always there.
    """

    name: str
    mapping: str = ""
    song: str = ""
    midi: str = ""
    take: str = ""
    offset: float = 0.0
    look: str = ""
    missing: tuple[str, ...] = ()
    places: ReadOnly[str, tuple[int, int]] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class SetList:
    """An evening.

    Args:
        name: what the evening is called; may be empty.
        songs: in order, those that cannot be played among them.
        file: the file's name as the player gave it, for messages.
    """

    name: str = ""
    songs: tuple[SetSong, ...] = ()
    file: str = field(default="", compare=False)

    @property
    def playable(self) -> tuple[SetSong, ...]:
        """The songs whose files are all there, in order."""
        return tuple(song for song in self.songs if not song.missing)

    def problem(self, song: SetSong, key: str, what: str, right: str = "", warning: bool = False) -> Problem:
        """A mistake that shows later (a look the mapping does not have), told at its place in the file."""
        line, column = song.places.get(key) or song.places.get("name", (0, 0))
        return Problem(line, column, what, right, self.file, warning)
