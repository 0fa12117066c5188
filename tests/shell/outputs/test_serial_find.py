"""Which port the player means, and what a failing one asks of them."""

from __future__ import annotations

import errno

import pytest
from serial.tools.list_ports_common import ListPortInfo

from bridge.shell.outputs.serial_find import choose_port, explain
from bridge.values.errors import DeviceError


def port(device: str, serial_number: str | None = None, usb: bool = True) -> ListPortInfo:
    """A port as pyserial lists it."""
    made = ListPortInfo(device)
    made.name = device.rsplit("/", 1)[-1]
    made.description = "an adapter"
    made.serial_number = serial_number
    made.vid = 0x1234 if usb else None
    return made


ONBOARD = port("/dev/ttyS0", usb=False)
LEFT = port("/dev/ttyUSB0", "A1")
RIGHT = port("/dev/ttyUSB1", "B2")


@pytest.mark.parametrize(
    ("wanted", "here", "device"),
    [
        ("/dev/ttyUSB7", (LEFT, RIGHT), "/dev/ttyUSB7"),
        ("auto", (ONBOARD, LEFT), "/dev/ttyUSB0"),
        ("B2", (ONBOARD, LEFT, RIGHT), "/dev/ttyUSB1"),
        ("ttyUSB1", (LEFT, RIGHT), "/dev/ttyUSB1"),
        ("com3", (port("COM4"),), "COM3"),
        ("auto", (port("COM1", usb=False), port("COM4")), "COM4"),
        ("TTYs0", (ONBOARD, LEFT), "/dev/ttyS0"),
    ],
)
def test_the_port_meant(wanted: str, here: tuple[ListPortInfo, ...], device: str) -> None:
    """A device name, the only USB device, or the one with a serial number."""
    assert choose_port(wanted, here) == device


@pytest.mark.parametrize(
    ("wanted", "here", "says"),
    [
        ("auto", (), "no USB serial device is here; plug it in"),
        ("auto", (ONBOARD,), "no USB serial device is here; plug it in"),
        (
            "auto",
            (RIGHT, LEFT, ONBOARD),
            r"more than one .* name one of them: /dev/ttyUSB0 \(an adapter, serial number A1\); "
            r"/dev/ttyUSB1 \(an adapter, serial number B2\)$",
        ),
        ("A1", (LEFT, port("/dev/ttyUSB5", "A1")), "more than one USB serial device fits port: A1"),
        ("C3", (ONBOARD, LEFT), r"no serial port is called 'C3'.*here are: /dev/ttyS0 .*; /dev/ttyUSB0"),
        ("C3", (), "no serial port is called 'C3'.*plug it in"),
    ],
)
def test_no_port_or_too_many(wanted: str, here: tuple[ListPortInfo, ...], says: str) -> None:
    """What cannot be decided lists what there is."""
    with pytest.raises(DeviceError, match=says):
        choose_port(wanted, here)


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (OSError(errno.EACCES, "x"), "you may not open P; add yourself to the group dialout"),
        (OSError(errno.EBUSY, "x"), "another program holds P; close it"),
        (OSError(errno.EAGAIN, "x"), "another program holds P; close it"),
        (OSError(errno.ENOENT, "x"), "P is not there; is it plugged in, and its driver installed"),
        (OSError(errno.EIO, "x"), "P is not there; is it plugged in"),
        (
            OSError("could not open port 'P': PermissionError(13, 'Access is denied.', None, 5)"),
            "another program",
        ),
        (
            OSError("could not open port 'P': FileNotFoundError(2, 'The system ...', None, 2)"),
            "P is not there",
        ),
        (OSError("Could not configure port: (25, 'Inappropriate ioctl')"), "P is not a serial port"),
        (ValueError("Failed to set custom baud rate"), "P cannot run at 250000 bit/s; use another adapter"),
        (OSError("write failed: [Errno 5]"), "P stopped working: write failed: .* is it still plugged in"),
    ],
)
def test_each_failure_says_what_to_do(error: Exception, says: str) -> None:
    """errno where there is one; on Windows pyserial's words stand in for it (seen in its source)."""
    with pytest.raises(DeviceError, match=says):
        raise explain(error, "P")
