"""What `lampwright ports` shows."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from serial.tools.list_ports_common import ListPortInfo

from bridge.shell.devices import (
    NO_SERIAL,
    Section,
    all_sections,
    midi_sections,
    priority_section,
    quoted,
    serial_section,
    sound_section,
    yaml_quoted,
)
from bridge.shell.midi_api import midi_systems
from bridge.shell.outputs.spelling import output_from_text
from bridge.shell.ports import LivePorts
from tests.shell.jack import JackServer, Keyboard, jack_server


@pytest.fixture
def server() -> Iterator[JackServer]:
    """A MIDI system for the tests that need one."""
    with jack_server() as running:
        yield running


def usb(device: str, number: str | None = None, description: str = "n/a") -> ListPortInfo:
    """A serial port as pyserial describes it."""
    port = ListPortInfo(device)
    port.serial_number, port.description = number, description
    port.vid = 0x0403 if number else None
    return port


def test_every_kind_of_device_has_a_section_that_says_something() -> None:
    """On any machine each section shows what is there, or what is missing and how to get it."""
    sections = all_sections()
    assert [section.title for section in sections] == [
        "MIDI inputs",
        "MIDI outputs",
        "Serial ports",
        "Sound devices",
        "Real-time priority",
    ]
    for section in sections:
        if "outputs" not in section.title:
            assert section.lines or section.missing, section.title


@pytest.mark.usefixtures("server")
def test_what_is_pasted_opens_the_port() -> None:
    """The text after --midi-in, and the mapping's line, name the very port they stand beside."""
    with Keyboard("it's", "it's a pad") as keys:
        inputs, outputs = midi_sections(midi_systems())
        (line,) = inputs.lines
        assert line.what == "it's a pad"
        option, wanted = shlex.split(line.for_command)
        assert option == "--midi-in"
        assert yaml.safe_load(line.for_file) == {"inputs": {"keys": wanted}}
        with LivePorts([wanted]) as ports:
            assert ports.states()[0].open
            outputs = midi_sections(midi_systems())[1]
            assert [line.what for line in outputs.lines] == ["Lampwright:it's a pad"]
        keys.unplug()


@pytest.mark.usefixtures("server")
def test_looking_leaves_nothing_open() -> None:
    """After a look the MIDI system knows us no more."""
    systems = midi_systems()
    midi_sections(systems)
    assert not any(system.answers for system in systems)


@pytest.mark.usefixtures("server")
def test_a_system_without_inputs_says_how_to_get_one() -> None:
    """Where a MIDI system answers but has no keyboard, the next step is named."""
    assert "plug a keyboard in" in midi_sections(midi_systems())[0].missing[-1]


def test_no_midi_system_at_all_says_what_to_install() -> None:
    """Without rtmidi the section names the package."""
    inputs, outputs = midi_sections(())
    assert "pip install --upgrade python-rtmidi" in inputs.missing[0]
    assert inputs.lines == outputs.lines == ()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the remedies are by system")
def test_a_system_that_does_not_answer_says_why(monkeypatch: pytest.MonkeyPatch, capfd) -> None:
    """Where no JACK server runs the remedy is named, and libjack's own words stay off the terminal."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nobody-runs-this")
    systems = [system for system in midi_systems() if system.word == "jack"]
    if not systems:
        pytest.skip("rtmidi was built without JACK")
    (missing,) = midi_sections(systems)[0].missing
    assert missing.startswith("JACK does not answer; start jackd")
    assert capfd.readouterr() == ("", "")


def test_a_serial_port_is_named_by_what_stays() -> None:
    """A USB serial number outlives a port's name, so it is what to paste, unless two devices share it."""
    section = serial_section(
        [
            usb("/dev/ttyUSB1", "TWICE"),
            usb("/dev/ttyUSB0", "B1", "widget"),
            usb("/dev/ttyUSB2", "TWICE"),
            usb("COM3"),
        ]
    )
    assert [line.what for line in section.lines] == [
        "/dev/ttyUSB0 (widget), USB serial number B1",
        "/dev/ttyUSB1, USB serial number TWICE",
        "/dev/ttyUSB2, USB serial number TWICE",
        "COM3",
    ]
    named = []
    for line in section.lines:
        (output,) = yaml.safe_load(line.for_file)
        option, text = shlex.split(line.for_command)
        assert option == "--out"
        assert output == {"kind": "serial", "port": output["port"], "framing": "break"}
        # The command's own reader finds the same port in the other text.
        assert output_from_text(text).port == output["port"]
        named.append(output["port"])
    assert named == ["B1", "/dev/ttyUSB1", "/dev/ttyUSB2", "COM3"]


def test_no_serial_port_says_what_to_do() -> None:
    """An empty list names the next step."""
    assert serial_section([]) == Section("Serial ports", (), (NO_SERIAL,))


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions of a device file are a thing of POSIX")
def test_a_port_one_may_not_use_comes_with_the_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    """A device file without read and write permission is shown with the group to join."""
    ours, theirs = os.openpty()
    name = os.ttyname(theirs)
    try:
        assert serial_section([usb(name)]).missing == ()
        Path(name).chmod(0)
        if os.geteuid() == 0:
            # Root may do anything; the answer for anybody else is what the file's own bits say.
            monkeypatch.setattr(os, "access", lambda path, _mode: os.stat(path).st_mode & 0o666 == 0o666)
        (missing,) = serial_section([usb(name)]).missing
    finally:
        os.close(ours)
        os.close(theirs)
    assert missing.startswith(f"you may not open {name}")
    assert "usermod -aG" in missing


def test_sound_is_optional(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without sounddevice the section names the package, and the rest of the list goes on."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    section = sound_section()
    assert section.lines == ()
    assert "pip install sounddevice" in section.missing[0]


def test_priority_is_there_or_explained() -> None:
    """The section says one thing: it is available, or how to get it."""
    section = priority_section()
    assert len(section.lines) + len(section.missing) == 1


@given(st.text(st.characters(blacklist_categories=["C"]), min_size=1))
def test_what_is_quoted_is_read_back(text: str) -> None:
    """A name of any characters comes out of a shell's splitting as it went in."""
    assert shlex.split(quoted(text)) == [text]


@given(st.text(st.characters(blacklist_categories=["C", "Z"], whitelist_characters=" "), min_size=1))
def test_what_is_quoted_for_yaml_is_read_back(text: str) -> None:
    """A name of any printable characters is read by YAML as that text, within braces too."""
    assert yaml.safe_load(f"{{a: {yaml_quoted(text)}, b: 1}}") == {"a": text, "b": 1}
