"""Knows: what a word of YAML is worth by the core schema of YAML 1.2 (chapter 10.3).

Must never know: where the word stands, or what it is for.

So `on`, `off`, `yes`, `no` and `1:30` are words, and 025 is twenty-five.
"""

from __future__ import annotations

import re

Value = None | bool | int | float | str

_NULL = frozenset(("", "~", "null", "Null", "NULL"))
_BOOL = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INT = re.compile(r"[-+]?[0-9]+", re.ASCII)
_OCTAL = re.compile(r"0o[0-7]+", re.ASCII)
_HEX = re.compile(r"0x[0-9a-fA-F]+", re.ASCII)
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", re.ASCII)
_INF = re.compile(r"([-+]?)\.(inf|Inf|INF)")
_NAN = frozenset((".nan", ".NaN", ".NAN"))

LONGEST_WHOLE = 15
"""Digits a whole number keeps exactly; Python refuses to read or print very long ones."""


def resolve(raw: str) -> Value:
    """The value of a plain (unquoted) word.

    A whole number of more than 15 digits comes back as a float: no key takes one that long, and the message
    that says so must be able to print it.
    """
    if raw in _NULL:
        return None
    if raw in _BOOL:
        return _BOOL[raw]
    # Most words begin with a letter other than those of numbers; this keeps a long file quick.
    if raw[0] not in "+-.0123456789":
        return raw
    return _number(raw)


def _number(raw: str) -> Value:
    if _INT.fullmatch(raw):
        return int(raw) if len(raw) <= LONGEST_WHOLE else float(raw)
    if _OCTAL.fullmatch(raw):
        return int(raw, 8) if len(raw) <= LONGEST_WHOLE else float("inf")
    if _HEX.fullmatch(raw):
        return int(raw, 16) if len(raw) <= LONGEST_WHOLE else float("inf")
    if _FLOAT.fullmatch(raw):
        return float(raw)
    if found := _INF.fullmatch(raw):
        return float(f"{found[1]}inf")
    if raw in _NAN:
        return float("nan")
    return raw
