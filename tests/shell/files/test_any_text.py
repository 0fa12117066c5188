# ruff: noqa: E501 - a row of a table is one line
"""Law 6 for both file languages: any text is a value or the one named error, never another."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from bridge.shell.files import KINDS, mapping_from_text, rig_from_text, schema_of
from bridge.shell.files.nodes import plain
from bridge.shell.files.report import Report
from bridge.shell.files.tree import parse
from bridge.values.errors import FileError
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from tests.shell.files.cases import FULL, MAPPING, RIG, boathouse

BOATHOUSE = boathouse()
SCHEMAS = {kind: Draft202012Validator(schema_of(kind)) for kind in KINDS}
PIECES = [
    "", " ", "\n", "\t", ":", ": ", ",", "[", "]", "{", "}", "'", '"', "#", "&a ", "*a", "!", "|", ">", "- ", "?", "%", "~",
    "null", "true", ".nan", ".inf", "-1", "0", "1e999", "9" * 40, "512", "65536", "all", "none", "'*'", "*.red", "C3..B4",
    "[]", "{}", "[[0, 0]]", "{colour: red}", "<<", "---", "...", "\ufeff", "\x00", "é", "\u2028",
]  # fmt: skip

LIKELY = [
    "0",
    "1",
    "2",
    "0.5",
    "12",
    "25",
    "041",
    "0x10",
    "100",
    "127",
    "1e1",
    "'5'",
    "on",
    "off",
    "true",
    "007",
    "[0, 1]",
    "[[64, 0.5]]",
    "[[0.5, 0.5]]",
    "'*.red'",
    "roof.2",
    "[door, roof.1]",
    "all",
    "none",
    "white C3..B4",
    "[60, C4..E4]",
    "' C4 '",
    "[]",
    "{}",
    "",
    "each",
    "wrap",
    "across",
    "together",
    "latch",
    "full",
    "soft",
    "cie",
    "hold",
    "warn",
    "latest",
    "14",
    "1..60",
    "minor 7",
    "stay",
    "next",
    "root",
    "third",
    "Closed Hi-Hat",
    "['.*', '9']",
    "roof",
]


def read(text: str) -> None:
    """Read a text as either file; anything but a value or a FileError with problems fails."""
    for reader in (lambda: rig_from_text(text), lambda: mapping_from_text(text, BOATHOUSE)):
        value: object = None
        try:
            value, problems = reader()
        except FileError as error:
            problems = list(error.problems)
        assert isinstance(value, Rig | Mapping) == all(problem.warning for problem in problems)
        assert all(str(problem) for problem in problems)


@given(st.text(max_size=300))
def test_any_text(text: str) -> None:
    """Any text at all."""
    read(text)


@st.composite
def damaged(draw: Any, good: str) -> str:
    """A good file with a few characters or lines taken out, put in, doubled or exchanged."""
    text = good
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(text)))
        length = draw(st.integers(0, 8))
        piece = draw(st.sampled_from(PIECES) | st.text(max_size=3))
        text = text[:at] + piece + text[at + length :]
        if draw(st.booleans()):
            lines = text.split("\n")
            one, other = draw(st.integers(0, len(lines) - 1)), draw(st.integers(0, len(lines) - 1))
            lines[one] = draw(st.sampled_from([lines[other], "", lines[one] * 2]))
            text = "\n".join(lines)
    return text


@settings(max_examples=200)
@given(damaged(RIG) | damaged(MAPPING) | damaged(FULL))
def test_any_damage(text: str) -> None:
    """A good file damaged anywhere."""
    read(text)


@st.composite
def altered(draw: Any, good: str) -> str:
    """A good file with one or two of its values exchanged for others that might do."""
    text = good
    for _ in range(draw(st.integers(1, 2))):
        value = draw(st.sampled_from(list(re.finditer(r"(?<=: )[\w.#-]+", text))))
        text = text[: value.start()] + draw(st.sampled_from(LIKELY)) + text[value.end() :]
    return text


@settings(max_examples=150)
@given(altered(RIG), altered(MAPPING) | altered(FULL))
def test_what_is_accepted_fits_the_schema(rig: str, mapping: str) -> None:
    """A file that reading accepts is accepted by the published schema, or an editor would cry wolf."""
    for kind, text in (("rig", rig), ("mapping", mapping)):
        try:
            _ = rig_from_text(text) if kind == "rig" else mapping_from_text(text, BOATHOUSE)
        except FileError:
            continue
        tree = parse(text, Report("a"))
        assert tree is not None
        assert [error.message for error in SCHEMAS[kind].iter_errors(plain(tree))] == []


VALUES = st.recursive(
    st.sampled_from(PIECES) | st.integers().map(str) | st.floats().map(str),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda parts: f"[{', '.join(parts)}]")
        | st.lists(
            st.tuples(st.sampled_from(["red", "1", "slot", "colour", "full_s"]), inner), max_size=3
        ).map(lambda pairs: "{" + ", ".join(f"{key}: {value}" for key, value in pairs) + "}")
    ),
    max_leaves=6,
)
KEYS = sorted(
    {key for kind in KINDS for table in schema_of(kind)["$defs"].values() for key in table["properties"]}
)
"""Every key there is."""


@settings(max_examples=200)
@given(
    st.sampled_from(["supplies", "lamp_types", "grids", "lamps", "groups", "outputs", "guards", "inputs", "feels", "keys",
                     "looks", "controls", "chords", "refresh_hz", "middle_c", "curve", "thru"]),
    st.lists(st.tuples(st.sampled_from(KEYS), VALUES), max_size=5, unique_by=lambda pair: pair[0]),
    st.sampled_from(["[{%s}]", "{%s}", "{a: {%s}}", "[[{%s}]]", "{shapes: [{%s}]}"]),
)  # fmt: skip
def test_any_values_in_the_right_places(section: str, pairs: list[tuple[str, str]], shape: str) -> None:
    """The right keys with any values, in any section."""
    read(f"{section}: " + shape % ", ".join(f"{key}: {value}" for key, value in pairs))


@pytest.mark.parametrize("good", [RIG, MAPPING, FULL])
def test_every_shorter_file(good: str) -> None:
    """A good file cut off at the end of any line: what an editor saves on the way."""
    lines = good.split("\n")
    for count in range(len(lines)):
        read("\n".join(lines[:count]))
