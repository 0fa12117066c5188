"""Knows: for each kind of output a far end on this machine that can fail and come back."""

from __future__ import annotations

import os
import select
import socket
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from bridge.shell.outputs import OUTPUTS, MemoryOutput, Output
from bridge.shell.outputs.artnet_udp import ArtnetOutput
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import OutputSpec
from bridge.wire import artnet, sacn

CID = bytes(range(16))


def picture(value: int, universe: int = 1) -> Frame:
    """A frame of one universe with this value 0..255 on every slot, but its number on slot 1."""
    slots = np.full((1, SLOTS), value, np.uint8)
    slots[0, 0] = universe & 0xFF
    return Frame(value / 40, (universe,), slots)


def black(universe: int = 1) -> bytes:
    """The 512 bytes of darkness."""
    return Frame(0.0, (universe,), np.zeros((1, SLOTS), np.uint8)).universe(universe)


def eventually(law: Callable[[], object], seconds: float = 5.0) -> bool:
    """True as soon as the law holds; for what gives no condition to wait for."""
    deadline = time.monotonic() + seconds
    while not law():
        if time.monotonic() > deadline:
            return False
        threading.Event().wait(0.002)
    return True


class UdpEnd:
    """A plain socket that takes what is sent to this machine."""

    def __init__(self) -> None:
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 20)
        self.socket.bind(("127.0.0.1", 0))
        self.port: int = self.socket.getsockname()[1]

    def take(self, seconds: float = 2.0) -> bytes:
        """The next datagram; TimeoutError when none comes."""
        self.socket.settimeout(seconds)
        return self.socket.recv(2048)

    def close(self) -> None:
        """Let the port go."""
        self.socket.close()


class Line:
    """A pseudo-terminal behind a device name that stays the same when it is unplugged and plugged in."""

    def __init__(self, folder: Path) -> None:
        self.device = folder / "port"
        self.far = self.near = -1
        self.plug()

    def plug(self) -> None:
        """A new device under the old name."""
        self.far, self.near = os.openpty()
        self.device.unlink(missing_ok=True)
        self.device.symlink_to(os.ttyname(self.near))

    def unplug(self) -> None:
        """The device vanishes, its name with it."""
        os.close(self.far)
        os.close(self.near)
        self.far = self.near = -1
        self.device.unlink()

    def take(self, count: int, seconds: float = 2.0) -> bytes:
        """The next `count` bytes, fewer when they do not come in time."""
        got = b""
        deadline = time.monotonic() + seconds
        while len(got) < count:
            ready, _, _ = select.select([self.far], [], [], max(0.0, deadline - time.monotonic()))
            if not ready:
                return got
            got += os.read(self.far, count - len(got))
        return got

    def close(self) -> None:
        """Let it go."""
        if self.far >= 0:
            self.unplug()


class Bench:
    """An output with its far end. `take` gives the slots of the next picture that arrived."""

    def __init__(self, spec: OutputSpec, output: Output) -> None:
        self.spec = spec
        self.output = output
        self.goodbyes = 0

    def take(self) -> bytes:
        """The slots of the next picture."""
        raise NotImplementedError

    def fail(self) -> None:
        """Break it, for a moment at least."""
        raise NotImplementedError

    def heal(self) -> None:
        """Let it work again."""

    def close(self) -> None:
        """Let the far end go."""

    def take_until(self, wanted: bytes) -> bool:
        """True once this picture arrived."""
        return any(self.take() == wanted for _ in range(200))


class SacnBench(Bench):
    """Unicast to a socket here."""

    def __init__(self, _folder: Path) -> None:
        self.end = UdpEnd()
        spec = OutputSpec("sacn", host="127.0.0.1")
        super().__init__(spec, SacnOutput(spec, 24, port=self.end.port))

    def take(self) -> bytes:
        packet = sacn.parse(self.end.take())
        self.goodbyes += packet.terminated
        return packet.slots

    def fail(self) -> None:
        # What a machine does that sleeps and wakes: the socket is gone behind the program's back.
        self.output._udp._socket.close()  # type: ignore[attr-defined]

    def close(self) -> None:
        self.end.close()


class ArtnetBench(Bench):
    """Unicast to a socket here."""

    def __init__(self, _folder: Path) -> None:
        self.end = UdpEnd()
        spec = OutputSpec("artnet", host="127.0.0.1", carried_as=0)
        super().__init__(spec, ArtnetOutput(spec, 24, port=self.end.port))

    def take(self) -> bytes:
        return artnet.parse(self.end.take()).slots

    def fail(self) -> None:
        self.output._udp._socket.close()  # type: ignore[attr-defined]

    def close(self) -> None:
        self.end.close()


class SerialBench(Bench):
    """A pseudo-terminal."""

    def __init__(self, folder: Path) -> None:
        self.line = Line(folder)
        spec = OutputSpec("serial", port=str(self.line.device), pad_to=SLOTS)
        super().__init__(spec, OUTPUTS["serial"](spec, 24))

    def take(self) -> bytes:
        packet = self.line.take(SLOTS + 1)
        assert packet[:1] == b"\x00", "START code"
        return packet[1:]

    def fail(self) -> None:
        self.line.unplug()

    def heal(self) -> None:
        self.line.plug()

    def close(self) -> None:
        self.line.close()


class MemoryBench(Bench):
    """The output is its own far end."""

    def __init__(self, _folder: Path) -> None:
        spec = OutputSpec("memory")
        self.memory = MemoryOutput(spec, 24)
        self.taken = 0
        super().__init__(spec, self.memory)

    def take(self) -> bytes:
        if not self.memory.wait_for(self.taken + 1, 2.0):
            raise TimeoutError
        self.taken += 1
        return self.memory.frames[self.taken - 1].universe(1)

    def fail(self) -> None:
        self.memory.unplug()

    def heal(self) -> None:
        self.memory.plug()


BENCHES: dict[str, Callable[[Path], Bench]] = {
    "sacn": SacnBench,
    "artnet": ArtnetBench,
    "serial": SerialBench,
    "memory": MemoryBench,
}

NO_PTY = sys.platform == "win32"
"""Pseudo-terminals are not there on Windows."""
