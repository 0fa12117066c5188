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

FULL = """\
mapping: All that a mapping can say
inputs: {piano: grand, kit: drum, box: fader}
middle_c: C3
curve: [[10, 0.05], [64, 0.4], [110, 1]]
feel: organ
merge: latest
tempo: 96
thru: synth
feels:
  organ: {attack_ms: 20, release_ms: 150}
  bell: {attack_ms: 5, decay_ms: 800, sustain: 0}
keys:
  - {notes: C2..B3, from: piano, lamps: roof, spread: each, between: [0.15, 1], aftertouch: 0.5, release_velocity: true}
  - {notes: white C2..B2, from: piano, channel: 2, lamps: [west, door], spread: wrap, velocity: 1..60, transpose: 12}
  - {notes: [C4, D4, E4], from: piano, lamps: [roof.6.1, door, west.red], spread: across, mode: latch, one_of: scene, pedal: ignore}
  - {notes: F4, from: piano, lamps: all, spread: together, solo: true, repeat: 0.5, velocity: [61, 127]}
  - {notes: Closed Hi-Hat, from: kit, lamps: left, mode: shot, feel: bell, choke: hats, ignore_repeat_ms: 30}
  - {notes: [open hihat, 51], from: kit, lamps: right, spread: together, mode: shot, feel: bell, choke: hats, merge: highest}
  - {notes: Bass Drum 1, from: kit, lamps: "*.red", curve: hard, min_velocity: 12, min_on_ms: 120}
looks:
  walkin: {left: 0.4, door: 0.2}
  dusk: {"*.red": 0.3}
controls:
  - {control: 0, from: box, sets: master}
  - {control: 1, from: box, bits: 14, sets: level, lamps: left, curve: square, between: [0.1, 0.9], takeover: true}
  - {control: 22, from: box, sets: attack_ms, feel: bell, between: [0, 500]}
  - {control: 23, from: box, sets: sustain, feel: organ}
  - {control: 24, from: box, sets: decay_ms}
  - {control: 25, from: box, sets: tempo, between: [60, 180]}
  - {control: 26, from: box, sets: look, look: dusk}
  - {control: 27, from: box, sets: fade_ms, between: [0, 8000]}
  - {bend: true, channel: 3, sets: master, lamps: right}
  - {pressure: true, from: piano, sets: level, lamps: door}
  - {rpn: 0, sets: master, lamps: left}
  - {nrpn: 1300, sets: release_ms}
  - {program: 1, does: look, look: walkin, fade_ms: 2000}
  - {program: 2, does: look, look: none}
  - {notes: [Cowbell, 67], from: kit, does: blackout, toggle: true}
  - {control: 64, channel: 16, does: record}
  - {notes: 0, does: release_all}
  - {control: 105, does: next}
chords:
  window_ms: 30
  shapes:
    - {chord: major, lamps: left, name: sunrise}
    - {chord: m7, levels: {right: 0.5, door: 1}, inversion: first, exact: true, feel: organ, from: piano}
    - chord: [0, 5, 7]
      draw: |
        .*..*.
        *1..9*
      over: roof
      move: bass
      turn: true
      then: next
    - {chord: dominant 9, draw: ['..**', 0123], move: root, curve: soft, between: [0.2, 0.8], channel: 1}
    - {chord: half-diminished 7th, chase: roof, step_ms: 90, then: stay, notes: C1..B2, takes_keys: true}
    - {chord: 5, chase: [left, right], step_beats: 0.5}
"""
"""Every key of the language at least once."""

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
