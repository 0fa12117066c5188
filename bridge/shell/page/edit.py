"""Knows: where in the text of a YAML file an entry goes, so that every other byte stays as it was.

Must never know: rigs, mappings, files; whether what is written makes sense (the caller reads it again).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import yaml

NO_PLACE = "this part of the file is written in a way that the page cannot add to"

_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_.#-]*", re.ASCII)
_WORDS = frozenset(("true", "false", "null", "yes", "no", "on", "off", "y", "n"))


class NoPlaceError(Exception):
    """There is no place that is sure to be right."""


@dataclass(frozen=True, slots=True)
class Edit:
    """Characters `start` to `end` give way to `text`."""

    start: int
    end: int
    text: str


def apply(text: str, edits: Iterable[Edit]) -> str:
    """The text with all edits made; none may lie in another."""
    for edit in sorted(edits, key=lambda edit: edit.start, reverse=True):
        text = text[: edit.start] + edit.text + text[edit.end :]
    return text


def top_of(text: str) -> yaml.MappingNode:
    """The table at the top of a file, its nodes with their places.

    Raises:
        NoPlaceError: there is none.
    """
    try:
        node = yaml.compose(text, Loader=yaml.SafeLoader)
    except (yaml.YAMLError, RecursionError) as error:
        raise NoPlaceError(NO_PLACE) from error
    if not isinstance(node, yaml.MappingNode):
        raise NoPlaceError(NO_PLACE)
    return node


def child(table: yaml.Node, key: str) -> tuple[yaml.Node, yaml.Node] | None:
    """A key of a table and its value, as nodes."""
    pairs = table.value if isinstance(table, yaml.MappingNode) else ()
    return next(((name, value) for name, value in pairs if name.value == key), None)


def word(table: yaml.Node, key: str) -> str:
    """The text of a key's value; empty where there is none."""
    found = child(table, key)
    return str(found[1].value) if found and isinstance(found[1], yaml.ScalarNode) else ""


def entries(top: yaml.Node, section: str) -> list[yaml.MappingNode]:
    """The tables of a list that stands under a key."""
    found = child(top, section)
    if found is None or not isinstance(found[1], yaml.SequenceNode):
        return []
    return [node for node in found[1].value if isinstance(node, yaml.MappingNode)]


def add_entry(text: str, section: str, entry: str) -> Edit:
    """One more entry at the end of the list `section`, which is made where it is missing.

    Args:
        entry: on one line, as it stands within a list.

    Raises:
        NoPlaceError: see there.
    """
    top = top_of(text)
    found = child(top, section)
    line = "\r\n" if "\r\n" in text else "\n"
    if found is None:
        if top.flow_style:
            return _after(_end(top.value[-1][1]), f", {section}: [{entry}]") if top.value else _no_place()
        indent = " " * top.start_mark.column
        ends = "" if not text or text.endswith("\n") else line
        lines = f"{ends}{line}{indent}{section}:{line}{indent}  - {entry}{line}"
        return _after(len(text), lines)
    key, value = found
    if isinstance(value, yaml.ScalarNode):
        if value.start_mark.index < value.end_mark.index:
            return Edit(value.start_mark.index, value.end_mark.index, f"[{entry}]")
        if top.flow_style:
            return _after(value.end_mark.index, f" [{entry}]")
        indent = " " * (key.start_mark.column + 2)
        return _after(_line_end(text, key.end_mark.index), f"{line}{indent}- {entry}")
    if not isinstance(value, yaml.SequenceNode):
        return _no_place()
    if value.flow_style:
        if value.value:
            return _after(_end(value.value[-1]), f", {entry}")
        return _after(text.index("[", value.start_mark.index) + 1, entry)
    last = value.value[-1]
    indent = " " * _dash(text, last, value)
    end = _end(last)
    if end and text[end - 1] == "\n":
        # A block of text ends where the next line begins.
        return _after(end, f"{indent}- {entry}{line}")
    return _after(_line_end(text, end), f"{line}{indent}- {entry}")


def set_pair(text: str, table: yaml.MappingNode, key: str, pair: tuple[str, str], after: str) -> list[Edit]:
    """Two numbers under `key` in a table; behind the key `after` where they are missing.

    Raises:
        NoPlaceError: see there.
    """
    found = child(table, key)
    if found is not None:
        numbers = found[1].value
        if not isinstance(found[1], yaml.SequenceNode) or len(numbers) != 2:
            return [_no_place()]
        return [
            Edit(node.start_mark.index, node.end_mark.index, number)
            for node, number in zip(numbers, pair, strict=True)
        ]
    anchor = child(table, after)
    if anchor is None:
        return [_no_place()]
    written = f"{key}: [{pair[0]}, {pair[1]}]"
    end = _end(anchor[1])
    if table.flow_style:
        return [_after(end, f", {written}")]
    line = "\r\n" if "\r\n" in text else "\n"
    indent = " " * anchor[0].start_mark.column
    return [_after(_line_end(text, end), f"{line}{indent}{written}")]


def flow(value: Any) -> str:
    """A value as it stands within brackets: tables, lists, numbers, truths, names, quoted where needed."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {flow(part)}" for key, part in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(flow(part) for part in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{round(value, 3) + 0.0:g}" if isinstance(value, float) else str(value)
    text = str(value)
    if _PLAIN.fullmatch(text) and text.lower() not in _WORDS:
        return text
    # Printable names alone come here, so that a backslash and a quote are all there is to escape.
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _after(place: int, text: str) -> Edit:
    return Edit(place, place, text)


def _no_place() -> Edit:
    raise NoPlaceError(NO_PLACE)


def _end(node: yaml.Node) -> int:
    """Behind the last character of a node: the parser counts comments and blank lines to a block."""
    inner = node.value if isinstance(node, yaml.CollectionNode) and not node.flow_style else ()
    if not inner:
        return int(node.end_mark.index)
    last = inner[-1]
    return _end(last[1] if isinstance(last, tuple) else last)


def _line_end(text: str, place: int) -> int:
    """The end of the line a place is on, before its line break."""
    end = text.find("\n", place)
    if end < 0:
        return len(text)
    return end - 1 if end > place and text[end - 1] == "\r" else end


def _dash(text: str, item: yaml.Node, listing: yaml.Node) -> int:
    """The column of a list's dashes."""
    begin = text.rfind("\n", 0, item.start_mark.index) + 1
    found = re.match(r" *(?=- )", text[begin : item.start_mark.index])
    return len(found[0]) if found else int(listing.start_mark.column)
