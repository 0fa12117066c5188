"""Knows: sound inputs through PortAudio: what arrives when, and what was lost of it.

Must never know: what is done with the sound; other processes.
"""

from __future__ import annotations

import math
from collections import deque
from typing import Any

import numpy as np

from bridge.shell.song.portaudio import LISTS, find_device, leave, portaudio
from bridge.shell.song.stream import OpenStream
from bridge.values.errors import DeviceError
from bridge.values.numbers import Floats

WAITING = 200
"""Blocks that wait at most: what is older is thrown away and counted, for late light is worse than none."""


class SoundInput(OpenStream):
    """An open sound input.

    Args:
        device: a part of its name, its number, or None for the system's default.
        hop: seconds of one block wanted.

    Attributes:
        name: of the device. rate: frames a second. lost: blocks thrown away or lost by the system so far.

    Raises:
        DeviceError: PortAudio or the device is missing, or does not open.
    """

    def __init__(self, device: str | int | None, hop: float) -> None:
        self._portaudio = portaudio()
        try:
            index, info = find_device(self._portaudio, device, "input")
            self.name = str(info["name"])
            self.rate = int(info["default_samplerate"])
            self._blocks: deque[tuple[float, Floats]] = deque(maxlen=WAITING)
            self.lost = self.calls = 0
            self._stream = self._open(index, min(2, int(info["max_input_channels"])), hop)
        except DeviceError:
            # Else it would be looked for among those that were there now, however often.
            leave(self._portaudio)
            raise

    def _open(self, index: int, channels: int, hop: float) -> Any:
        try:
            stream = self._portaudio.InputStream(
                samplerate=self.rate,
                device=index,
                channels=channels,
                dtype="float32",
                blocksize=round(self.rate * hop),
                latency="low",
                callback=self._call,
            )
            stream.start()
        except (self._portaudio.PortAudioError, ValueError) as error:
            raise DeviceError(f"the sound input '{self.name}' does not open ({error})", LISTS) from error
        return stream

    def take(self) -> list[tuple[float, Floats]]:
        """(stream time of its first frame, frames as left and right) of every block since the last call."""
        out = []
        while self._blocks:
            out.append(self._blocks.popleft())
        return out

    def _call(self, block: Any, frames: int, times: Any, status: Any) -> None:
        """The callback: copies and leaves."""
        self.calls += 1
        if status.input_overflow or len(self._blocks) == WAITING:
            self.lost += 1
        sound = np.repeat(block, 2, axis=1) if block.shape[1] == 1 else block.copy()
        first, now = times.inputBufferAdcTime, times.currentTime
        # Some sound systems say nothing or nonsense of when it came.
        if not (math.isfinite(first) and now - 1.0 <= first <= now):
            first = now - frames / self.rate
        self._blocks.append((first, sound))
