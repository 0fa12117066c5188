"""Knows: how the text of a file becomes a tree of tables, lists and scalars.

Must never know: rigs, mappings, or what a key means.

Built from the parser's events, one at a time, so that neither depth nor aliases can exhaust the machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NoReturn

import yaml

from bridge.shell.files.nodes import Listing, Node, Scalar, Table, describe
from bridge.shell.files.report import Place, Placed, Report, quote
from bridge.shell.files.scalars import Value, resolve
from bridge.shell.files.source import cleaned
from bridge.shell.files.yaml_words import explain

DEEPEST = 40
"""Tables and lists inside one another; our own files need seven."""

MOST_COPIED = 20_000
"""Nodes that aliases may copy: more is a file that grows past any use."""

LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_TAG = "tag:yaml.org,2002:"
_CORE = {_TAG + "int": int, _TAG + "float": float, _TAG + "bool": bool, _TAG + "null": type(None)}


class _StopError(Exception):
    """There is no tree to be had; the reason is in the report."""


@dataclass(slots=True)
class _Open:
    """A list or table being built; `size` and `height` count the nodes in it."""

    node: Listing | Table
    anchor: str | None
    key: Scalar | None = None
    size: int = 1
    height: int = 1


@dataclass(slots=True)
class _Builder:
    report: Report
    root: Node | None = None
    documents: int = 0
    stack: list[_Open] = field(default_factory=list)
    anchors: dict[str, tuple[Node, int, int]] = field(default_factory=dict)
    copied: int = 0

    def take(self, event: yaml.Event) -> None:
        mark = event.start_mark
        at = Place(mark.line + 1, mark.column + 1) if mark else Place(1, 1)
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self.stop(at, "a second document in one file", "take out the '---' and what follows it")
        elif isinstance(event, yaml.ScalarEvent):
            word = self.word(event, at)
            self.put(word, at)
            if event.anchor:
                self.anchors[event.anchor] = (word, 1, 0)
        elif isinstance(event, yaml.SequenceStartEvent):
            self.open(event, Listing(at.line, at.column), at, "seq")
        elif isinstance(event, yaml.MappingStartEvent):
            self.open(event, Table(at.line, at.column), at, "map")
        elif isinstance(event, yaml.CollectionEndEvent):
            self.close()
        elif isinstance(event, yaml.AliasEvent):
            self.alias(str(event.anchor), at)

    def word(self, event: yaml.ScalarEvent, at: Place) -> Scalar:
        raw = str(event.value)
        value: Value = raw
        tag = event.tag
        if tag is None:
            # Plain is None in one build of the parser and empty in the other.
            if not event.style:
                value = resolve(raw)
        elif tag in _CORE and isinstance(resolve(raw), _CORE[tag]):
            value = resolve(raw)
        elif tag not in ("!", _TAG + "str"):
            self.unknown_tag(tag, quote(raw), at)
        return Scalar(raw, value, at.line, at.column)

    def open(self, event: yaml.CollectionStartEvent, node: Listing | Table, at: Place, kind: str) -> None:
        if event.tag not in (None, "!", _TAG + kind):
            self.unknown_tag(str(event.tag), "a list" if kind == "seq" else "a table", at)
        if len(self.stack) >= DEEPEST:
            self.too_deep(at)
        self.put(node, at)
        anchor = str(event.anchor) if event.anchor else None
        self.stack.append(_Open(node, anchor))

    def close(self) -> None:
        done = self.stack.pop()
        if done.anchor:
            self.anchors[done.anchor] = (done.node, done.size, done.height)
        self.count(done.size, done.height)

    def alias(self, name: str, at: Place) -> None:
        if any(name == outer.anchor for outer in self.stack):
            self.stop(at, f"'*{name}' stands inside what it stands for", "write it out")
        if name not in self.anchors:
            self.stop(at, f"'*{name}' stands for nothing", 'quote a name that has a *, like "*.red"')
        node, size, height = self.anchors[name]
        self.copied += size
        if self.copied > MOST_COPIED:
            self.stop(at, f"the aliases (*) of this file copy more than {MOST_COPIED} values", "use fewer")
        if len(self.stack) + height > DEEPEST:
            self.too_deep(at)
        self.put(node, at)
        self.count(size, height)

    def count(self, size: int, height: int) -> None:
        if self.stack:
            self.stack[-1].size += size
            self.stack[-1].height = max(self.stack[-1].height, height + 1)

    def put(self, node: Node, at: Place) -> None:
        """Give a node to the list or table it stands in."""
        if not self.stack:
            self.root = node
            return
        outer = self.stack[-1]
        if isinstance(node, Scalar):
            outer.size += 1
        if isinstance(outer.node, Listing):
            outer.node.append(node)
        elif outer.key is None:
            if not isinstance(node, Scalar):
                self.stop(at, "a list or table as a key", "a key is a word")
            outer.key = node
        else:
            self.entry(outer.node, outer.key, node)
            outer.key = None

    def entry(self, table: Table, key: Scalar, node: Node) -> None:
        first = table.keys_at.get(key.raw)
        if first is not None:
            self.report.error(
                key, f"key {quote(key.raw)} stands twice, first on line {first.line}", "keep one of them"
            )
            return
        table.keys_at[key.raw] = key
        table[key.raw] = node

    def too_deep(self, at: Place) -> NoReturn:
        self.stop(at, f"more than {DEEPEST} lists or tables inside one another", "write it with fewer levels")

    def unknown_tag(self, tag: str, what: str, at: Place) -> NoReturn:
        short = tag.replace(_TAG, "!!")
        self.stop(
            at,
            f"the tag {short[:40]} does not fit {what}",
            "take it out, or quote text that begins with '!'",
        )

    def stop(self, at: Placed, what: str, right: str) -> NoReturn:
        self.report.error(at, what, right)
        raise _StopError


def parse(text: str, report: Report, loader: Any = LOADER) -> Table | None:
    """The tree of a file's text, which must be a table at the top.

    Args:
        text: YAML; a byte order mark and any line ends are accepted.
        report: gets what is wrong. None is returned where there is no tree to go on with.
        loader: one of PyYAML's safe loaders.
    """
    clean = cleaned(text, report)
    if clean is None:
        return None
    builder = _Builder(report)
    try:
        for event in _events(clean, loader):
            builder.take(event)
    except _StopError:
        return None
    except yaml.MarkedYAMLError as error:
        inside = builder.stack[-1].node if builder.stack else None
        report.error(*explain(error, clean, inside))
        return None
    except (yaml.YAMLError, ValueError, OverflowError):
        # The pure Python parser stumbles over some escapes (\UFFFFFFFF) without saying where.
        report.error(Place(1, 1), "this is not YAML", "check the quotes and backslashes")
        return None
    root = builder.root
    if root is None or (isinstance(root, Scalar) and root.value is None):
        report.error(Place(1, 1), "the file is empty", "see the README for what to write")
        return None
    if not isinstance(root, Table):
        report.error(root, f"the file holds {describe(root)}", "write keys and values, like 'lamps:'")
        return None
    return root


def _events(text: str, loader: Any) -> Iterator[yaml.Event]:
    events: Iterator[yaml.Event] = yaml.parse(text, Loader=loader)
    return events
