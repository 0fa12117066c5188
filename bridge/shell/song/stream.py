"""Knows: what every open sound device can be asked, whichever way its sound goes.

Must never know: how a device is found or opened, or what it plays or hears.
"""

from __future__ import annotations

import contextlib
from typing import Any

from bridge.shell.song.portaudio import leave


class OpenStream:
    """A stream of PortAudio; who inherits this has opened it."""

    _portaudio: Any
    _stream: Any

    def stream_time(self) -> float:
        """Seconds on the stream's own clock, now."""
        return float(self._stream.time)

    @property
    def active(self) -> bool:
        """False once the sound system has ended the stream."""
        try:
            return bool(self._stream.active)
        except self._portaudio.PortAudioError:
            return False

    def close(self) -> None:
        """Give the device back and leave the sound system, for good. May hang where that system has died."""
        with contextlib.suppress(self._portaudio.PortAudioError):
            self._stream.close()
        leave(self._portaudio)
