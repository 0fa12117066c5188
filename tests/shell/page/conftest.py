"""Knows: what the page's tests share: a copy of the boathouse, a small show, a page served beside it."""

from __future__ import annotations

import contextlib
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from websockets.sync.client import ClientConnection, connect

from bridge.shell.files import read_rig
from bridge.shell.page import PageServer, PageSettings, Teacher
from bridge.values.rig import Rig
from tests.shell.page.fake_show import FakeShow

BOATHOUSE = Path(__file__).parents[3] / "examples" / "boathouse"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The boathouse's two files, to be written to."""
    for name in ("rig.yaml", "mapping.yaml"):
        shutil.copy(BOATHOUSE / name, tmp_path / name)
    return tmp_path


class Served:
    """A page and its show."""

    def __init__(self, folder: Path, settings: PageSettings) -> None:
        self.show = FakeShow(folder / "rig.yaml", folder / "mapping.yaml")
        self.page = PageServer(
            self.show.look,
            self.show.send,
            self.show.rig,
            settings,
            self.show.mapping,
            lambda n: b"png" if n == 1 else None,
            lambda mapping, _text: self.show.hear(mapping),
        )
        self.show.start()
        self.page.start()

    @property
    def origin(self) -> str:
        """Scheme, host and port."""
        return self.page.url.rstrip("/")

    @property
    def host(self) -> str:
        """Host and port."""
        return self.origin.removeprefix("http://")

    @property
    def place(self) -> tuple[str, int]:
        """Address and port."""
        return self.host.split(":")[0], int(self.host.split(":")[1])

    @contextlib.contextmanager
    def browser(self, **more: Any) -> Iterator[ClientConnection]:
        """A socket, as a browser would open it."""
        more = {"origin": self.origin, "open_timeout": 5, "close_timeout": 1} | more
        with connect(f"ws://{self.host}/socket", **more) as browser:
            yield browser

    def close(self) -> None:
        """End both."""
        self.page.stop()
        self.show.stop()


@pytest.fixture
def serve(folder: Path) -> Iterator[Callable[..., Served]]:
    """Serves the boathouse with settings as given; ended with the test."""
    open_now: list[Served] = []

    def start(**more: Any) -> Served:
        usual = PageSettings(port=0, mapping=folder / "mapping.yaml", rig=folder / "rig.yaml")
        open_now.append(Served(folder, replace(usual, **more)))
        return open_now[-1]

    yield start
    for served in open_now:
        served.close()


def wait_for(condition: Callable[[], Any], seconds: float = 5.0) -> Any:
    """What the condition gives once it gives something."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := condition():
            return found
        time.sleep(0.01)
    raise AssertionError("waited in vain")


@pytest.fixture
def rig(folder: Path) -> Rig:
    """The boathouse's rig."""
    return read_rig(folder / "rig.yaml")[0]


@pytest.fixture
def teacher(folder: Path, rig: Rig) -> Teacher:
    """A teacher of the boathouse's files."""
    return Teacher(folder / "mapping.yaml", folder / "rig.yaml", rig)
