"""PortAudio itself: what is missing with how to get it, and which device a name means."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from bridge.shell.song.output import Output
from bridge.shell.song.portaudio import find_device, leave, portaudio
from bridge.shell.sound.inputs import SoundInput
from bridge.values.errors import DeviceError
from tests.shell.jack import until
from tests.shell.song.sound_server import sound_server


def test_a_missing_module_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without sounddevice there is one line and its remedy."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(DeviceError, match="sounddevice is not installed; run 'pip install sounddevice'"):
        portaudio()


def test_a_missing_library_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where PortAudio itself is not there, sounddevice raises OSError as it is imported."""
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    monkeypatch.syspath_prepend(str(tmp_path))
    remedy = "sudo apt install libportaudio2" if sys.platform.startswith("linux") else "pip install"
    with pytest.raises(DeviceError, match=rf"does not work \(PortAudio library not found\); run '{remedy}"):
        Output(None, 48000)


def test_devices_are_looked_for_anew() -> None:
    """Left and loaded again, PortAudio knows what has come since; a name and a number find it."""
    with sound_server(48000) as server:
        server.stop()
        with pytest.raises(DeviceError, match="there is no sound input; plug one in"):
            SoundInput(None, 0.01)
        server.start()
        module = portaudio()
        try:
            index, info = find_device(module, "SYST", "input")
            assert info["name"] == "system"
            assert find_device(module, str(index), "input")[0] == index
            assert find_device(module, index, "output")[1]["max_output_channels"] == 2
            with pytest.raises(DeviceError, match="no sound output fits 'gong'; give one of 'system'"):
                find_device(module, "gong", "output")
            with pytest.raises(DeviceError, match="no sound input fits '99'; give one of 'system'"):
                find_device(module, 99, "input")
        finally:
            leave(module)
        source = SoundInput("system", 0.01)
        until(source.take, "it is heard")
        source.close()
