"""Knows: how a song is opened: with its sound, or silent and with the reason.

Must never know: who follows it.
"""

from __future__ import annotations

import math
import os

from bridge.shell.clock import AnyClock
from bridge.shell.song.base import Song
from bridge.shell.song.player import SongPlayer
from bridge.shell.song.silent import SilentSong
from bridge.shell.song.sound_file import length_of
from bridge.values.errors import DeviceError


def song_or_silence(
    path: str | os.PathLike[str], clock: AnyClock, offset_s: float = 0.0, device: str | int | None = None
) -> Song:
    """A song ready to start; a silent one, whose `trouble` says why, where no sound is to be had.

    Raises:
        FileError: there is no such file, or no sound in it.
    """
    player = SongPlayer(path, offset_s, device, clock)
    try:
        player.open()
    except DeviceError as error:
        why = f"no sound: {error}"
        try:
            length = length_of(path)
        except DeviceError:
            length = math.inf
        return SilentSong(length, clock.now, offset_s, why)
    return player
