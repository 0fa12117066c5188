# ruff: noqa: E501 - a row of a table stays on its line
"""What `check` says of textures and of the music: what each shows, what starts it, which lamps it lights."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.explain import explain
from bridge.shell.files import mapping_from_text
from bridge.values.errors import FileError
from tests.shell.files.cases import boathouse
from tests.shell.files.random_mappings import mapping_text

RIG = boathouse()


def said(text: str) -> list[str]:
    """What is said of a mapping for the boathouse, blanks joined."""
    lines = "\n".join(explain(RIG, mapping_from_text(text, RIG)[0])).split("\n")
    return [re.sub(r" {2,}", " | ", line.strip()) for line in lines if line.strip()]


TEXTURES = """\
textures:
  a: {kind: wave, lamps: roof, run: true, hz: 0.5}
  b: {kind: swell, lamps: west, beats: 1, mix: add}
  c: {steps: [a 4, b 2], lamps: roof}
  d: {kind: drops, lamps: west, hz: 1}
  e: {kind: drops, lamps: west, hz: 1}
keys:
- {notes: 36, texture: b}
- {notes: [38, 40], texture: c}
controls:
- {notes: 50, does: texture, texture: d}
- {notes: 51, does: texture, texture: none}
sound:
  rules:
  - {onset: treble, texture: d}
"""


def test_textures_by_hand() -> None:
    """Every texture has a row with what it shows, all that starts it, and its lamps."""
    lines = said(TEXTURES)
    at = lines.index("Textures")
    rows = "\n".join(lines[at:])
    assert lines[at + 1] == "texture | shows | played by | lamps | slots | line"
    assert (
        "a | wave, 0.5 cycles a second, 0 to 1 | by itself, a step of c | roof (24 lamps) | 1..24 | 2" in rows
    )
    assert (
        "b | swell, a cycle a beat, 0 to 1, add | C2 (36), a step of c | west (3 lamps) | 25..27 | 3" in rows
    )
    assert "c | steps a, b, a cycle in 6 beats, 0 | D2 (38), E2 (40) | roof (24 lamps) | 1..24 | 4" in rows
    assert re.search(r"^d \| drops.*\| the press on line 11, strokes of \|", rows, re.MULTILINE)
    assert re.search(r"^e \| drops.*\| nothing \|", rows, re.MULTILINE)
    assert "D#3 (51) | any input | no texture | 12" in lines


def test_sound_by_hand() -> None:
    """Every rule of the music has a row: which band, its level or its strokes, and what comes of it."""
    lines = said(
        "sound:\n  rules:\n"
        "  - {band: bass, lamps: left, curve: square, between: [0.1, 0.7]}\n"
        "  - {band: middle, lamps: west, as: bar}\n"
        "  - {onset: bass, plays: C2, least: 0.4}\n"
        "  - {onset: treble, chase: [west, door]}\n"
        "keys:\n- {notes: 36, lamps: door}\n"
    )
    at = lines.index("Sound")
    assert lines[at + 2 : at + 6] == [
        "level of bass | left (12 lamps) | 1..3, 7..9, 13..15, 19..21 | 0.1 to 0.7, square | 3",
        "level of middle | west (3 lamps), as a bar | 25..27 | 0 to 1 | 4",
        "strokes of bass from 0.4 up | plays C2 (36) on channel 10 | 0 to 1 | 5",
        "strokes of treble | walks on through west, door (4 | 25..27, 40 | 0 to 1 | 6",
    ]


@pytest.mark.parametrize(
    ("text", "reach"),
    [
        (
            "sound: {rules: [{band: bass, lamps: all}]}",
            "every lamp has a key, a pad, a chord, a texture or the music",
        ),
        (
            "sound: {rules: [{onset: bass, lamps: roof}]}",
            "nothing lights west, door (4 lamps): slots 25..27, 40",
        ),
        ("textures: {a: {kind: wave, run: true}}", "every lamp has a key, a pad, a chord or a texture"),
    ],
)
def test_what_the_music_and_textures_light_is_reached(text: str, reach: str) -> None:
    """A lamp that only the music or a texture lights is not called dark, in a mapping without any key too."""
    assert f"- {reach}" in said(text)


def test_music_that_turns_a_knob_is_named_by_its_band() -> None:
    """A control that follows a band says which, and not a number that only the program knows."""
    lines = said(
        "looks: {l: {door: 1}}\ncontrols:\n- {band: middle, sets: look, look: l}\n- {beat: true, sets: master}\n"
    )
    assert any(line.startswith("level of middle | any input | look l") for line in lines)
    assert any(line.startswith("beat | any input | master of all") for line in lines)


@given(st.integers(0, 10_000))
def test_any_mapping_is_explained(seed: int) -> None:
    """Whatever a mapping holds, it is said without an error, each texture once."""
    try:
        mapping, _ = mapping_from_text(mapping_text(seed), RIG)
    except FileError:
        return
    text = "\n".join(explain(RIG, mapping))
    assert ("\nTextures\n" in text) == bool(mapping.textures)
