"""Knows: sound outputs through PortAudio: which to open, at what rate, when a block is heard, what lacks.

Must never know: songs, files, other processes.

The one file that imports sounddevice, and only when a device is wanted: the import asks every sound system.
"""

from __future__ import annotations

import contextlib
import importlib
import sys
from collections.abc import Callable
from typing import Any

import numpy as np

from bridge.shell.song.sound_file import Sound
from bridge.values.errors import DeviceError

Fill = Callable[[Sound, float], None]
"""Fills a block of left and right whose first frame is heard at a stream time; must not raise."""

LISTS = "'lampwright ports' lists what is there"
NO_DEVICE = (
    "plug one in or start the sound system, then look with 'lampwright ports'; "
    "without one the song gives its timing and no sound"
)
PATIENCE = 1.0
"""Seconds without a callback after which a device counts as gone."""

LONGEST_LATENCY = 5.0


class Output:
    """An open sound output.

    Args:
        device: a part of its name, its number, or None for the system's default.
        rate: frames a second wanted; where the device refuses, `rate` is what it has instead.

    Raises:
        DeviceError: PortAudio or the device is missing, or does not open.
    """

    def __init__(self, device: str | int | None, rate: int) -> None:
        self._portaudio = portaudio()
        index, info = _find(self._portaudio, device)
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
        # A process that just ends leaves its JACK client behind, and that server was seen to take no more. A
        # child process of multiprocessing runs no exit handlers, so this has to be called by hand.
        with contextlib.suppress(AttributeError, self._portaudio.PortAudioError):
            self._portaudio._terminate()

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


def portaudio() -> Any:
    """The module sounddevice.

    Raises:
        DeviceError: it, or the PortAudio library, is missing or does not work; says how to get it.
    """
    try:
        return importlib.import_module("sounddevice")
    except ImportError as error:
        raise DeviceError("sounddevice is not installed", "run 'pip install sounddevice'") from error
    except Exception as error:
        # OSError where the library is missing; an error of its own where it cannot begin.
        linux = sys.platform.startswith("linux")
        remedy = "sudo apt install libportaudio2" if linux else "pip install --force-reinstall sounddevice"
        raise DeviceError(f"PortAudio does not work ({error})", f"run '{remedy}'") from error


def _find(module: Any, device: str | int | None) -> tuple[int, Any]:
    """Number and description of an output.

    Raises:
        DeviceError: none, or no single one, fits.
    """
    if isinstance(device, str) and device.strip().isdecimal():
        device = int(device)
    outputs = [one for one in module.query_devices() if one["max_output_channels"] > 0]
    if not outputs:
        raise DeviceError("there is no sound output", NO_DEVICE)
    try:
        info = module.query_devices(device, "output")
    except (module.PortAudioError, ValueError) as error:
        names = ", ".join(f"'{one['name']}'" for one in outputs[:12])
        if device is None:
            raise DeviceError("the sound system names no default output", f"give one of {names}") from error
        fits = [one["name"] for one in outputs if str(device).casefold() in one["name"].casefold()]
        what = (
            f"several sound outputs fit '{device}'" if len(fits) > 1 else f"no sound output fits '{device}'"
        )
        raise DeviceError(what, f"give one of {names}") from error
    return int(info["index"]), info
