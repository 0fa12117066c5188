"""Which adapter is this: ports on pseudo-terminals, one with an interface behind it, one without."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from serial.tools.list_ports_common import ListPortInfo

from bridge.shell.identify.adapters import Adapter, adapters, ask
from bridge.wire.dmx_serial import FramedReader, framed_query
from tests.shell.outputs.bench import NO_PTY, Line

pytestmark = pytest.mark.skipif(NO_PTY, reason="needs pseudo-terminals")

ANSWER = b"\x7e\x03\x05\x00\x01\x04\x09\x01\x28\xe7"
"""Firmware 1.4, break 9, mark 1, rate 40, as an interface answers (layout from memory)."""


class Interface:
    """Something behind a port: it answers queries with `answer`, in pieces."""

    def __init__(self, folder: Path, answer: bytes) -> None:
        folder.mkdir()
        self.line = Line(folder)
        self.heard = bytearray()
        self._answer = answer
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        reader = FramedReader()
        while not self._stop.is_set():
            piece = self.line.take(1, 0.02)
            self.heard += piece
            if reader.feed(piece) and self._answer:
                for byte in b"\x00junk" + self._answer:
                    os.write(self.line.far, bytes((byte,)))

    @property
    def port(self) -> str:
        """Its device."""
        return str(self.line.device)

    def close(self) -> None:
        """Unplug it."""
        self._stop.set()
        self._thread.join()
        self.line.close()


@pytest.fixture
def framed(tmp_path: Path) -> Iterator[Interface]:
    """An interface that takes framed messages."""
    made = Interface(tmp_path / "framed", ANSWER)
    yield made
    made.close()


@pytest.fixture
def plain(tmp_path: Path) -> Iterator[Interface]:
    """A plain adapter: nothing answers."""
    made = Interface(tmp_path / "plain", b"")
    yield made
    made.close()


@pytest.fixture
def echoing(tmp_path: Path) -> Iterator[Interface]:
    """An adapter that hears what it sends."""
    made = Interface(tmp_path / "echo", framed_query())
    yield made
    made.close()


def info(port: str, number: str = "", vid: int | None = 1027) -> ListPortInfo:
    """A port as the system lists it."""
    made = ListPortInfo(port)
    made.vid, made.serial_number, made.description = vid, number, "USB thing"
    return made


def test_an_interface_answers(framed: Interface) -> None:
    """The query goes out as it is, and its answer, in pieces and after noise, proves framed messages."""
    found = ask(framed.port)
    assert (found.framing, found.trouble) == ("packet", "")
    assert bytes(framed.heard) == framed_query()
    assert "answers the query" in found.verdict
    assert found.line == f"{{kind: serial, port: {framed.port}, framing: packet}}"


def test_a_plain_adapter_does_not(plain: Interface) -> None:
    """Without an answer it is taken for a plain adapter, which nobody can tell from something else."""
    found = ask(plain.port)
    assert (found.framing, found.trouble) == ("break", "")
    assert "a plain adapter, or something else" in found.verdict


def test_an_echo_is_no_answer(echoing: Interface) -> None:
    """An adapter that hears itself sends the query back: that is none of an interface's answers."""
    assert ask(echoing.port).framing == "break"


def test_a_port_that_cannot_be_opened(tmp_path: Path) -> None:
    """What is wrong with a port is said with what to do, and it is not tried further."""
    found = ask(str(tmp_path / "nothing"))
    assert "is not there" in found.trouble
    assert found.verdict == found.trouble


def test_all_ports_are_asked(framed: Interface, plain: Interface, tmp_path: Path) -> None:
    """USB ports alone are asked, those that answer come first; a serial number of its own names a port."""
    gone = str(tmp_path / "gone")
    ports = [info(plain.port, "P1"), info(gone, "X"), info(framed.port, "X"), info("/dev/ttyS0", vid=None)]
    found = adapters(ports)
    assert [(one.port, one.framing, bool(one.trouble)) for one in found] == [
        (framed.port, "packet", False),
        (plain.port, "break", False),
        (gone, "break", True),
    ]
    assert found[0].name == framed.port
    assert found[1].line == "{kind: serial, port: 'P1', framing: break}"
    assert found[1].shown == f"{plain.port} (USB thing)"


def test_the_line_is_read_as_the_output() -> None:
    """What is to be pasted says the same to the reader of rig files."""
    from bridge.shell.files import rig_from_text

    for name in ("/dev/ttyUSB0", "COM3", "A6'03: x", "0123"):
        adapter = Adapter("/dev/x", "x", name, "packet")
        (spec,) = rig_from_text(f"lamps: [{{name: a, slot: 1}}]\noutputs:\n  - {adapter.line}\n")[0].outputs
        assert (spec.kind, spec.port, spec.framing) == ("serial", name, "packet")
