"""Knows: what is plugged into this machine, the text that names it in a rig or command, what is missing.

Must never know: a show; nothing here stays open.
"""

from __future__ import annotations

import errno
import importlib
import os
import re
import sys
import threading
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from serial.tools.list_ports import comports
from serial.tools.list_ports_common import ListPortInfo

from bridge.shell.clock import claim_priority
from bridge.shell.midi_api import WHY_NOT, MidiSystem, midi_systems, silenced
from bridge.shell.midi_names import Listed, merged
from bridge.shell.outputs.serial_find import explain
from bridge.values.errors import DeviceError


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that is there.

    Args:
        what: what it is, as the player sees it.
        for_file: the line for a rig or a mapping; may be empty.
        for_command: the option for a command; may be empty.
    """

    what: str
    for_file: str = ""
    for_command: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """One kind of thing.

    Args:
        title: what kind.
        lines: what is there.
        missing: what is not there or not allowed, each with how to get it.
    """

    title: str
    lines: tuple[Line, ...] = ()
    missing: tuple[str, ...] = ()


NO_INPUT = {
    "linux": "no MIDI input: plug a keyboard in; 'aconnect -l' (package alsa-utils) lists what is there",
    "darwin": "no MIDI input: plug a keyboard in; to hear another program, open Audio MIDI Setup, "
    "Window, MIDI Studio, IAC Driver, and tick 'Device is online'",
    "win32": "no MIDI input: plug a keyboard in, and end other programs that use it, since one program "
    "holds a port; to hear another program, install a loopback MIDI driver",
}
"""By `sys.platform`; the menus of macOS are from memory."""

NO_SERIAL = "no serial port: plug the DMX interface in; if it stays unseen, try another cable or driver"
HELD = "if a port does not open, end the other program that uses it: one program holds a port"


def all_sections() -> list[Section]:
    """Everything `lampwright ports` shows; takes up to a second, since every system is asked."""
    return [
        *midi_sections(midi_systems()),
        serial_section(comports()),
        sound_section(),
        priority_section(),
    ]


def midi_sections(systems: Sequence[MidiSystem]) -> list[Section]:
    """MIDI inputs and outputs of all systems together, each port once, and why a system does not answer."""
    inputs: list[Listed] = []
    outputs: list[Listed] = []
    missing = []
    for system in systems:
        try:
            system.open()
        except DeviceError as error:
            missing.append(str(error))
        else:
            inputs += system.inputs()
            outputs += system.outputs()
        finally:
            system.close()
    if not systems:
        missing.append(f"python-rtmidi does not load ({WHY_NOT}): run 'pip install --upgrade python-rtmidi'")
    elif not inputs and len(missing) < len(systems):
        missing.append(NO_INPUT.get(sys.platform, NO_INPUT["linux"]))
    heard = tuple(
        Line(port.name, f"inputs: {{keys: {yaml_quoted(port.name)}}}", f"--midi-in {quoted(port.name)}")
        for port in merged(inputs)
    )
    played = tuple(Line(port.name, f"thru: {yaml_quoted(port.name)}") for port in merged(outputs))
    return [Section("MIDI inputs", heard, tuple(missing)), Section("MIDI outputs", played)]


def serial_section(found: Iterable[ListPortInfo]) -> Section:
    """Serial ports, where a DMX interface may hang, and who may use them.

    Named by USB serial number where only one device has it: that stays when the port's name changes.
    """
    ports = sorted(found, key=lambda port: str(port.device))
    numbers = Counter(port.serial_number for port in ports if port.serial_number and port.vid is not None)
    lines = []
    missing = []
    for port in ports:
        number = port.serial_number or ""
        name = number if numbers[number] == 1 else port.device
        what = port.device if port.description in (None, "", "n/a") else f"{port.device} ({port.description})"
        lines.append(
            Line(
                f"{what}, USB serial number {number}" if number else what,
                f"- {{kind: serial, port: {yaml_quoted(name)}, framing: break}}",
                f"--out {quoted(f'break:{name}')}",
            )
        )
        if os.path.exists(port.device) and not os.access(port.device, os.R_OK | os.W_OK):
            missing.append(str(explain(PermissionError(errno.EACCES, ""), port.device)))
    if not lines:
        missing.append(NO_SERIAL)
    elif sys.platform == "win32":
        missing.append(HELD)
    return Section("Serial ports", tuple(lines), tuple(missing))


def sound_section() -> Section:
    """Sound inputs and outputs, where the optional sounddevice is installed."""
    title = "Sound devices"
    try:
        # PortAudio asks every sound system there is, and each complains on the terminal.
        with silenced():
            found = list(importlib.import_module("sounddevice").query_devices())
    except ImportError:
        return Section(title, (), ("sounddevice is not installed (optional): run 'pip install sounddevice'",))
    except Exception as error:
        # OSError where the PortAudio library is missing, an error of sounddevice's own where it fails.
        linux = sys.platform.startswith("linux")
        remedy = "sudo apt install libportaudio2" if linux else "pip install --force-reinstall sounddevice"
        return Section(title, (), (f"PortAudio does not work ({error}): run '{remedy}'",))
    lines = tuple(
        Line(f"{one['name']}: {one['max_input_channels']} in, {one['max_output_channels']} out")
        for one in found
    )
    return Section(title, lines, () if lines else ("no sound device is here",))


def priority_section() -> Section:
    """Whether this user may run the show before all other programs; tried in a thread that ends at once."""
    results: list[tuple[bool, str]] = []
    thread = threading.Thread(target=lambda: results.append(claim_priority()))
    thread.start()
    thread.join()
    given, text = results[0]
    return Section("Real-time priority", (Line(text),) if given else (), () if given else (text,))


def quoted(text: str) -> str:
    """An argument as the shell of this system reads it: sh, or PowerShell on Windows."""
    if re.fullmatch(r"[\w./:-]+", text):
        return text
    if not set(text) & set('$`"\\!'):
        return f'"{text}"'
    # Between single quotes both shells change nothing; only the single quote itself they write differently.
    return "'" + text.replace("'", "''" if sys.platform == "win32" else "'\\''") + "'"


def yaml_quoted(text: str) -> str:
    """A YAML value that is read as this text, between braces too."""
    return text if re.fullmatch(r"/[\w./-]+|COM\d+", text) else "'" + text.replace("'", "''") + "'"
