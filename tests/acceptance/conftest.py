"""Knows: what every acceptance test needs: settings of its own, and a folder with a rig and a mapping."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.shell.outputs.cid import FILE_NAME, config_folder
from tests.acceptance.ears import Ear, ear
from tests.acceptance.inside import invoke
from tests.acceptance.scenes import write_scene
from tests.shell.jack import JackServer, jack_server

__all__ = ["invoke"]


@pytest.fixture(autouse=True)
def settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of settings that commands run here see; the player's own stays untouched."""
    folder = tmp_path_factory.mktemp("settings")
    for name in ("XDG_CONFIG_HOME", "APPDATA", "HOME", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(folder))
    return folder


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    """A folder with rig.yaml and mapping.yaml: one lamp a note."""
    write_scene(tmp_path)
    return tmp_path


@pytest.fixture
def cid(settings: Path) -> bytes:
    """The CID of commands run here, by which their packets are told from those of others on this machine."""
    made = uuid.uuid4()
    folder = config_folder()
    assert settings in folder.parents
    folder.mkdir(parents=True)
    (folder / FILE_NAME).write_text(f"{made}\n", "ascii")
    return made.bytes


@pytest.fixture
def wire(cid: bytes) -> Iterator[Ear]:
    """The far end of `sacn:127.0.0.1/1`."""
    with ear(cid) as one:
        yield one


@pytest.fixture(scope="session")
def jack() -> Iterator[JackServer]:
    """A JACK server; skips where there is none."""
    with jack_server() as running:
        yield running
