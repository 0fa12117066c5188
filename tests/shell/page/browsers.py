"""Knows: a real browser and a show for it to look at: what the browser tests share.

Must never know: what any test is about.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.shell.page.conftest import wait_for

ROOT = Path(__file__).parents[3]
CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), ""
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SIZES = {"laptop": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}
NEWS = {
    "set": {"songs": ["Harbour lights", "Last ferry"], "at": 0, "playing": False},
    "song": {"name": "Harbour lights", "at": 31.0, "length": 125.0},
    "take": {"recording": False, "seconds": 0, "replaying": "", "loop": False},
    "takes": [{"number": 1, "name": "friday", "seconds": 95.2, "notes": 412}],
    "notices": ["mapping.yaml:34:5: unknown feel 'bel'; did you mean 'bell'?"],
    "outputs": [{"name": "sacn 127.0.0.1 universe 1", "state": "down", "note": "no route"}],
}


def missing(what: str) -> None:
    """Skip with the reason, unless everything is asked for."""
    if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") == "1":
        pytest.fail(f"{what} is missing")
    pytest.skip(f"{what} is missing")


class Program:
    """The small show as a process of its own."""

    def __init__(self, folder: Path, *more: str) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self._arguments = [str(folder / "rig.yaml"), str(folder / "mapping.yaml"), str(self.port), *more]
        self.start()

    def start(self) -> None:
        """Serve; on the same port each time."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.shell.page.fake_show", *self._arguments],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.process.stdout is not None
        self.url = json.loads(self.process.stdout.readline())["url"]
        os.set_blocking(self.process.stdout.fileno(), False)
        self._wishes: list[dict[str, Any]] = []
        self._begun = ""

    def wishes(self) -> list[dict[str, Any]]:
        """Everything asked for so far."""
        assert self.process.stdout is not None
        # A pipe may end in the middle of a line; its rest comes with a later look.
        *whole, self._begun = (self._begun + "".join(self.process.stdout.readlines())).split("\n")
        self._wishes += [json.loads(line) for line in whole]
        return self._wishes

    def asked(self, word: str) -> list[dict[str, Any]]:
        """The wishes of one word."""
        return [wish for wish in self.wishes() if wish.get("word") == word]

    def say(self, line: str) -> None:
        """A line for the show."""
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def stop(self) -> None:
        """End it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(10)
        self.process.stdout.close()


def open_page(chromium: Any, url: str, size: str = "laptop", live: bool = True, **more: Any) -> Iterator[Any]:
    """A page of its own context."""
    width, height = SIZES[size]
    context = chromium.new_context(viewport={"width": width, "height": height}, **more)
    page = context.new_page()
    mistakes: list[str] = []
    page.on("pageerror", lambda error: mistakes.append(str(error)))
    page.on("console", lambda line: mistakes.append(line.text) if "Content Security" in line.text else None)
    page.goto(url)
    page.wait_for_selector(".key")
    if live:
        page.click("#caution-live")
    yield page
    context.close()
    assert not mistakes


BRIGHTNESS = """(name) => {
  const canvas = document.getElementById("rig"), { rig, indexOf } = window.lampwright, i = indexOf(name);
  const { x, y } = rig.spots[i], ratio = rig.ratio;
  const at = [x, y].map((part) => Math.round(part * ratio));
  const [r, g, b] = canvas.getContext("2d").getImageData(...at, 1, 1).data;
  return r + g + b;
}"""


FOCUS = "(({ id, dataset }) => id || dataset.sheet || dataset.is || '')(document.activeElement)"

SPOT = """(name) => {
  const { rig, indexOf } = window.lampwright, { x, y } = rig.spots[indexOf(name)];
  return [x, y, rig.scale];
}"""


def brightness(page: Any, lamp: str) -> int:
    """Red, green and blue of the pixel in the middle of a lamp, added."""
    return int(page.evaluate(BRIGHTNESS, lamp))


def quiet(page: Any, lamp: str = "roof.1.2") -> None:
    """Wait until a lamp is dark."""
    wait_for(lambda: brightness(page, lamp) < 120)
