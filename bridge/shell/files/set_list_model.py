"""Knows: the words of a set list file: every key, its type, its range and what it means.

Must never know: whether a file is there, or what is done with a song.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from bridge.shell.files.check import Entry
from bridge.shell.files.leaves import Number, Text

LONGEST_OFFSET_MS = 60_000.0
"""A minute; more is a slip, and the song's start is the place to change."""

FileName = Annotated[str, Text("a file's name")]


class SongEntry(Entry):
    """A song of the evening."""

    stand_ins: ClassVar = {"name": "song"}

    name: Annotated[str, Text("the song's name")] = Field(description="what the song is called")
    mapping: FileName = Field(
        "", description="the mapping file that plays the lamps in this song; that of the evening unless given"
    )
    song: FileName = Field("", description="the audio file to be heard: WAV, FLAC, OGG or MP3")
    midi: FileName = Field("", description="a standard MIDI file that plays the lamps")
    take: FileName = Field("", description="the take to replay")
    offset_ms: Annotated[float, Number(-LONGEST_OFFSET_MS, LONGEST_OFFSET_MS)] = Field(
        0.0,
        description="milliseconds by which the lamps come later than the song is played, for speakers far "
        "away or slow; below 0, earlier; 0 unless given",
    )
    look: Annotated[str, Text("a look's name")] = Field(
        "", description="a look of the mapping that stands before the song starts; what stood, unless given"
    )


class SetFile(Entry):
    """A set list: the songs of an evening in order. Files are found from the folder of the set list."""

    set: Annotated[str, Text("the evening's name")] = Field("", description="what the evening is called")
    songs: list[SongEntry] | None = Field(None, description="the songs in order, each begun with '- name:'")
