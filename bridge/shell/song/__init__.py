"""Songs that lamps can follow: heard through a sound device, or silent where there is none.

Other folders take what is named here; the rest may change. Loaded when first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.shell.late import late

if TYPE_CHECKING:
    from bridge.shell.song.base import Song
    from bridge.shell.song.opening import song_or_silence
    from bridge.shell.song.player import SongPlayer
    from bridge.shell.song.silent import SilentSong
    from bridge.shell.song.sound_file import length_of

__all__ = ["SilentSong", "Song", "SongPlayer", "length_of", "song_or_silence"]

__getattr__ = late(
    __name__,
    {
        "Song": "base",
        "song_or_silence": "opening",
        "SongPlayer": "player",
        "SilentSong": "silent",
        "length_of": "sound_file",
    },
)
