"""Knows: how to run the real command line in a process of its own, with pipes or in a terminal.

Must never know: what a command does.
"""

from __future__ import annotations

import contextlib
import os
import re
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import IO, Any

import pytest

LAMPWRIGHT = (sys.executable, "-m", "bridge")
PATIENCE = 20.0
"""Seconds until a condition that should hold at once counts as missed: the machine may be busy elsewhere."""

ROWS, COLUMNS = 60, 200

ESCAPES = re.compile(r"\x1b(\[[0-9;?]*[A-Za-z]|[()][0-9A-Z]|[=>78])")

NEEDS_POSIX = pytest.mark.skipif(os.name != "posix", reason="needs POSIX signals and pseudo-terminals")
NEEDS_PROC = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc to find processes")

IN_TERMINAL = """\
import os, sys
tty = os.open(sys.argv[1], os.O_RDWR)
for number in (0, 1, 2):
    os.dup2(tty, number)
os.execv(sys.executable, [sys.executable, "-m", "bridge", *sys.argv[2:]])
"""
"""The leader of a session that opens a terminal gets it as its own: Ctrl-C then reaches all its programs."""


def until(condition: Callable[[], Any], what: str, seconds: float = PATIENCE) -> Any:
    """The first true answer of `condition`; fails with `what` if none comes."""
    end = time.monotonic() + seconds
    pause = threading.Event()
    while not (answer := condition()):
        if time.monotonic() > end:
            pytest.fail(f"after {seconds:g} s still not so: {what}")
        pause.wait(0.005)
    return answer


def run(*args: object, folder: Path, typed: str = "", seconds: float = 60.0) -> Any:
    """Run a command to its end; the finished process with text of stdout and stderr."""
    return subprocess.run(
        [*LAMPWRIGHT, *map(str, args)],
        cwd=folder,
        input=typed,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=seconds,
        check=False,
    )


class Running:
    """A command that goes on until it is told to end; all it wrote is kept.

    Leaving the `with` block ends what still runs, by its own id.
    """

    def __init__(self, command: Sequence[str], folder: Path, pipes: Any, env: dict[str, str]) -> None:
        self._heard: dict[str, bytearray] = {}
        self._readers: list[threading.Thread] = []
        self._deaf = threading.Event()
        self.process = subprocess.Popen(
            command,
            cwd=folder,
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            env=os.environ | env,
            **pipes,
        )

    @property
    def pid(self) -> int:
        """The process's id, which is also that of its group."""
        return self.process.pid

    def _listen(self, name: str, file: IO[bytes]) -> None:
        self._heard[name] = heard = bytearray()

        def read() -> None:
            with file, contextlib.suppress(OSError):  # OSError: the far end of a pseudo-terminal is gone
                while not self._deaf.is_set():
                    # Not a read that waits: the end it waits at could then not be closed.
                    ready, _, _ = select.select([file], [], [], 0.02)
                    if ready:
                        piece = os.read(file.fileno(), 65536)
                        if not piece:
                            return
                        heard.extend(piece)

        reader = threading.Thread(target=read)
        reader.start()
        self._readers.append(reader)

    def heard(self, name: str) -> str:
        """What came out so far."""
        return bytes(self._heard[name]).decode("utf-8", "replace")

    def signal(self, number: int, group: bool = False) -> None:
        """Send a signal to the process, or to all of its group as a terminal or a supervisor does."""
        if group:
            os.killpg(self.pid, number)
        else:
            self.process.send_signal(number)

    def ended(self, within: float) -> int:
        """The exit code; fails when it does not end in time."""
        try:
            code = self.process.wait(within)
        except subprocess.TimeoutExpired:
            pytest.fail(f"still running after {within:g} s")
        for reader in self._readers:
            reader.join(PATIENCE)
        return code

    def close(self) -> None:
        """End what is left: asked first, since a JACK server waits long for a client that was killed."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(5.0)
        if self.process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.pid, signal.SIGKILL)
        self.process.wait()
        for reader in self._readers:
            reader.join(PATIENCE)

    def __enter__(self) -> Running:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
        if kind is not None:
            for name, said in self._heard.items():
                # Shown by pytest beside what failed.
                print(f"{name} of the command:\n{ESCAPES.sub('', said.decode('utf-8', 'replace'))[-3000:]}")


class Piped(Running):
    """A command whose stdout and stderr are pipes, so that it draws nothing."""

    def __init__(self, *args: object, folder: Path, env: dict[str, str] | None = None) -> None:
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
        super().__init__([*LAMPWRIGHT, *map(str, args)], folder, pipes, env or {})
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        self._listen("stdout", self.process.stdout)
        self._listen("stderr", self.process.stderr)

    @property
    def out(self) -> str:
        """What it said so far."""
        return self.heard("stdout")

    @property
    def errors(self) -> str:
        """What it complained of so far."""
        return self.heard("stderr")

    def says(self, text: str) -> None:
        """Wait until it said this."""

        def said() -> bool:
            if self.process.poll() is not None:
                pytest.fail(f"it ended with {self.process.returncode}: {self.out}{self.errors}")
            return text in self.out

        until(said, f"it says {text!r}")


class InTerminal(Running):
    """A command in a terminal of its own, 200 columns and 60 rows, where it draws the rig."""

    def __init__(self, *args: object, folder: Path, env: dict[str, str] | None = None) -> None:
        import fcntl
        import struct
        import termios

        far, near = os.openpty()
        fcntl.ioctl(near, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        command = [sys.executable, "-c", IN_TERMINAL, os.ttyname(near), *map(str, args)]
        env = {"TERM": "xterm-256color"} | (env or {})
        super().__init__(command, folder, {"stdout": near, "stderr": near}, env)
        os.close(near)
        self._far = far
        self._listen("screen", os.fdopen(far, "rb", buffering=0))

    @property
    def raw(self) -> str:
        """All that was written to the terminal so far."""
        return self.heard("screen")

    def text_from(self, place: int) -> str:
        """What was written from a place in `raw` on, without colours and movements."""
        return ESCAPES.sub("", self.raw[place:])

    def shows(self, text: str, place: int = 0) -> None:
        """Wait until this is drawn after `place`."""

        def shown() -> bool:
            if self.process.poll() is not None and text not in self.text_from(place):
                pytest.fail(f"it ended with {self.process.returncode}: {self.text_from(place)[-2000:]}")
            return text in self.text_from(place)

        until(shown, f"the screen shows {text!r}")

    def no_longer_shows(self, text: str) -> None:
        """Wait until a whole picture was drawn without this; each begins with the cursor at home."""

        def gone() -> bool:
            pictures = self.raw.split("\x1b[H")
            return len(pictures) > 2 and text not in ESCAPES.sub("", pictures[-2])

        until(gone, f"the screen no longer shows {text!r}")

    def type(self, keys: bytes) -> None:
        """Press keys."""
        os.write(self._far, keys)

    def hang_up(self) -> None:
        """Close the window: the session's leader gets SIGHUP, and whoever writes there an error."""
        self._deaf.set()


def children(pid: int) -> Iterator[tuple[int, str]]:
    """(id, command line) of the living children of a process."""
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, parent = stat.read_text().rpartition(")")[2].split()[:2]
            if int(parent) == pid and state != "Z":
                line = (stat.parent / "cmdline").read_bytes().replace(b"\0", b" ").decode()
                yield int(stat.parent.name), line


def house_of(pid: int) -> int | None:
    """The id of the house process of a show; None while there is none."""
    return next((child for child, line in children(pid) if "spawn_main" in line), None)


def alive(pid: int) -> bool:
    """True while a process is there and no zombie."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
