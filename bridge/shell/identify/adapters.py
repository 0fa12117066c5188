"""Knows: which of the serial ports here may be a DMX adapter, and which of them says that it is one.

Must never know: lamps, walks, rigs.

An interface that takes framed messages answers a query; a plain adapter has nothing in it that could. The
query is seven bytes without a break, which no DMX receiver takes for a packet. Only USB ports are asked,
unless one is named.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass

import serial
from serial.tools.list_ports import comports
from serial.tools.list_ports_common import ListPortInfo

from bridge.shell.devices import yaml_quoted
from bridge.shell.outputs.serial_find import explain
from bridge.values.errors import DeviceError
from bridge.values.rig import OutputSpec
from bridge.wire.dmx_serial import BAUD, GET_PARAMETERS, FramedReader, framed_query

ANSWER_SECONDS = 0.5
"""How long a port may take to answer; an interface needs some milliseconds."""

PIECE = 256
STEP_SECONDS = 0.01
WRITE_SECONDS = 0.5


@dataclass(frozen=True, slots=True)
class Adapter:
    """A port that may lead to lamps.

    Args:
        port: the device's name. shown: as the player sees it.
        name: what to write in a rig file: the USB serial number where only this port has it.
        framing: packet where it answered, else break. trouble: why it could not be asked; empty where it was.
    """

    port: str
    shown: str
    name: str
    framing: str = "break"
    trouble: str = ""

    @property
    def verdict(self) -> str:
        """What the query told."""
        if self.trouble:
            return self.trouble
        if self.framing == "packet":
            return "an interface that takes framed messages: it answers the query"
        return "no answer: a plain adapter, or something else altogether"

    @property
    def line(self) -> str:
        """The output as a rig file has it."""
        return f"{{kind: serial, port: {yaml_quoted(self.name)}, framing: {self.framing}}}"

    @property
    def spec(self) -> OutputSpec:
        """The output, by the device's own name."""
        return OutputSpec("serial", port=self.port, framing=self.framing)


def adapters(
    found: Iterable[ListPortInfo] | None = None, opener: Callable[..., serial.Serial] = serial.Serial
) -> list[Adapter]:
    """Every USB serial port here, asked what it is; those that answer first.

    Args:
        found: the ports of this machine; looked up unless given.
        opener: makes a port.
    """
    ports = [port for port in (comports() if found is None else found) if port.vid is not None]
    numbers = Counter(port.serial_number for port in ports if port.serial_number)
    asked = []
    for port in sorted(ports, key=lambda port: str(port.device)):
        number = port.serial_number or ""
        named = (
            port.device if port.description in (None, "", "n/a") else f"{port.device} ({port.description})"
        )
        asked.append(ask(port.device, named, number if numbers[number] == 1 else port.device, opener))
    return sorted(asked, key=lambda adapter: (bool(adapter.trouble), adapter.framing != "packet"))


def ask(
    port: str, shown: str = "", name: str = "", opener: Callable[..., serial.Serial] = serial.Serial
) -> Adapter:
    """Send one port the query and wait for its answer; it is closed again in any case."""
    try:
        # The bit rate matters to a plain adapter alone.
        line = opener(
            port,
            baudrate=BAUD,
            stopbits=serial.STOPBITS_TWO,
            timeout=0,
            write_timeout=WRITE_SECONDS,
            exclusive=True,
        )
    except (OSError, ValueError, DeviceError) as error:
        return Adapter(port, shown or port, name or port, trouble=str(explain(error, port)))
    try:
        answers = _answers(line)
    except (OSError, ValueError) as error:
        return Adapter(port, shown or port, name or port, trouble=str(explain(error, port)))
    finally:
        with suppress(Exception):
            line.reset_output_buffer()
        with suppress(Exception):
            line.close()
    return Adapter(port, shown or port, name or port, "packet" if answers else "break")


def _answers(line: serial.Serial) -> bool:
    line.reset_input_buffer()
    line.write(framed_query())
    reader = FramedReader()
    deadline = time.monotonic() + ANSWER_SECONDS
    while time.monotonic() < deadline:
        piece = line.read(PIECE)
        # The echo of an adapter that hears itself is the query, byte for byte: an answer carries more.
        if any(label == GET_PARAMETERS and len(payload) > 2 for label, payload in reader.feed(piece)):
            return True
        if not piece:
            time.sleep(STEP_SECONDS)
    return False
