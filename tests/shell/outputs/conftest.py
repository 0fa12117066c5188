"""Knows: what every test of outputs needs: settings of its own, and no thread left behind."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from .bench import eventually


@pytest.fixture(autouse=True)
def _own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.setenv("APPDATA", str(tmp_path / "settings"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))


@pytest.fixture(autouse=True)
def _no_thread_stays() -> Iterator[None]:
    before = set(threading.enumerate())
    yield
    assert eventually(lambda: not [t for t in threading.enumerate() if t not in before and t.is_alive()])
