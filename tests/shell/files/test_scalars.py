# ruff: noqa: E501 - a row of a table is one line
"""Published source: YAML 1.2.2, chapter 10.3 (core schema), its table and its example 10.9 (from memory)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files.scalars import resolve

WORDS = ["on", "off", "yes", "no", "On", "OFF", "y", "n", "1:30", "190:20:30", "tRUE", "nULL", "+", "-", ".",
         "1_000", "0b101", "0o8", "0xg", "-0x1F", "1e", "e3", ".e1", "inf", "nan", ".iNF", "+.nan", "2024-01-01",
         "<<", "=", "36..48", "1.2.3", "\u0661", "roof.1"]  # fmt: skip


@pytest.mark.parametrize("raw", WORDS)
def test_everything_else_is_a_word(raw: str) -> None:
    """What the core schema does not list is text, in every old spelling that YAML 1.1 gave a meaning."""
    assert resolve(raw) == raw


@pytest.mark.parametrize("raw", ["", "~", "null", "Null", "NULL"])
def test_nothing(raw: str) -> None:
    """Five ways to write nothing."""
    assert resolve(raw) is None


@pytest.mark.parametrize(("raw", "value"), [("true", True), ("True", True), ("TRUE", True), ("false", False),
                                            ("False", False), ("FALSE", False)])  # fmt: skip
def test_truths(raw: str, value: bool) -> None:
    """Six ways to write a truth."""
    assert resolve(raw) is value


@pytest.mark.parametrize(
    ("raw", "value"),
    [
        ("0", 0),
        ("025", 25),
        ("040", 40),
        ("+7", 7),
        ("-19", -19),
        ("0o7", 7),
        ("0o14", 12),
        ("0x3A", 58),
        ("09", 9),
    ],
)
def test_whole_numbers(raw: str, value: int) -> None:
    """Leading zeros mean nothing; 0o and 0x do."""
    got = resolve(raw)
    assert got == value
    assert type(got) is int


@pytest.mark.parametrize(
    ("raw", "value"),
    [("0.", 0.0), ("-0.0", 0.0), (".5", 0.5), ("+12e03", 12000.0), ("-2E+05", -2e5), ("1.10", 1.1), ("1e400", math.inf),
     (".inf", math.inf), ("-.Inf", -math.inf), ("+.INF", math.inf)],
)  # fmt: skip
def test_floats(raw: str, value: float) -> None:
    """Points, exponents and the infinities."""
    got = resolve(raw)
    assert got == value
    assert type(got) is float


@pytest.mark.parametrize("raw", [".nan", ".NaN", ".NAN"])
def test_not_a_number(raw: str) -> None:
    """Three ways to write what is no number."""
    got = resolve(raw)
    assert isinstance(got, float)
    assert math.isnan(got)


@given(st.one_of(st.text(), st.text("+-.0123456789eExob:_infa"), st.integers().map(str)))
def test_any_word_has_a_value_that_prints(raw: str) -> None:
    """Any text has a value, and the value can be written out, however long it is."""
    value = resolve(raw)
    assert isinstance(value, None | bool | int | float | str)  # type: ignore[arg-type]
    assert str(value) is not None


@pytest.mark.parametrize("raw", ["9" * 5000, "0x" + "f" * 5000, "0o" + "7" * 5000])
def test_endless_digits_become_a_float(raw: str) -> None:
    """Digits without end, which Python itself refuses to read or print, are a float."""
    assert type(resolve(raw)) is float
