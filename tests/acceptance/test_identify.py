"""`identify` as a person uses it: lamps wired otherwise than the file says, and a port that nobody knows."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.acceptance.inside import Invoke, invoke
from tests.acceptance.programs import LAMPWRIGHT, NEEDS_POSIX, InTerminal, until
from tests.shell.identify.test_adapters import ANSWER, Interface
from tests.shell.outputs.bench import Line

pytestmark = NEEDS_POSIX
__all__ = ["invoke"]

RIG = """\
# Three lamps over the bench; the two left ones were plugged by night.
rig: Bench
lamps:
  - {name: left, slot: 1}     # by the window
  - {name: middle, slot: 2}
  - {name: right, slot: 3}    # by the door
outputs:
  - {kind: serial, port: PORT, framing: break}
"""
TRUTH = {1: "middle", 2: "left", 3: "right"}
SLOTS = 24


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    """Two ends of a serial line."""
    one = Line(tmp_path)
    yield one
    one.close()


class Bench:
    """The lamps behind a line: what was lit last, read from the packets that come."""

    def __init__(self, line: Line) -> None:
        self.lit: tuple[int, ...] = ()
        self._line = line
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._look)
        self._thread.start()

    def _look(self) -> None:
        while not self._stop.is_set():
            packet = self._line.take(1 + SLOTS, 0.1)
            if len(packet) == 1 + SLOTS:
                self.lit = tuple(slot for slot in range(1, 1 + SLOTS) if packet[slot])

    def close(self) -> None:
        """Look no more."""
        self._stop.set()
        self._thread.join()


@contextlib.contextmanager
def started(folder: Path, *args: object) -> Iterator[subprocess.Popen[str]]:
    """The command with pipes to answer and to listen; what still runs at the end is ended by its id."""
    process = subprocess.Popen(
        [*LAMPWRIGHT, *map(str, args)],
        cwd=folder,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        bufsize=1,
        env=None,
    )
    try:
        yield process
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def say(process: subprocess.Popen[str], line: str) -> None:
    """Type a line."""
    assert process.stdin is not None
    process.stdin.write(line + "\n")
    process.stdin.flush()


def test_a_crossed_wire_is_found_and_written_down(tmp_path: Path, line: Line) -> None:
    """Each lamp lights alone; a swapped pair is named, and the file then says the truth, comments kept."""
    rig = tmp_path / "rig.yaml"
    rig.write_text(RIG.replace("PORT", str(line.device)), "utf-8")
    bench = Bench(line)
    said: list[str] = []
    try:
        with started(tmp_path, "identify") as process:
            assert process.stdout is not None
            for text in process.stdout:
                said.append(text)
                if " of 3: " in text:
                    slot = int(text.split("slot ")[1].split()[0])
                    until(lambda slot=slot: bench.lit == (slot,), f"slot {slot} alone is lit")  # type: ignore[misc]
                    meant = text.split(": ")[1].split(",")[0]
                    say(process, "" if TRUTH[slot] == meant else TRUTH[slot])
                elif "[y/N]" in text:
                    say(process, "y")
            assert process.wait(20) == 0
        until(lambda: bench.lit == (), "the line is dark at the end")
    finally:
        bench.close()
    assert any("swapped pair: " in text for text in said), said
    old = RIG.replace("PORT", str(line.device))
    assert rig.read_text("utf-8") == old.replace("left, slot: 1", "left, slot: 2").replace(
        "middle, slot: 2", "middle, slot: 1"
    )
    assert (tmp_path / "rig.before.yaml").read_text("utf-8") == old


def test_keys_in_a_terminal(tmp_path: Path) -> None:
    """n and the arrows walk, w takes the name of another lamp, Enter says yes, q ends; no is no."""
    rig = tmp_path / "rig.yaml"
    rig.write_text(RIG.split("outputs")[0], "utf-8")
    with InTerminal("identify", "--out", "memory", folder=tmp_path) as show:
        show.shows("1 of 3: left, universe 1 slot 1")
        for keys, text in (
            (b"n", "2 of 3: middle"),
            (b"\x1b[D", "1 of 3: left"),
            (b"w", "which one lights?"),
            (b"mx\x7fiddle\r", "2 of 3: middle"),
            (b"w", "which one lights?"),
            (b"left\r", "3 of 3: right"),
            (b"\r", "[y/N]"),
        ):
            place = len(show.raw)
            show.type(keys)
            show.shows(text, place)
        assert "●" in show.raw
        assert "swapped pair: " in show.text_from(0)
        show.type(b"n\r")
        assert show.ended(20) == 0
    assert rig.read_text("utf-8") == RIG.split("outputs")[0]
    assert [path.name for path in tmp_path.iterdir()] == ["rig.yaml"]


def test_a_file_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """What the player wrote while walking is not written over."""
    rig = tmp_path / "rig.yaml"
    rig.write_text(RIG.split("outputs")[0], "utf-8")
    with started(tmp_path, "identify", "--out", "memory") as process:
        assert process.stdout is not None
        for text in process.stdout:
            if " of 3: " in text:
                say(
                    process,
                    {"left": "middle", "middle": "left", "right": ""}[text.split(": ")[1].split(",")[0]],
                )
            elif "[y/N]" in text:
                rig.write_text("rig: Another\n", "utf-8")
                say(process, "y")
        assert process.wait(20) == 2
    assert rig.read_text("utf-8") == "rig: Another\n"
    assert [path.name for path in tmp_path.iterdir()] == ["rig.yaml"]


def test_without_a_rig_the_adapter_is_found(tmp_path: Path) -> None:
    """A named port is asked, pulsed slot by slot, and where something moves its line is given."""
    behind = Interface(tmp_path / "framed", ANSWER)
    empty = tmp_path / "empty"
    empty.mkdir()
    try:
        with started(empty, "identify", "--out", f"break:{behind.port}") as process:
            assert process.stdout is not None
            said = []
            for text in process.stdout:
                said.append(text)
                if "slot 1 pulses" in text:
                    until(lambda: b"\x7e\x06" in behind.heard, "messages come")
                    say(process, "n")
                elif "slot 2 pulses" in text:
                    until(lambda: b"\x00\x00\x4d" in behind.heard, "slot 2 is lit")
                    say(process, "")
            assert process.wait(20) == 0
    finally:
        behind.close()
    text = "".join(said)
    assert "an interface that takes framed messages: it answers the query" in text
    assert f"- {{kind: serial, port: {behind.port}, framing: packet}}" in text
    assert "nothing on the line can hurt somebody" in text


def test_without_a_rig_and_a_port(tmp_path: Path, invoke: Invoke, monkeypatch: pytest.MonkeyPatch) -> None:
    """A port that cannot be opened is told with what to do; outputs that are no ports are refused."""
    monkeypatch.chdir(tmp_path)
    done = invoke("identify", "--out", f"break:{tmp_path}/nothing")
    assert done.code == 1
    assert "is not there" in done.out
    done = invoke("identify", "--out", "sacn:127.0.0.1/1")
    assert done.code == 2
    assert "give --out break:PORT" in done.errors


def test_new_offers_to_look_for_the_adapter(tmp_path: Path) -> None:
    """In a terminal `new` ends with the offer; without a terminal, or with --yes, it does not ask."""
    with InTerminal("new", "shed", folder=tmp_path) as show:
        for question in ("called?", "side by side?", "rows", "watts", "frames go", "keyboard"):
            show.shows(question)
            show.type(b"\r")
        show.shows("look for it now")
        show.type(b"n\r")
        assert show.ended(20) == 0
    done = subprocess.run(
        [sys.executable, "-m", "bridge", "new", "hut"],
        cwd=tmp_path,
        input="\n" * 6,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
        env=None,
    )
    assert "look for it now" not in done.stdout
    assert (tmp_path / "hut" / "rig.yaml").exists()
