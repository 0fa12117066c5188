"""Knows: sound inputs through PortAudio: which to open, what arrives when, what lacks.

Must never know: what is done with the sound; other processes.
"""

from __future__ import annotations

import contextlib
import math
from collections import deque
from typing import Any

import numpy as np

from bridge.shell.song.output import LISTS, portaudio
from bridge.values.errors import DeviceError
from bridge.values.numbers import Floats

PATIENCE = 1.0
"""Seconds without sound after which a device counts as gone."""

WAITING = 200
"""Blocks that wait at most: what is older is thrown away and counted, for late light is worse than none."""

NO_DEVICE = (
    "plug one in or start the sound system, then look with 'lampwright ports'; "
    "a file can be listened to without"
)


class SoundInput:
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
        if not self._portaudio._initialized:
            # It was left when the last input was closed, so that it looks for devices anew.
            self._portaudio._initialize()
        index, info = find_input(self._portaudio, device)
        self.name = str(info["name"])
        self.rate = int(info["default_samplerate"])
        self._blocks: deque[tuple[float, Floats]] = deque(maxlen=WAITING)
        self.lost = 0
        self.calls = 0
        try:
            self._stream = self._portaudio.InputStream(
                samplerate=self.rate,
                device=index,
                channels=min(2, int(info["max_input_channels"])),
                dtype="float32",
                blocksize=round(self.rate * hop),
                latency="low",
                callback=self._call,
            )
            self._stream.start()
        except (self._portaudio.PortAudioError, ValueError) as error:
            raise DeviceError(f"the sound input '{self.name}' does not open ({error})", LISTS) from error

    def take(self) -> list[tuple[float, Floats]]:
        """(stream time of its first frame, frames as left and right) of every block since the last call."""
        out = []
        while self._blocks:
            out.append(self._blocks.popleft())
        return out

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
        """Give the device back; may hang where the sound system has died."""
        with contextlib.suppress(self._portaudio.PortAudioError):
            self._stream.close()
        with contextlib.suppress(AttributeError, self._portaudio.PortAudioError):
            self._portaudio._terminate()

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


def find_input(module: Any, device: str | int | None) -> tuple[int, Any]:
    """Number and description of an input.

    Raises:
        DeviceError: none, or no single one, fits.
    """
    if isinstance(device, str) and device.strip().isdecimal():
        device = int(device)
    inputs = [one for one in module.query_devices() if one["max_input_channels"] > 0]
    if not inputs:
        raise DeviceError("there is no sound input", NO_DEVICE)
    try:
        info = module.query_devices(device, "input")
    except (module.PortAudioError, ValueError) as error:
        names = ", ".join(f"'{one['name']}'" for one in inputs[:12])
        if device is None:
            raise DeviceError("the sound system names no default input", f"give one of {names}") from error
        fits = [one for one in inputs if str(device).casefold() in one["name"].casefold()]
        what = f"{'several sound inputs fit' if len(fits) > 1 else 'no sound input fits'} '{device}'"
        raise DeviceError(what, f"give one of {names}") from error
    return int(info["index"]), info
