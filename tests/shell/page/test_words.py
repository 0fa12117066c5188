"""Every message the page may send."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

import bridge.shell.page.words as words

PARTS = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
KEYS = st.sampled_from(
    [
        "word",
        "note",
        "velocity",
        "what",
        "name",
        "value",
        "lamps",
        "kind",
        "then",
        "n",
        "slot",
        "x",
        "y",
        "channel",
    ]
)
WORDS = st.sampled_from(
    ["note", "control", "bend", "pressure", "do", "seen", "teach", "move", "patch", "undo"]
)


@given(
    st.one_of(
        st.text(),
        PARTS.map(lambda part: json.dumps(part)),
        st.dictionaries(KEYS, PARTS | WORDS).map(json.dumps),
    )
)
def test_any_text_is_a_message_or_the_one_error(text: str) -> None:
    """Law 6: a value, or the one named error; never another."""
    try:
        message = words.read(text)
    except ValidationError:
        return
    assert isinstance(message, words.Said)


@pytest.mark.parametrize(
    "message",
    [
        {"word": "note", "note": 60.0, "velocity": 1},
        {"word": "note", "note": "60", "velocity": 1},
        {"word": "note", "note": True, "velocity": 1},
        {"word": "note", "note": 60, "velocity": 128},
        {"word": "note", "note": 60, "velocity": 1, "channel": 0},
        {"word": "note", "note": 60, "velocity": 1, "file": "x"},
        {"word": "do", "what": "shutdown"},
        {"word": "do", "what": "look", "name": "x" * 201},
        {"word": "do", "what": "look", "value": -1},
        {"word": "patch", "name": "a", "slot": 513, "x": 0, "y": 0},
        {"word": "move", "lamp": "a", "right": 1e9, "up": 0},
        {"word": "teach", "kind": "note", "then": "light", "lamps": ["a"] * 65},
    ],
)
def test_what_is_out_of_range_is_refused(message: dict[str, Any]) -> None:
    """Each value has its type and range, and a key that is not known is refused."""
    with pytest.raises(ValidationError, match="validation error"):
        words.read(json.dumps(message))


def test_no_message_has_a_place_for_a_path() -> None:
    """No field of any message is a file or a path."""
    models = words.Message.__args__
    names = {name for model in models for name in model.model_fields}
    assert not names & {"path", "file", "folder", "url"}
