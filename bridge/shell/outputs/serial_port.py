"""Knows: one universe sent over a serial port, and how long the wire needs for it.

Must never know: how bytes or times come about (`wire/dmx_serial`); the other outputs.

A send lasts about as long as the packet on the line: the driver's buffer takes many frames at once, and the
lamps would then follow that much late. So nothing is written before the line has sent what it was given.
"""

from __future__ import annotations

import errno
import os
import select
import time
from collections.abc import Callable, Iterable
from contextlib import suppress

import serial
from serial.tools.list_ports import comports
from serial.tools.list_ports_common import ListPortInfo

from bridge.shell import handles
from bridge.shell.outputs.base import line_seconds, send_last, slots_sent
from bridge.shell.outputs.serial_find import choose_port, explain
from bridge.values.errors import DeviceError
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire import dmx_serial

try:
    from termios import error as TermiosError  # noqa: N812 - it is an exception class, and no OSError
except ImportError:  # Windows has no termios
    TermiosError = OSError  # type: ignore[misc,assignment]

WRITE_TIMEOUT = 0.045
"""Seconds a write may take: under two frame periods at 44 Hz, the fastest a full universe can go."""

SLACK_US = 1000
"""Mark left after a packet: USB hands bytes over once a millisecond, so the line may begin that much late."""

FEWEST_SLOTS = dmx_serial.LEAST_FRAMED_SLOTS
"""With the shortest break and mark, 24 slots fill the 1204 us from break to break (ANSI E1.11 Table 6)."""

_NO_BREAK = (errno.ENOTTY, errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP)
_TROUBLE = (OSError, ValueError, TermiosError)


class SerialOutput:
    """An `Output` over an RS-485 adapter (`framing: break`) or an interface that takes packets.

    Args:
        spec: `port` (a device name, `auto` or a USB serial number), `framing`, `break_us`, `sends`, `pad_to`.
        top_slot: highest slot in use; slots above it, and above `pad_to`, are not sent.
        opener: makes the port; another one makes the tests' odd ports.
        ports: lists the ports of this machine.
        now, sleep: monotonic seconds, and waiting for some.
    """

    def __init__(
        self,
        spec: OutputSpec,
        top_slot: int = SLOTS,
        opener: Callable[..., serial.Serial] = serial.Serial,
        ports: Callable[[], Iterable[ListPortInfo]] = comports,
        now: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._spec = spec
        self._break = spec.framing == "break"
        self.break_us = max(spec.break_us, dmx_serial.LEAST_BREAK_US)
        self.slots = max(FEWEST_SLOTS, slots_sent(spec, top_slot, FEWEST_SLOTS))
        self.packet_us = dmx_serial.packet_time_us(self.slots, self.break_us) + SLACK_US
        """Microseconds from the start of a send to the earliest start of the next."""
        self._line = line_seconds(spec, top_slot)
        self.slow_break = False
        """True while breaks are made by a slow zero byte, since the driver makes none."""
        self.device = ""
        """The device name, known once it was opened."""
        self._opener = opener
        self._ports = ports
        self._now = now
        self._sleep = sleep
        self._port: serial.Serial | None = None

    def open(self) -> None:
        """As `Output.open`."""
        self._let_go(finished=False)
        self.device = choose_port(self._spec.port, self._ports())
        try:
            # The bit rate matters to an adapter alone; an interface that takes packets lies behind USB.
            self._port = self._opener(
                self.device,
                baudrate=dmx_serial.BAUD,
                bytesize=serial.EIGHTBITS,
                parity=serial.PARITY_NONE,
                stopbits=serial.STOPBITS_TWO,
                timeout=0,
                write_timeout=WRITE_TIMEOUT,
                exclusive=True,
            )
        except _TROUBLE as error:
            if handles.used_up(error):
                raise handles.explain(f"{self.device} cannot be opened") from None
            raise explain(error, self.device) from None
        self.slow_break = False

    def send(self, frame: Frame) -> None:
        """As `Output.send`; returns when the line is done with the packet."""
        if self._port is None:
            raise DeviceError(f"{self.device or self._spec.port} is closed")
        slots = frame.universe(self._spec.sends)[: self.slots]
        try:
            self._wait_until_idle(self._port)
            if self._break:
                self._send_with_break(self._port, dmx_serial.break_packet(slots))
            else:
                began = self._now()
                self._port.write(dmx_serial.framed_packet(slots))
                self._rest_until(began + self.packet_us / 1e6)
        except serial.SerialTimeoutException:
            raise self._stalled() from None
        except _TROUBLE as error:
            raise explain(error, self.device) from None

    def close(self, last: Frame | None) -> None:
        """As `Output.close`; DMX512 has no goodbye, the line falls silent after the last picture."""
        finished = False
        try:
            if last is not None:
                send_last(self.send, last, self._line)
                finished = True
        finally:
            self._let_go(finished)

    def _send_with_break(self, port: serial.Serial, packet: bytes) -> None:
        if not self.slow_break:
            self._make_break(port)
        if self.slow_break:
            self._make_slow_break(port)
        began = self._now()
        port.write(packet)
        self._rest_until(began + (dmx_serial.SLOT_US * len(packet) + SLACK_US) / 1e6)

    def _make_break(self, port: serial.Serial) -> None:
        try:
            port.break_condition = True
        except NotImplementedError:
            self.slow_break = True
            return
        except OSError as error:
            if error.errno not in _NO_BREAK:
                raise
            self.slow_break = True
            return
        try:
            self._rest(self.break_us)
        finally:
            port.break_condition = False
        self._rest(dmx_serial.LEAST_MARK_US)

    def _make_slow_break(self, port: serial.Serial) -> None:
        port.baudrate = baud = dmx_serial.slow_byte_baud(self.break_us)
        try:
            port.write(b"\x00")
            self._rest(sum(dmx_serial.slow_byte_times_us(baud)) + SLACK_US)
        finally:
            port.baudrate = dmx_serial.BAUD

    def _wait_until_idle(self, port: serial.Serial) -> None:
        """Wait until the driver has nothing left and takes more; a break would cut off what is in there."""
        deadline = self._now() + WRITE_TIMEOUT
        while port.out_waiting:
            if self._now() >= deadline:
                raise self._stalled()
            self._sleep(0.001)
        if os.name == "posix":
            # pyserial's write turns in circles while a full driver refuses it; this waits instead.
            _, ready, _ = select.select([], [port.fileno()], [], max(0.0, deadline - self._now()))
            if not ready:
                raise self._stalled()

    def _stalled(self) -> DeviceError:
        return DeviceError(
            f"{self.device} takes no data", "is the device still alive? unplug it and plug it in again"
        )

    def _rest(self, microseconds: float) -> None:
        self._rest_until(self._now() + microseconds / 1e6)

    def _rest_until(self, moment: float) -> None:
        # In a loop, since some systems wake a little early.
        while (left := moment - self._now()) > 0.0:
            self._sleep(left)

    def _let_go(self, finished: bool) -> None:
        port, self._port = self._port, None
        if port is None:
            return
        if not finished:
            # Closing waits for what is left to leave, on some systems for half a minute, and a stalled
            # device never lets it go.
            with suppress(Exception):
                port.reset_output_buffer()
        with suppress(Exception):
            port.close()
