# ruff: noqa: E501 - an example of the language stays on its lines
"""Knows: the boathouse as two files, and how a test says where a mistake stands.

Must never know: how files are read.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.errors import FileError, Problem
from bridge.values.rig import Rig

RIG = """\
rig: Boathouse lamps
refresh_hz: 40
on_exit: blackout
supplies:
  quay: {volts: 12, amps: 25}
lamp_types:
  workshop: {watts: 8, response: cie, floor: 0.02, ceiling: 0.9}
  post: {watts: 8, parts: {red: {slot: 0, at: [0, 0.6]}, amber: {slot: 1, at: [0, 0.3]}, green: {slot: 2, at: [0, 0]}}}
grids:
  - {name: roof, columns: 6, rows: 4, at: [0, 2], spacing: [1.2, 0.9], type: workshop, supply: quay, slot: 1}
lamps:
  - {name: west, type: post, supply: quay, at: [-1.5, 0], slot: 25}
  - {name: door, type: workshop, supply: quay, at: [3, 1], slot: 040, rest: 0.1}
groups:
  left: [roof.1, roof.2, roof.3]
  right: [roof.4, roof.5, roof.6]
  reds: {colour: red}
outputs:
  - {kind: sacn, host: 127.0.0.1, universe: 1}
  - {kind: serial, port: /dev/ttyUSB0, framing: break}
guards: {load: limit, flash: limit, heat: warn}
"""

MAPPING = """\
mapping: Boathouse organ
inputs: {piano: "part of a port's name", pads: "part of another"}
curve: linear
feel: organ
feels:
  organ: {attack_ms: 0, release_ms: 150}
  bell: {attack_ms: 0, decay_ms: 800, sustain: 0}
keys:
  - {notes: C3..B4, from: piano, lamps: roof, spread: each, between: [0.15, 1]}
  - {notes: 36, from: pads, lamps: left, spread: together, mode: shot, feel: bell}
looks:
  walkin: {left: 0.4, door: 0.2}
controls:
  - {control: 21, sets: master}
  - {control: 22, sets: level, lamps: left}
  - {notes: 48, from: pads, does: blackout}
  - {notes: 49, from: pads, does: release_all}
  - {notes: 50, from: pads, does: look, look: walkin, fade_ms: 2000}
"""

MARK = "¶"
"""Stands in a case's text just before the place that a message must name."""


def boathouse() -> Rig:
    """The rig of the boathouse."""
    return rig_from_text(RIG)[0]


def places(marked: str) -> tuple[str, list[tuple[int, int]]]:
    """A text without its marks, and the line and column of each mark."""
    found = []
    text = ""
    for piece in marked.split(MARK)[:-1]:
        text += piece
        lines = text.split("\n")
        found.append((len(lines), len(lines[-1]) + 1))
    return marked.replace(MARK, ""), found


def told(read: Callable[[str], Any], marked: str) -> tuple[list[str], list[str]]:
    """What reading says, mistakes or warnings without the file's name, and where the marks stand."""
    text, found = places(marked)
    try:
        problems: tuple[Problem, ...] = tuple(read(text)[1])
    except FileError as error:
        problems = error.problems
    assert {problem.file for problem in problems} <= {"a.yaml"}
    said = [str(problem).removeprefix("a.yaml:") for problem in problems]
    return said, [f"{line}:{column}: " for line, column in found]


def rig_told(marked: str) -> tuple[list[str], list[str]]:
    """`told` of a rig."""
    return told(lambda text: rig_from_text(text, "a.yaml"), marked)


def mapping_told(marked: str) -> tuple[list[str], list[str]]:
    """`told` of a mapping for the boathouse."""
    return told(lambda text: mapping_from_text(text, boathouse(), "a.yaml"), marked)


def case(marked: str, *messages: str) -> Any:
    """A row of a table of mistakes: a text with marks, and one message for each mark in turn."""
    return pytest.param(marked, messages, id=(messages[0] if messages else marked)[:60])


def agree(said: tuple[list[str], list[str]], messages: tuple[str, ...]) -> None:
    """Fail unless just these messages were told, each at its mark; one that ends in … may go on."""
    told_there, marks = said
    wanted = [mark + message for mark, message in zip(marks, messages, strict=True)]
    assert len(told_there) == len(wanted), told_there
    for told_one, want in zip(told_there, wanted, strict=True):
        if want.endswith("…"):
            assert told_one.startswith(want[:-1])
        else:
            assert told_one == want
