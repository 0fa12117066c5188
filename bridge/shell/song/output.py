"""Knows: sound outputs through PortAudio: at what rate to open one, when a block is heard.

Must never know: songs, files, other processes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from bridge.shell.song.portaudio import LISTS, find_device, portaudio
from bridge.shell.song.sound_file import Sound
from bridge.shell.song.stream import OpenStream
from bridge.values.errors import DeviceError

Fill = Callable[[Sound, float], None]
"""Fills a block of left and right whose first frame is heard at a stream time; must not raise."""

LONGEST_LATENCY = 5.0


class Output(OpenStream):
    """An open sound output.

    Args:
        device: a part of its name, its number, or None for the system's default.
        rate: frames a second wanted; where the device refuses, `rate` is what it has instead.

    Raises:
        DeviceError: PortAudio or the device is missing, or does not open.
    """

    def __init__(self, device: str | int | None, rate: int) -> None:
        self._portaudio = portaudio()
        index, info = find_device(self._portaudio, device, "output")
        self.name = str(info["name"])
        self._channels = min(2, int(info["max_output_channels"]))
        self.rate = self._rate(index, rate, info)
        self._fill: Fill | None = None
        self._latency = 0.0
        self.calls = 0
        """Blocks asked for so far."""
        try:
            self._stream = self._portaudio.OutputStream(
                samplerate=self.rate,
                device=index,
                channels=self._channels,
                dtype="float32",
                # The moment a block is heard is known, so nothing is gained by cutting it short.
                latency="high",
                callback=self._call,
            )
            self._latency = float(self._stream.latency)
        except (self._portaudio.PortAudioError, ValueError) as error:
            raise DeviceError(
                f"the sound output '{self.name}' does not open ({error})",
                "if another program holds it, end that one, or name another output; " + LISTS,
            ) from error

    def start(self, fill: Fill) -> None:
        """Begin to ask for sound.

        Raises:
            DeviceError: the device refuses.
        """
        self._fill = fill
        try:
            self._stream.start()
        except self._portaudio.PortAudioError as error:
            raise DeviceError(f"the sound output '{self.name}' does not start ({error})", LISTS) from error

    def _call(self, out: Any, frames: int, times: Any, _status: Any) -> None:
        self.calls += 1
        heard = heard_at(times.outputBufferDacTime, times.currentTime, self._latency)
        fill = self._fill
        if fill is None:
            out[:] = 0.0
        elif self._channels == 2:
            fill(out, heard)
        else:
            both = np.zeros((frames, 2), dtype=np.float32)
            fill(both, heard)
            out[:, 0] = both.mean(axis=1)

    def _rate(self, index: int, wanted: int, info: Any) -> int:
        try:
            self._portaudio.check_output_settings(
                device=index, channels=self._channels, dtype="float32", samplerate=wanted
            )
        except (self._portaudio.PortAudioError, ValueError):
            return int(info["default_samplerate"])
        return wanted


def heard_at(dac: float, current: float, latency: float) -> float:
    """The stream time at which a block is heard.

    Args:
        dac: what the sound system says; some say nothing or nonsense.
        current: the stream time of the callback.
        latency: seconds from callback to ear that the stream claims, used where `dac` cannot be.
    """
    return dac if current <= dac <= current + LONGEST_LATENCY else current + latency
