"""How late the frames of `lampwright play` are with no page open, with ten, and with hostile ones besides.

One run of the whole program plays the demo's song. Turn by turn nobody looks, ten browsers look (sockets
of ours that see every picture, as a page does), and ten look while others flood: messages without a pause,
messages of 10 MB, bytes that say nothing, connections that stay silent, sockets of another site. The turns
alternate, so that what else the machine does falls on all alike. Lateness is read, by this process, from the
picture that the show hands to its house, so that the show is asked for nothing.

The page is to cost no more than a tenth: the ratios of the medians and of the 99th percentiles are printed.
Linux only (the picture is found in /dev/shm). Run it by hand:
`python -m tests.benchmarks.pages [SECONDS OF A TURN] [ROUNDS]`. Not part of the test run.
"""

from __future__ import annotations

import contextlib
import json
import logging
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from multiprocessing import resource_tracker
from pathlib import Path
from typing import Any

from websockets.exceptions import WebSocketException
from websockets.sync.client import connect

from bridge.shell.files import read_rig
from bridge.shell.picture import PictureReader
from tests.benchmarks.show import BOATHOUSE, LAMPWRIGHT, SONG, machine, spread, table

PAGES = 10
CALM, LOOK, FLOOD = "no page open", f"{PAGES} pages open", f"{PAGES} open, and a flood"


def look(port: int, pages: int) -> None:
    """So many pages in this process, until its input ends; each says of every picture that it was seen."""
    origin: Any = f"http://127.0.0.1:{port}"

    def page() -> None:
        with (
            contextlib.suppress(OSError, WebSocketException),
            connect(f"ws://127.0.0.1:{port}/socket", origin=origin) as browser,
        ):
            for said in browser:
                if isinstance(said, bytes):
                    number = int.from_bytes(said[1:5], "little")
                    browser.send(json.dumps({"word": "seen", "n": number}))

    for _ in range(pages):
        threading.Thread(target=page, daemon=True).start()
    sys.stdin.read()


def flood(port: int) -> None:
    """Everything a page must refuse, as fast as it goes, until the input ends."""
    logging.disable()
    origin: Any = f"http://127.0.0.1:{port}"
    address = f"ws://127.0.0.1:{port}/socket"
    pause = threading.Event()

    def again(work: Any) -> None:
        while not pause.wait(0.01):
            with contextlib.suppress(OSError, WebSocketException, TimeoutError):
                work()

    def messages() -> None:
        note = json.dumps({"word": "note", "note": 60, "velocity": 100, "source": "piano"})
        with connect(address, origin=origin) as browser:
            while not pause.wait(0.0001):
                browser.send(note)

    def large() -> None:
        with connect(address, origin=origin) as browser:
            browser.send("x" * 10_000_000)
            browser.recv(1.0)

    def rubbish() -> None:
        with connect(address, origin=origin) as browser:
            browser.send(random.randbytes(200))
            browser.recv(1.0)

    def silent() -> None:
        held = [socket.create_connection(("127.0.0.1", port), 1.0) for _ in range(50)]
        pause.wait(0.5)
        for one in held:
            one.close()

    def stranger() -> None:
        with connect(address, origin="http://elsewhere.example"):  # type: ignore[arg-type]
            pass

    for work in (messages, messages, large, rubbish, silent, stranger):
        threading.Thread(target=again, args=(work,), daemon=True).start()
    sys.stdin.read()


@contextlib.contextmanager
def part(*args: object) -> Iterator[None]:
    """One of the functions above in a process of its own, ended with the block."""
    command = [sys.executable, "-m", "tests.benchmarks.pages", *map(str, args)]
    process = subprocess.Popen(command, stdin=subprocess.PIPE)
    try:
        time.sleep(1.0)  # until it is there; what that costs is not measured
        yield
    finally:
        assert process.stdin is not None
        process.stdin.close()
        process.wait()


def lateness(reader: PictureReader, seconds: float, into: list[float]) -> None:
    """Gather the lateness (ms) of the frames of the next seconds."""
    last = -1
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = reader.look()
        if found is not None and found[1].number != last:
            if last >= 0:
                into.append(found[1].late * 1000)
            last = found[1].number
        time.sleep(0.012)


def measure(seconds: float, rounds: int) -> tuple[dict[str, list[float]], dict[str, Any], str]:
    """The lateness in each state, the last news, and what the show said at its end."""
    found: dict[str, list[float]] = {CALM: [], LOOK: [], FLOOD: []}
    before = set(Path("/dev/shm").glob("psm_*"))
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        for name in ("rig.yaml", "mapping.yaml"):
            Path(folder, name).write_bytes((BOATHOUSE / name).read_bytes())
        whole = rounds * (3 * seconds + 8) + 10
        options = ["play", "--midi-file", str(SONG), "--page-port", str(port), "--seconds", str(whole)]
        show = subprocess.Popen(
            [*LAMPWRIGHT, *options],
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            time.sleep(4.0)
            rig, _ = read_rig(Path(folder, "rig.yaml"))
            fresh = [path for path in Path("/dev/shm").glob("psm_*") if path not in before]
            reader = own(fresh, show.pid, rig.universes)
            for _ in range(rounds):
                lateness(reader, seconds, found[CALM])
                with part("look", port):
                    lateness(reader, seconds, found[LOOK])
                with part("look", port), part("flood", port):
                    lateness(reader, seconds, found[FLOOD])
            news = (reader.look() or (0, 0, 0, {}))[3]
            reader.close()
        finally:
            show.terminate()
            said = show.communicate()[0]
    return found, news, said


def own(paths: list[Path], pid: int, universes: tuple[int, ...]) -> PictureReader:
    """The picture of the show with this id: others may have begun a show at the same time."""
    maps = Path(f"/proc/{pid}/maps").read_text()
    path = next(path for path in paths if str(path) in maps)
    reader = PictureReader(path.name, universes)
    # It is the show's: Python before 3.13 would take it for ours to remove.
    resource_tracker.unregister(f"/{path.name}", "shared_memory")
    return reader


def main(seconds: float, rounds: int) -> None:
    """Print the table."""
    conditions = machine()
    found, news, said = measure(seconds, rounds)
    rows = [(name, len(late), *spread(late, 3)) for name, late in found.items()]
    sums = {name: [float(part) for part in row[2:4]] for name, row in zip(found, rows, strict=True)}
    ratios = [
        f"{name}: {sums[name][0] / sums[CALM][0]:.2f} times the median, "
        f"{sums[name][1] / sums[CALM][1]:.2f} times the 99 %"
        for name in (LOOK, FLOOD)
    ]
    ends = next((line for line in said.splitlines() if "frames" in line and "late" in line), "")
    table(
        f"The page beside the show: {rounds} rounds of {seconds:g} s each",
        ("", "frames", "late p50 ms", "p99 ms", "max ms"),
        rows,
        (*ratios, ends, f"skipped {news.get('skipped')}, errors {news.get('errors')}", conditions),
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["look"]:
        look(int(sys.argv[2]), PAGES)
    elif sys.argv[1:2] == ["flood"]:
        flood(int(sys.argv[2]))
    else:
        main(
            float(sys.argv[1]) if len(sys.argv) > 1 else 10.0,
            int(sys.argv[2]) if len(sys.argv) > 2 else 4,
        )
