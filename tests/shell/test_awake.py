"""Staying awake: asked for while a show is on, taken back with it, never in its way."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from bridge.shell.awake import Awake, command, on_battery

WAITS = (sys.executable, "-c", "import sys; sys.stdin.read()")


def test_what_holds_sleep_off_ends_with_us() -> None:
    """The helper runs while the show does and is gone after close, twice called."""
    awake = Awake(WAITS)
    assert awake.holding
    assert awake.note == ""
    awake.close()
    awake.close()
    assert not awake.holding


@pytest.mark.parametrize("asked", [(), ("no-such-program-here",)])
def test_a_system_that_cannot_be_asked_is_told_of(asked: tuple[str, ...]) -> None:
    """The show goes on; the note says what to do."""
    awake = Awake(asked)
    assert "switch its sleep off yourself" in awake.note
    assert not awake.holding
    awake.close()


@pytest.mark.parametrize(("platform", "first"), [("linux", "systemd-inhibit"), ("darwin", "caffeinate")])
def test_each_system_has_its_program(platform: str, first: str) -> None:
    """Linux and macOS are asked by a program of theirs; elsewhere there is none."""
    assert command(platform)[0] == first
    assert command("plan9") == ()


@pytest.mark.parametrize(
    ("kind", "status", "found"),
    [("Battery", "Discharging", True), ("Battery", "Charging", False), ("Mains", "Discharging", False)],
)
def test_a_battery_being_used_up_is_seen(tmp_path: Path, kind: str, status: str, found: bool) -> None:
    """Only a battery that discharges counts; a machine that says nothing counts as plugged in."""
    (tmp_path / "BAT0").mkdir()
    (tmp_path / "BAT0" / "type").write_text(kind + "\n")
    (tmp_path / "BAT0" / "status").write_text(status + "\n")
    assert on_battery(tmp_path) is found
    assert on_battery(tmp_path / "nothing") is False
