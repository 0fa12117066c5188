"""Knows: which serial port the player means, and what each way of failing to open one asks of them.

Must never know: what is sent over it.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterable

from serial.tools.list_ports_common import ListPortInfo

from bridge.values.errors import DeviceError

AUTO = "auto"
"""A port name that stands for the only USB serial device there is."""

_GONE = (errno.ENOENT, errno.ENXIO, errno.ENODEV, errno.EIO)
_HELD = (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK)


def choose_port(wanted: str, here: Iterable[ListPortInfo]) -> str:
    """The device name of the port.

    Args:
        wanted: a device name (`/dev/ttyUSB0`, `COM3`, `ttyUSB0`), `auto`, or a USB serial number.
        here: the ports of this machine.

    Raises:
        DeviceError: no port or more than one fits; lists those that could be meant.
    """
    if os.sep in wanted or "/" in wanted:
        return wanted
    if re.fullmatch(r"COM\d+", wanted, re.IGNORECASE):
        # Not every driver on Windows lists its ports; if it is not there, opening it will say so.
        return wanted.upper()
    ports = tuple(here)
    usb = tuple(port for port in ports if port.vid is not None)
    if wanted == AUTO:
        fitting = usb
    else:
        fitting = tuple(port for port in usb if port.serial_number == wanted) or tuple(
            port for port in ports if wanted.lower() in (port.device.lower(), port.name.lower())
        )
    devices = sorted({str(port.device) for port in fitting})
    if len(devices) == 1:
        return devices[0]
    if devices:
        raise DeviceError(
            f"more than one USB serial device fits port: {wanted}",
            f"name one of them: {_listed(fitting)}",
        )
    if wanted == AUTO:
        raise DeviceError("no USB serial device is here", "plug it in, and install its driver if it has one")
    raise DeviceError(
        f"no serial port is called {wanted!r}, and no USB serial device has that serial number",
        f"here are: {_listed(ports)}" if ports else "plug it in, and install its driver if it has one",
    )


def _listed(ports: Iterable[ListPortInfo]) -> str:
    shown = []
    for port in sorted(ports, key=lambda port: str(port.device)):
        number = f", serial number {port.serial_number}" if port.serial_number else ""
        shown.append(f"{port.device} ({port.description}{number})")
    return "; ".join(shown)


def explain(error: Exception, port: str) -> DeviceError:
    """An error of a serial port, and what the player can do about it."""
    number = getattr(error, "errno", None)
    words = str(error)
    # On Windows pyserial keeps no number, only the words of the error below; and "access denied" there means
    # that the port is open elsewhere.
    if number in _HELD or "PermissionError" in words:
        return DeviceError(
            f"another program holds {port}", "close it; `lampwright ports` lists what else is here"
        )
    if number in (errno.EACCES, errno.EPERM):
        group = _group(port)
        return DeviceError(
            f"you may not open {port}",
            f"add yourself to the group {group} (Linux: sudo usermod -aG {group} YOURNAME) and log in again",
        )
    if number in _GONE or "FileNotFoundError" in words:
        return DeviceError(
            f"{port} is not there",
            "is it plugged in, and its driver installed? `lampwright ports` lists what is here",
        )
    if "configure port" in words or number == errno.ENOTTY:
        return DeviceError(f"{port} is not a serial port", "`lampwright ports` lists those that are")
    if isinstance(error, ValueError):
        return DeviceError(
            f"{port} cannot run at 250000 bit/s",
            "use another adapter, or framing: packet if it takes packets",
        )
    return DeviceError(f"{port} stopped working: {words}", "is it still plugged in?")


def _group(port: str) -> str:
    """The group that may open the port; `dialout` where that cannot be found out."""
    try:
        import grp

        name: str = grp.getgrgid(os.stat(port).st_gid).gr_name
    except (ImportError, OSError, KeyError):
        return "dialout"
    return "dialout" if name in ("root", "wheel", "tty") else name
