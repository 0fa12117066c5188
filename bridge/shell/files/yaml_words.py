"""Knows: in our own words, what is wrong where a text is not YAML.

Must never know: rigs and mappings.

The parser's own messages differ between its two builds and speak of tokens; what a player needs is the slip.
"""

from __future__ import annotations

from typing import Any

import yaml

from bridge.shell.files.report import Place, Placed

_COMMON = (
    (("nesting depth",), "too many lists or tables inside one another", "write it with fewer levels"),
    (
        ("mapping values are not allowed",),
        "a ':' where no key can stand",
        "put one key on a line, indent it like its neighbours, and quote text that holds ': '",
    ),
    (
        ("sequence entries are not allowed",),
        "a '- ' where no list can begin",
        "begin a list on the line after its key",
    ),
    (
        ("expected ',' or '}'",),
        "a '{' that is not closed, or a comma missing in it",
        "write {key: value, key: value}",
    ),
    (("expected ',' or ']'",), "a '[' that is not closed, or a comma missing in it", "write [one, two]"),
    (
        ("expected node content", "expected the node content"),
        "a bracket that is not closed",
        "close it; a ' #' before its end begins a comment",
    ),
    (("unexpected end of stream",), "a quote that is not closed", "close it"),
    (("unexpected document separator",), "a quote that is not closed", "close it"),
    (
        ("expected key", "expected <block end>", "expected '-' indicator"),
        "a line that fits neither the list or table it stands in nor the one around it",
        "indent it like its neighbours",
    ),
    (("could not find expected ':'",), "a key without ': '", "write key: value"),
    (("escape character", "escape code"), "a backslash that means nothing here", "use 'single' quotes"),
    (("undefined tag handle",), "a '!' that names an unknown tag", "quote the text"),
    (("expected <document start>", "expected '<document start>'"), "something after the end", "take it out"),
    (("directive", "incompatible"), "a line beginning with '%' that is not known here", "take it out"),
)


def explain(error: yaml.MarkedYAMLError, text: str, inside: Placed | None) -> tuple[Placed, str, str]:
    """Where it is, what is wrong, what would be right.

    Args:
        inside: the innermost list or table that was not closed yet.
    """
    begin = _place(error.context_mark)
    place: Placed = _place(error.problem_mark) or begin or Place(1, 1)
    problem = str(error.problem or "")
    if "alphabetic or numeric character" in problem and begin:
        if "alias" in str(error.context):
            return begin, "a bare '*' means something else in YAML", 'quote the name, like "*.red"'
        return begin, "a bare '&' means something else in YAML", "quote the text"
    if "cannot start any token" in problem:
        return place, *_stray(_letter(text, place))
    for signs, what, right in _COMMON:
        if any(sign in problem for sign in signs):
            # What is left open shows only at the end of the file; where it opens is what helps.
            if "not closed" in what and _is_open(text, place):
                place = inside if "bracket" in what and inside else begin or place
            elif "without" in what:
                place = begin or place
            return place, what, right
    return place, f"this is not YAML ({problem or 'unreadable'})", "check the brackets, quotes and indents"


def _place(mark: Any) -> Place | None:
    return Place(mark.line + 1, mark.column + 1) if mark else None


def _stray(letter: str) -> tuple[str, str]:
    if letter == "\t":
        return "a tab where YAML wants spaces", "indent with spaces"
    return f"text cannot begin with {letter!r}", "quote it"


def _letter(text: str, place: Placed) -> str:
    lines = text.splitlines()
    if place.line > len(lines):
        return ""
    return lines[place.line - 1][place.column - 1 : place.column]


def _is_open(text: str, place: Placed) -> bool:
    """True if nothing stands at or behind a place: whatever was open is open at the end of the file."""
    lines = text.splitlines()
    rest = [*lines[place.line - 1 : place.line], *lines[place.line :]]
    if rest:
        rest[0] = rest[0][place.column - 1 :]
    return not "".join(rest).strip()
