"""A second machine takes over: two shows follow one song, and a receiver never shows a dark frame.

The receiver is the one of tests/shell/outputs/receiver.py: ANSI E1.31 clauses 6.2.3, 6.2.6, 6.7.1 and 6.7.2.
"""

from __future__ import annotations

import contextlib
import signal
import socket
import threading
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.acceptance.ears import PORT, sacn_port
from tests.acceptance.programs import NEEDS_POSIX, Piped, until
from tests.acceptance.scenes import picture, write_scene, write_song
from tests.shell.outputs.receiver import DATA_LOSS, Receiver

NOTES = {60: 100, 64: 127}
LIT = picture(NOTES)
OUTPUT = "outputs: [{kind: sacn, host: 127.0.0.1}]"

LATE = 0.5
"""Seconds that a busy machine may be late in all."""

pytestmark = NEEDS_POSIX


class Lamps:
    """A receiver at the standard's port that hears whoever sends to this machine.

    Attributes:
        receiver: what it shows, and showed.
        last: CID -> when its last packet came.
    """

    def __init__(self) -> None:
        self.receiver = Receiver()
        self.last: dict[bytes, float] = {}
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", PORT))
        self._socket.settimeout(0.01)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    def _listen(self) -> None:
        while not self._over.is_set():
            with contextlib.suppress(TimeoutError):
                raw = self._socket.recv(2048)
                self.last[raw[22:38]] = time.monotonic()  # root layer: CID (Table 4-1)
                self.receiver.hear(raw, time.monotonic())
            self.receiver.look(time.monotonic())

    def shows(self, cid: bytes) -> None:
        """Wait until the lit picture of this source is seen."""
        until(lambda: self.receiver.history[-1:] and self.receiver.history[-1][1:] == (cid, LIT), "it is lit")

    def turned_to(self, cid: bytes) -> float:
        """When this source was last turned to."""
        return max(moment for moment, shown, _ in self.receiver.history if shown == cid)

    def close(self) -> None:
        """Let the port go."""
        self._over.set()
        self._thread.join()
        self._socket.close()


@pytest.fixture
def lamps(settings: Path) -> Iterator[Lamps]:
    """The far end of both machines."""
    assert settings.is_dir()
    with sacn_port(), contextlib.closing(Lamps()) as one:
        yield one


@pytest.fixture
def machines(tmp_path: Path) -> tuple[Path, Path]:
    """Two folders with one song: the rig of the machine that plays, and of the one that stands by."""
    folders = tmp_path / "plays", tmp_path / "stands by"
    for folder in folders:
        folder.mkdir()
        write_scene(folder, on_exit="hold", outputs=OUTPUT)
        write_song(folder / "song.mid", *NOTES.items())
    return folders


def play(folder: Path, *options: str) -> Piped:
    """The show of one machine."""
    return Piped("play", "--no-page", "--midi-file", "song.mid", *options, folder=folder)


def both(cid: bytes) -> tuple[bytes, bytes]:
    """The CIDs of the first and the second program on one machine (`shell/outputs/cid.py`)."""
    return cid, uuid.uuid5(uuid.UUID(bytes=cid), "2").bytes


def test_a_killed_show_is_replaced(lamps: Lamps, machines: tuple[Path, Path], cid: bytes) -> None:
    """SIGKILL in a song: 2.5 s after the last packet the other machine's picture shows, no dark one before.

    Started again, the first machine is the same source as before, and takes its lamps back.
    """
    plays, stands_by = machines
    first, second = both(cid)
    with play(plays) as main:
        lamps.shows(first)
        lit_from = len(lamps.receiver.history)
        with play(stands_by, "--stand-by"):
            until(lambda: second in lamps.last, "both send")
            assert lamps.receiver.source == first
            main.signal(signal.SIGKILL)
            lamps.shows(second)
            silence = lamps.turned_to(second) - lamps.last[first]
            assert DATA_LOSS < silence < DATA_LOSS + LATE
            assert {slots for _, _, slots in lamps.receiver.history[lit_from:]} == {LIT}
            with play(plays):
                lamps.shows(first)


def test_a_show_that_ends_is_replaced_at_once(lamps: Lamps, machines: tuple[Path, Path], cid: bytes) -> None:
    """After a clean end with `hold` (Stream_Terminated) the other machine's next packet shows, never dark."""
    plays, stands_by = machines
    first, second = both(cid)
    with play(plays) as main:
        lamps.shows(first)
        lit_from = len(lamps.receiver.history)
        with play(stands_by, "--stand-by"):
            until(lambda: second in lamps.last, "both send")
            main.signal(signal.SIGINT)
            assert main.ended(10.0) == 130
            lamps.shows(second)
            assert lamps.turned_to(second) - lamps.last[first] < LATE
            assert [slots for _, _, slots in lamps.receiver.history[lit_from:]] == [LIT]
