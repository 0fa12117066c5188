"""DMX512 over a serial port, on pseudo-terminals: every byte, the planned times, and devices that fail."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from typing import Any

import pytest
import serial

from bridge.shell.outputs import MemoryOutput, OutputWorker
from bridge.shell.outputs.serial_port import SLACK_US, WRITE_TIMEOUT, SerialOutput
from bridge.values.errors import DeviceError
from bridge.values.rig import OutputSpec
from bridge.wire import dmx_serial
from tests.reference_rows import rows

from .bench import NO_PTY, Line, eventually, picture

pytestmark = pytest.mark.skipif(NO_PTY, reason="needs pseudo-terminals")

LIMITS = {(row["role"], row["parameter"]): row for row in rows("dmx512_timing.csv")}


def limit(parameter: str, column: str, role: str = "transmit") -> float:
    """One limit of ANSI E1.11, in the unit of its row."""
    return float(LIMITS[role, parameter][column].lstrip("<"))


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    """A pseudo-terminal under a name that stays."""
    made = Line(tmp_path)
    yield made
    made.close()


def spec_for(line: Line, **other: Any) -> OutputSpec:
    """A serial output to it."""
    return OutputSpec("serial", port=str(line.device), **other)


class Breakless(serial.Serial):  # type: ignore[misc]
    """A port whose driver makes no break; it notes the rates it was set to."""

    rates: list[int]

    def _update_break_state(self) -> None:
        raise OSError(errno.ENOTTY, "no break here")

    def _reconfigure_port(self, force_update: bool = False) -> None:
        if not hasattr(self, "rates"):
            self.rates = []
        self.rates.append(self.baudrate)
        super()._reconfigure_port(force_update)


class Noting(serial.Serial):  # type: ignore[misc]
    """A port that notes what is asked of its driver."""

    notes: list[str]

    def __init__(self, *args: Any, **options: Any) -> None:
        self.notes = []
        super().__init__(*args, **options)

    def _update_break_state(self) -> None:
        self.notes.append(f"break {self._break_state}")
        super()._update_break_state()

    def write(self, data: bytes) -> int | None:
        self.notes.append(f"write {len(data)}")
        count: int | None = super().write(data)
        return count

    def reset_output_buffer(self) -> None:
        self.notes.append("discard")
        super().reset_output_buffer()

    def close(self) -> None:
        self.notes.append("close")
        super().close()


class Ticking:
    """A clock that only sleeping moves on; it notes the sleeps."""

    def __init__(self) -> None:
        self.time = 0.0
        self.sleeps: list[float] = []

    def now(self) -> float:
        return self.time

    def sleep(self, seconds: float) -> None:
        self.sleeps.append(seconds)
        self.time += seconds


def test_framing_break_byte_for_byte(line: Line) -> None:
    """After the break, which a pseudo-terminal does not show: START code 0, then slots 1 to the highest."""
    output = SerialOutput(spec_for(line), 40)
    output.open()
    output.send(picture(200))
    assert line.take(100, 0.05) == b"\x00" + picture(200).universe(1)[:40]
    output.close(None)


def test_framing_packet_byte_for_byte(line: Line) -> None:
    """The framed message of the codec and nothing around it."""
    output = SerialOutput(spec_for(line, framing="packet"), 512)
    output.open()
    output.send(picture(200))
    expected = dmx_serial.framed_packet(picture(200).universe(1))
    assert line.take(1000, 0.05) == expected
    assert len(expected) == 518
    output.close(None)


def test_a_break_no_driver_makes_is_a_slow_byte(line: Line) -> None:
    """Where the break fails, a zero byte at a rate slow enough for it comes first (common practice)."""
    made: list[Breakless] = []

    def opener(*args: Any, **options: Any) -> serial.Serial:
        made.append(Breakless(*args, **options))
        return made[0]

    output = SerialOutput(spec_for(line), 24, opener=opener)
    output.open()
    output.send(picture(7))
    output.send(picture(8))
    assert output.slow_break
    slots = [b"\x00\x00" + picture(value).universe(1)[:24] for value in (7, 8)]
    assert line.take(100, 0.05) == b"".join(slots)
    slow = dmx_serial.slow_byte_baud(176)
    assert made[0].rates == [250_000, slow, 250_000, slow, 250_000]
    assert 9e6 / slow >= 176
    assert slow <= limit("max_baud_for_zero_byte_break_8N2", "typical", "serial trick")
    output.close(None)


def noting(line: Line, top: int) -> tuple[SerialOutput, list[Noting]]:
    """An output with the ports it opened."""
    made: list[Noting] = []

    def opener(*args: Any, **options: Any) -> serial.Serial:
        made.append(Noting(*args, **options))
        return made[-1]

    return SerialOutput(spec_for(line, pad_to=top), top, opener=opener), made


def test_each_packet_has_its_break(line: Line) -> None:
    """Break on, break off, one write of START code and slots; nothing is thrown away at a clean end."""
    output, made = noting(line, 24)
    output.open()
    output.send(picture(1))
    output.close(picture(0))
    assert made[0].notes == ["break True", "break False", "write 25"] * 4 + ["close"]


def test_a_stalled_port_is_waited_for_and_let_go(line: Line) -> None:
    """A full driver costs its time-out but no work, and what is stuck in it is thrown away before closing."""
    output, made = noting(line, 512)
    output.open()
    os.set_blocking(line.near, False)
    _fill(line)
    began, worked = time.monotonic(), time.thread_time()
    with pytest.raises(DeviceError, match="takes no data"):
        output.send(picture(1))
    assert time.monotonic() - began < 2 * WRITE_TIMEOUT + 0.05
    assert time.thread_time() - worked < WRITE_TIMEOUT / 3
    output.close(None)
    assert made[0].notes[-2:] == ["discard", "close"]


@pytest.mark.parametrize("top", [0, 1, 24, 40, 512])
@pytest.mark.parametrize("break_us", [0, 92, 176, 400])
def test_planned_times_keep_the_limits(line: Line, top: int, break_us: int) -> None:
    """Break, mark and break to break lie within ANSI E1.11, transmitter timing (Table 6)."""
    clock = Ticking()
    output = SerialOutput(spec_for(line, break_us=break_us), top, now=clock.now, sleep=clock.sleep)
    output.open()
    for value in range(2):
        began = clock.time
        output.send(picture(value))
    break_to_break = (clock.time - began) * 1e6
    made_break, mark = (seconds * 1e6 for seconds in clock.sleeps[-3:-1])
    assert made_break >= max(break_us, limit("break", "min")) - 1e-3
    assert mark >= limit("mark_after_break", "min") - 1e-3
    assert limit("break_to_break", "min") <= break_to_break <= limit("break_to_break", "max")
    slots = max(top, 24)
    formula = made_break + mark + limit("slot_time", "typical", "both") * (slots + 1)
    assert break_to_break == pytest.approx(formula + SLACK_US)
    assert break_to_break == pytest.approx(output.packet_us)
    output.close(None)


def test_a_full_universe_keeps_up_with_40_hz() -> None:
    """With break, mark and slack 512 slots take under 25 ms, and more than the standard's shortest packet."""
    output = SerialOutput(OutputSpec("serial", port="/dev/none"), 512)
    assert limit("min_packet_time_512_slots", "typical", "both") < output.packet_us < 25_000
    fastest = limit("max_refresh_512_slots", "typical", "both")
    assert 1e6 / output.packet_us < fastest
    assert 2 / fastest > WRITE_TIMEOUT


@pytest.mark.parametrize("framing", ["break", "packet"])
def test_frames_never_pile_up_in_the_driver(line: Line, framing: str) -> None:
    """Sends cannot follow each other faster than the wire carries them."""
    output = SerialOutput(spec_for(line, framing=framing), 24)
    output.open()
    began = time.monotonic()
    for value in range(20):
        output.send(picture(value))
    assert time.monotonic() - began >= 20 * dmx_serial.packet_time_us(24) / 1e6
    output.close(None)


@pytest.mark.parametrize(
    ("pad_to", "top", "slots"), [(0, 1, 24), (0, 40, 40), (100, 40, 100), (512, 40, 512)]
)
def test_how_many_slots_go_out(line: Line, pad_to: int, top: int, slots: int) -> None:
    """Up to the highest in use, at least pad_to, never under the 24 that fill 1204 us."""
    output = SerialOutput(spec_for(line, pad_to=pad_to), top)
    assert output.slots == slots
    assert output.packet_us >= limit("break_to_break", "min")


def test_the_last_picture_goes_out_three_times(line: Line) -> None:
    """A clean end leaves whole packets behind, none of them cut off by closing."""
    output = SerialOutput(spec_for(line), 24)
    output.open()
    output.close(picture(0))
    assert line.take(1000, 0.05) == (b"\x00" + picture(0).universe(1)[:24]) * 3


def test_an_unplugged_port_comes_back_under_the_same_name(line: Line) -> None:
    """Gone, the output says so; there again, it sends the newest picture."""
    worker = OutputWorker(SerialOutput(spec_for(line), 24), spec_for(line))
    worker.post(picture(1))
    assert line.take(25) == b"\x00" + picture(1).universe(1)[:24]
    line.unplug()
    worker.post(picture(2))
    assert eventually(lambda: "is not there; is it plugged in" in worker.state().note)
    line.plug()
    assert line.take(25, 3) == b"\x00" + picture(2).universe(1)[:24]
    assert worker.close(hold=True)


@pytest.mark.parametrize("framing", ["break", "packet"])
def test_a_stalled_port_costs_only_itself(line: Line, framing: str) -> None:
    """A far end that reads nothing marks its output down; another goes on, and the end is not held up."""
    spec = spec_for(line, framing=framing, pad_to=512)
    well = MemoryOutput()
    os.set_blocking(line.near, False)
    workers = [OutputWorker(SerialOutput(spec, 512), spec), OutputWorker(well, OutputSpec("memory"))]
    try:
        assert eventually(lambda: workers[0].state().state == "up")
        _fill(line)
        value, posts = 0, []

        def turn() -> bool:
            nonlocal value
            value += 1
            began = time.monotonic()
            for worker in workers:
                worker.post(picture(value % 256))
            posts.append(time.monotonic() - began)
            assert well.wait_for(value, 1)
            return workers[0].state().state == "down"

        assert eventually(turn)
        assert "takes no data; is the device still alive?" in workers[0].state().note
        assert median(posts) < 0.005
        assert workers[1].state().state == "up"
    finally:
        began = time.monotonic()
        assert all(worker.close(hold=False) for worker in workers)
        assert time.monotonic() - began < 0.5


def _fill(line: Line) -> None:
    # What was written moves on into the far side's buffer a moment later, hence several rounds.
    refused = 0
    while refused < 20:
        try:
            os.write(line.near, b"\xaa" * 256)
            refused = 0
        except BlockingIOError:
            refused += 1
            eventually(lambda: False, 0.001)


def test_a_port_held_by_another_program(line: Line) -> None:
    """Two programs cannot drive one line; the second is told."""
    first, second = (SerialOutput(spec_for(line), 24) for _ in range(2))
    first.open()
    with pytest.raises(DeviceError, match=r"another program holds .*port; close it"):
        second.open()
    first.close(None)
    second.open()
    second.close(None)


def test_a_port_that_may_not_be_opened(line: Line) -> None:
    """Permission denied names the group to join."""
    device = os.ttyname(line.near)
    os.chmod(device, 0)
    output = SerialOutput(OutputSpec("serial", port=device), 24)
    with pytest.raises(DeviceError, match=r"you may not open .*; add yourself to the group dialout"):
        _as_somebody(output.open)


def _as_somebody(act: Callable[[], None]) -> None:
    """Run as a user without rights, where the tests run as one with all of them."""
    user = os.geteuid()
    if user == 0:
        os.seteuid(65534)
    try:
        act()
    finally:
        os.seteuid(user)


def test_a_port_that_is_not_there(tmp_path: Path) -> None:
    """A missing device is told with what to look at."""
    output = SerialOutput(OutputSpec("serial", port=str(tmp_path / "ttyUSB9")), 24)
    with pytest.raises(DeviceError, match="ttyUSB9 is not there; is it plugged in, and its driver installed"):
        output.open()


def test_a_file_is_not_a_port(tmp_path: Path) -> None:
    """Something else under that name is told apart."""
    (tmp_path / "notes").write_text("x")
    output = SerialOutput(OutputSpec("serial", port=str(tmp_path / "notes")), 24)
    with pytest.raises(DeviceError, match="notes is not a serial port"):
        output.open()


def test_auto_with_no_device_here() -> None:
    """The ports are asked for at each opening, so a device may take another name when it returns."""
    output = SerialOutput(OutputSpec("serial", port="auto"), 24, ports=lambda: ())
    with pytest.raises(DeviceError, match="no USB serial device is here"):
        output.open()
