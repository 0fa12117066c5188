"""`play --calibrate` with a keyboard that is really there: it is heard, measured, and its touch written."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from bridge.commands.calibrate import calibrate
from bridge.values.errors import FileError
from tests.shell.jack import Keyboard, jack_server

RIG = "lamps: [{name: door, slot: 1}]\n"
MAPPING = "mapping: Mine\nkeys: [{notes: 36..96, lamps: door, spread: together}]   # all of them\n"


class Player:
    """Plays stroke after stroke, softly until asked to play hard, until it may stop."""

    def __init__(self, keyboard: Keyboard) -> None:
        self.said: list[str] = []
        self._keyboard = keyboard
        self._velocity = 40
        self._enough = threading.Event()
        self._thread = threading.Thread(target=self._play)

    def say(self, text: str) -> None:
        """Hear what is asked for."""
        self.said.append(text)
        if "as hard as" in text:
            self._velocity = 110

    def _play(self) -> None:
        note = 36
        while not self._enough.wait(0.01):
            self._keyboard.play([0x90, note, self._velocity], [0x80, note, 0])
            note = note + 1 if note < 96 else 36

    def __enter__(self) -> Player:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._enough.set()
        self._thread.join()


def test_a_keyboard_is_measured(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The strokes of a real port make a curve, which stands in the file once the player agrees."""
    rig, mapping = tmp_path / "rig.yaml", tmp_path / "mapping.yaml"
    rig.write_text(RIG, encoding="utf-8")
    mapping.write_text(MAPPING, encoding="utf-8")
    monkeypatch.setattr("builtins.input", lambda _question: "yes")
    with jack_server(), Keyboard("stand", "stand piano") as keyboard, Player(keyboard) as player:
        assert calibrate(player.say, rig, mapping, ["stand piano"]) == 0
    new = mapping.read_text(encoding="utf-8")
    line = "curve: [[40, 0.1], [110, 0.9]]   # measured: soft strokes about 40, hard about 110\n"
    assert new == MAPPING.replace("Mine\n", f"Mine\n{line}")
    assert player.said[-1].startswith(f"wrote {mapping}")


def test_a_mistake_is_told_before_anybody_plays(tmp_path: Path) -> None:
    """A mapping with a mistake is not calibrated: nobody is asked for a stroke."""
    rig, mapping = tmp_path / "rig.yaml", tmp_path / "mapping.yaml"
    rig.write_text(RIG, encoding="utf-8")
    mapping.write_text(MAPPING.replace("door", "dor"), encoding="utf-8")
    said: list[str] = []
    with pytest.raises(FileError, match="no lamp or group is called 'dor'"):
        calibrate(said.append, rig, mapping, [])
    assert said == []
