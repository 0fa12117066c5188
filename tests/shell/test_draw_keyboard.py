# ruff: noqa: E501 - a mapping stays on its lines
"""The chart of keys and pads: what is written on each, that it fits, and that a file is whole or not there."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from bridge.parts.colours import rgb
from bridge.shell.chart_labels import fitted, manuals, wrapped
from bridge.shell.draw_keyboard import (
    BLACK_WIDE,
    EBONY,
    EBONY_IDLE,
    IVORY,
    IVORY_IDLE,
    MARGIN,
    PAD,
    WHITE_TALL,
    WHITE_WIDE,
    WIDTH,
    keyboard_chart,
    keyboard_picture,
)
from bridge.shell.draw_light import GROUND, font
from bridge.shell.files import mapping_from_text
from bridge.values.errors import DeviceError, FileError
from bridge.values.mapping import Mapping
from tests.shell.files.cases import FULL, boathouse
from tests.shell.files.random_mappings import mapping_text

RIG = boathouse()
TOP = 92 + 34 + 8
"""Where the keys of the first keyboard begin."""

SPLIT = (
    "inputs: {a: one, b: two}\nkeys:\n"
    "- {notes: [C4, D#4, E4], from: a, channel: 1, lamps: west}\n"
    "- {notes: C4, from: a, channel: 2, lamps: left}\n"
    "- {notes: [36, 42], from: b, lamps: [roof.1.1, door], mode: shot, feel: f}\n"
    "feels: {f: {decay_ms: 100}}\nlooks: {dusk: {door: 1}}\n"
    "controls:\n- {notes: 60, from: b, does: look, look: dusk}\n- {notes: 61, from: b, does: release_all}\n"
)


def mapping(text: str) -> Mapping:
    """A mapping for the boathouse."""
    return mapping_from_text(text, RIG)[0]


def pixels(text: str) -> np.ndarray:
    """The chart of a mapping, (height, width, 3)."""
    return np.asarray(keyboard_picture(RIG, mapping(text))).astype(int)


def test_what_is_written_on_keys_and_pads() -> None:
    """Each input and channel has keys or pads of its own; on each its lamps, its slot, and what it does."""
    first, second, third = manuals(RIG, mapping(SPLIT))
    assert [(one.title, one.pads) for one in (first, second, third)] == [
        ("a, channel 1", False),
        ("a, channel 2", False),
        ("b", True),
    ]
    assert {note: (label.text, label.more) for note, label in first.labels.items()} == {
        60: ("west.red", "slot 25"),
        63: ("west.amber", "slot 26"),
        64: ("west.green", "slot 27"),
    }
    assert first.labels[63].colour == rgb("amber")
    assert (second.labels[60].text, second.labels[60].more) == ("left", "12 lamps")
    assert second.labels[60].slots == "slots 1..3, 7..9, 13..15, 19..21"
    assert {note: label.text for note, label in third.labels.items()} == {
        36: "roof.1.1", 42: "door", 60: "look dusk", 61: "let go",
    }  # fmt: skip


def test_several_rules_on_one_key_are_all_named() -> None:
    """What a key lights by one rule and by another stands on it; the same lamps twice stand there once."""
    (one,) = manuals(
        RIG,
        mapping("keys: [{notes: 60, lamps: west.red}, {notes: 60, lamps: door}, {notes: 60, lamps: door}]"),
    )
    assert one.labels[60].text == "west.red + door"
    # Two colours are none.
    assert one.labels[60].colour is None


@given(st.text(st.characters(codec="latin-1", exclude_categories=["C"]), max_size=60), st.integers(30, 300))
def test_a_text_is_made_to_fit(text: str, length: int) -> None:
    """Whatever a lamp is called, what is written is no longer than its key, in the largest size that fits."""
    size, shown = fitted(text, length, (15, 13, 11))
    assert font(size).getlength(shown) <= max(length, font(size).getlength("…"))
    if shown == text:
        assert all(font(larger).getlength(text) > length for larger in (15, 13) if larger > size)
    for line in wrapped(text, length, 12, 2):
        assert font(12).getlength(line) <= max(length, font(12).getlength("…"))
    assert len(wrapped(text, length, 12, 2)) <= 2


def at_key(image: np.ndarray, place: float, down: float) -> tuple[int, ...]:
    """The colour at the left edge of a key: `place` in white keys from the left."""
    x = round(MARGIN + place * WHITE_WIDE)
    return tuple(image[TOP + round(down), x])


def test_used_keys_stand_out() -> None:
    """Used white keys are ivory, used black ones ebony; idle ones of both kinds stay in the dark."""
    image = pixels("keys: [{notes: [C4, D#4, E4], lamps: west}]")
    foot = WHITE_TALL - 60
    # White keys C D E F of the octave: used, idle, used, idle.
    assert [at_key(image, place + 0.12, foot) for place in range(4)] == [IVORY, IVORY_IDLE, IVORY, IVORY_IDLE]
    # Black keys C# and D# lie over the gaps.
    half = BLACK_WIDE / WHITE_WIDE / 2
    assert [at_key(image, 1 - half + 0.1, 30), at_key(image, 2 - half + 0.1, 30)] == [EBONY_IDLE, EBONY]


def test_a_dot_has_the_colour_of_the_lamp() -> None:
    """Red, amber and green lenses put dots of these colours on their keys, and a white lamp none of them."""
    image = pixels("keys: [{notes: [C4, D4, E4], lamps: west}]")
    for place, colour in enumerate(("red", "amber", "green")):
        x = round(MARGIN + place * WHITE_WIDE + (WHITE_WIDE - 3) / 2)
        near = image[TOP + WHITE_TALL - 16 : TOP + WHITE_TALL - 10, x - 3 : x + 3].reshape(-1, 3)
        assert tuple(np.median(near, axis=0)) == rgb(colour)


def test_names_are_written_on_the_keys() -> None:
    """Another name makes other writing, within its key and nowhere else."""
    one = pixels("keys: [{notes: [C4, D4], lamps: [west.red, door]}]")
    other = pixels("keys: [{notes: [C4, D4], lamps: [west.red, roof.1.1]}]")
    down, across = np.nonzero((one != other).any(axis=2))
    assert len(down) > 50
    assert across.min() >= MARGIN + WHITE_WIDE
    assert across.max() < MARGIN + 2 * WHITE_WIDE
    assert down.min() >= TOP
    assert down.max() < TOP + WHITE_TALL


def test_pads_and_channels_are_told_apart() -> None:
    """A second channel adds a keyboard below the first; pads are fields of their own kind."""
    keys = "keys:\n- {notes: C4, channel: 1, lamps: door}\n"
    one, two = pixels(keys), pixels(keys + "- {notes: C4, channel: 2, lamps: door}\n")
    assert two.shape[0] > one.shape[0] + WHITE_TALL
    assert one.shape[1] == two.shape[1] == WIDTH
    assert not (one == PAD).all(axis=2).any()
    pads = pixels("keys: [{notes: 36, lamps: door, channel: 10}]")
    assert (pads == PAD).all(axis=2).sum() > 5000
    assert not (pads == IVORY).all(axis=2).any()


def test_a_far_key_does_not_stretch_the_picture() -> None:
    """Keys four octaves apart stand in rows; octaves without a used key in their row are left out."""
    near = pixels("keys: [{notes: [C4, D4], lamps: [door, west.red]}]")
    far = pixels("keys: [{notes: [C1, C7], lamps: [door, west.red]}]")
    farther = pixels("keys: [{notes: [C0, C8], lamps: [door, west.red]}]")
    row = WHITE_TALL + 40
    assert far.shape[0] - near.shape[0] == row
    # C0..B3, C4..B7 and C8 up: the middle row has no key.
    assert farther.shape[0] - near.shape[0] == row


def test_a_mapping_without_keys_says_so() -> None:
    """No key and no pad: a picture that says it, and no keyboard."""
    image = pixels("controls: [{control: 7, sets: master}]")
    assert not (image == IVORY).all(axis=2).any()
    assert (image != GROUND).any()


def test_any_mapping_is_drawn() -> None:
    """Whatever loads can be drawn; nothing is drawn outside the picture or the margins."""
    drawn = 0
    for seed in range(60):
        try:
            some = mapping(mapping_text(seed, 0.0))
        except FileError:
            continue
        image = np.asarray(keyboard_picture(RIG, some))
        assert (image[:, : MARGIN // 2] == GROUND).all()
        drawn += 1
    assert drawn > 6


def test_the_file_is_whole_or_not_there(tmp_path: Path) -> None:
    """What is written is the picture; where it cannot be written, the one named error and no half file."""
    path = tmp_path / "chart.png"
    keyboard_chart(RIG, mapping(FULL), path)
    with Image.open(path) as image:
        assert np.array_equal(np.asarray(image), np.asarray(keyboard_picture(RIG, mapping(FULL))))
    with pytest.raises(DeviceError, match="cannot write"):
        keyboard_chart(RIG, mapping(FULL), tmp_path / "none" / "chart.png")
    assert [entry.name for entry in tmp_path.iterdir()] == ["chart.png"]
