"""Knows: how PortAudio is loaded, begun anew and left, and which of its devices a name means.

Must never know: streams, songs, what a device is used for.

The one file that loads sounddevice for sound, and only when a device is wanted: the import asks every sound
system. PortAudio looks for devices once, when it begins: who wants to see what was plugged in since leaves it
and begins anew.
"""

from __future__ import annotations

import contextlib
import importlib
import sys
from typing import Any

from bridge.values.errors import DeviceError

LISTS = "'lampwright ports' lists what is there"
PATIENCE = 1.0
"""Seconds without a callback after which a device counts as gone."""

WITHOUT = {
    "input": "a file can be listened to without",
    "output": "without one the song gives its timing and no sound",
}
"""What can be done where there is no device of that kind."""

NAMED = 12
"""Devices that an error names at most."""


def portaudio() -> Any:
    """The module sounddevice, begun anew where it was left.

    Raises:
        DeviceError: it, or the PortAudio library, is missing or does not work; says how to get it.
    """
    try:
        module = importlib.import_module("sounddevice")
        if not getattr(module, "_initialized", True):
            module._initialize()
    except ImportError as error:
        raise DeviceError("sounddevice is not installed", "run 'pip install sounddevice'") from error
    except Exception as error:
        # OSError where the library is missing; an error of its own where it cannot begin.
        linux = sys.platform.startswith("linux")
        remedy = "sudo apt install libportaudio2" if linux else "pip install --force-reinstall sounddevice"
        raise DeviceError(f"PortAudio does not work ({error})", f"run '{remedy}'") from error
    return module


def leave(module: Any) -> None:
    """Leave the sound system; may hang where that has died.

    A process that just ends leaves its JACK client behind, and that server was seen to take no more. A child
    process of multiprocessing runs no exit handlers, so this has to be called by hand.
    """
    with contextlib.suppress(AttributeError, module.PortAudioError):
        module._terminate()


def find_device(module: Any, device: str | int | None, kind: str) -> tuple[int, Any]:
    """Number and description of a device.

    Args:
        device: a part of its name, its number, or None for the system's default.
        kind: input or output.

    Raises:
        DeviceError: none, or no single one, fits.
    """
    if isinstance(device, str) and device.strip().isdecimal():
        device = int(device)
    try:
        there = [one for one in module.query_devices() if one[f"max_{kind}_channels"] > 0]
    except module.PortAudioError as error:
        raise DeviceError(f"the sound system does not say what there is ({error})", LISTS) from error
    if not there:
        look = "plug one in or start the sound system, then look with 'lampwright ports'"
        raise DeviceError(f"there is no sound {kind}", f"{look}; {WITHOUT[kind]}")
    try:
        info = module.query_devices(device, kind)
    except (module.PortAudioError, ValueError) as error:
        names = ", ".join(f"'{one['name']}'" for one in there[:NAMED])
        if device is None:
            raise DeviceError(f"the sound system names no default {kind}", f"give one of {names}") from error
        fits = [one for one in there if str(device).casefold() in one["name"].casefold()]
        what = f"{f'several sound {kind}s fit' if len(fits) > 1 else f'no sound {kind} fits'} '{device}'"
        raise DeviceError(what, f"give one of {names}") from error
    return int(info["index"]), info
