"""Knows: how a table of a file is held against a model, and what pydantic's findings are in our words.

Must never know: any one model.

A table is checked entry by entry, so that a mistake in one hides none in another; a wrong key of an entry is
set aside and the rest read without it, so that the mistakes in the rest show too.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, TypeVar, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from bridge.shell.files.leaves import Flaw, Leaf, LeafError
from bridge.shell.files.name_leaves import unfit
from bridge.shell.files.nodes import Listing, Node, Scalar, Table, describe
from bridge.shell.files.report import Report, quote
from bridge.shell.files.scalars import resolve


class Entry(BaseModel):
    """The root of all models: unknown keys are mistakes, values stay as they were read."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)

    stand_ins: ClassVar[Mapping[str, str]] = {}
    """Text read for a key that must be there and is missing or wrong, so as to look for further mistakes."""

    hints: ClassVar[Mapping[str, str]] = {}
    """Keys that players write here though there are none -> what would be right."""

    later: ClassVar[Collection[str]] = ()
    """Keys kept for a later version."""


SECTION = "section"
"""Marks, for the JSON Schema, a list inside a table that may stand empty, as sections at the top may."""

M = TypeVar("M", bound=Entry)
Step = int | str


@dataclass(frozen=True, slots=True)
class Item(Generic[M]):
    """An entry that was read.

    Args:
        value: the entry; keys in `bad` have their defaults or stand-ins.
        node: the table it was read from, for places.
        bad: keys that were wrong and have been reported: say nothing more about them.
    """

    value: M
    node: Table
    bad: frozenset[str]

    def good(self, *keys: str) -> bool:
        """True if none of the keys was wrong."""
        return self.bad.isdisjoint(keys)


def check(model: type[M], node: Node, report: Report, what: str) -> Item[M] | None:
    """Read one entry.

    Args:
        model: what the entry must look like.
        what: what the entry is, as in `a lamp`.

    Returns:
        The entry, with wrong keys left out; None where nothing can be made of it.
    """
    if not isinstance(node, Table):
        report.error(node, f"{what} is written as keys and values, not as {describe(node)}", _example(model))
        return None
    try:
        return Item(model.model_validate(node), node, frozenset())
    except ValidationError as error:
        found = error.errors(include_url=False, include_input=False)
    for detail in found:
        _tell(model, node, detail, report, what)
    bad = {str(detail["loc"][0]) for detail in found if detail["loc"]}
    rest = node.without(bad)
    for key in bad & model.stand_ins.keys():
        raw = model.stand_ins[key]
        rest[key] = Scalar(raw, resolve(raw), node.line, node.column)
    try:
        return Item(model.model_validate(rest), node, frozenset(bad))
    except ValidationError:
        return None


def take(leaf: Leaf, node: Node, key: str, report: Report) -> Any:
    """Read a single value that stands under `key`; None, reported, where it cannot be used."""
    try:
        return leaf.read(node)
    except LeafError as error:
        _tell_flaws(error.flaws, key, report)
        return None


def entries(top: Table, key: str, report: Report) -> Iterator[tuple[Scalar, Node]]:
    """The names and values of a section like `supplies:`; names that cannot be used are reported."""
    section = top.get(key)
    if section is None or is_empty(section):
        return
    if not isinstance(section, Table):
        report.error(section, f"'{key}' holds {describe(section)}", "write 'name: …' on lines of their own")
        return
    for name, node in section.items():
        at = section.keys_at[name]
        if reason := unfit(name):
            report.error(at, *reason)
        else:
            yield at, node


def items(top: Table, key: str, report: Report) -> Iterator[Node]:
    """The entries of a section like `lamps:`."""
    section = top.get(key)
    if section is None or is_empty(section):
        return
    if not isinstance(section, Listing):
        report.error(section, f"'{key}' holds {describe(section)}", "begin each entry with '- '")
        return
    yield from section


def is_empty(section: Node | None) -> bool:
    """True for a section that has nothing, as one is left whose entries are all commented out."""
    return isinstance(section, Scalar) and section.value is None


def keys_of(model: type[BaseModel]) -> dict[str, str]:
    """Names of a model's keys as written in a file -> names of its fields; those that must be there first."""
    fields = sorted(model.model_fields.items(), key=lambda field: not field[1].is_required())
    return {field.alias or name: name for name, field in fields}


def comes_later(word: str) -> tuple[str, str]:
    """What is wrong with a word of a later version, and what would be right."""
    return f"{quote(word)} belongs to a later version of Lampwright", "take it out for now"


def one_of_keys(*keys: str, flags: Collection[str] = (), **rules: Any) -> ConfigDict:
    """Tells the JSON Schema what reading checks by itself: that an entry has just one of these keys.

    Args:
        flags: those of `keys` that count only where they are true.
        rules: further words of the schema for the entry.
    """
    wanted: list[Any] = []
    for key in keys:
        true = {"properties": {key: {"const": True}}} if key in flags else {}
        wanted.append({"required": [key], **true})
    return ConfigDict(json_schema_extra={"oneOf": wanted, **rules})


def if_then(when: dict[str, Any], then: dict[str, Any], needs: Collection[str] = ()) -> dict[str, Any]:
    """A rule of the JSON Schema: where the keys of `when` have these values, those of `then` have these.

    Args:
        needs: keys that must be there then.
    """
    return {
        "if": {"properties": when, "required": list(when)},
        "then": {"properties": then, "required": list(needs)},
    }


def _example(model: type[BaseModel]) -> str:
    needed = [field.alias or name for name, field in model.model_fields.items() if field.is_required()]
    return "write {" + ", ".join(f"{key}: …" for key in needed or list(keys_of(model))[:2]) + "}"


def _tell(model: type[Entry], node: Table, detail: ErrorDetails, report: Report, what: str) -> None:
    """Report one finding of pydantic."""
    loc = detail["loc"]
    kind = detail["type"]
    key = next((str(step) for step in reversed(loc) if isinstance(step, str)), "")
    inner: type[Entry] = _model_at(model, loc[:-1])
    if kind == "leaf":
        _tell_flaws(detail["ctx"]["flaws"], key, report)
    elif kind == "extra_forbidden":
        outer = _node_at(node, loc[:-1])
        at = outer.keys_at[key] if isinstance(outer, Table) and key in outer.keys_at else outer
        if key in inner.later:
            report.error(at, *comes_later(key))
            return
        right = inner.hints.get(key) or report.near(key, list(keys_of(inner)), "known here")
        report.error(at, f"unknown key {quote(key)}", right)
    elif kind == "missing":
        place = _node_at(node, loc[:-1])
        name = _owner(loc) or what
        report.error(place, f"{name} has no key '{key}'", _meaning(inner, key))
    elif kind in ("list_type", "tuple_type"):
        report.error(_node_at(node, loc), f"{key} is {describe(_node_at(node, loc))}", "give a list")
    else:
        there = _node_at(node, loc)
        report.error(there, f"{key} is {describe(there)}", "give keys and values, {key: value}")


def _tell_flaws(flaws: Iterable[Flaw], key: str, report: Report) -> None:
    for flaw in flaws:
        report.error(flaw.place, flaw.what if flaw.whole else f"{key} {flaw.what}", flaw.right)


def _owner(loc: tuple[Step, ...]) -> str:
    """What a missing key is missing from: a key's table, or an entry of its list; empty at the top."""
    if len(loc) == 1:
        return ""
    return f"'{loc[-2]}'" if isinstance(loc[-2], str) else f"an entry of '{loc[-3]}'"


def _meaning(model: type[BaseModel], key: str) -> str:
    field = model.model_fields[keys_of(model)[key]]
    return f"write {key}: … ({field.description})"


def _node_at(node: Node, loc: tuple[Step, ...]) -> Node:
    """The node at a path, or the last one on the way."""
    for step in loc:
        inner: Node | None = None
        if isinstance(node, Table):
            inner = node.get(str(step))
        elif isinstance(node, Listing) and isinstance(step, int) and step < len(node):
            inner = node[step]
        node = node if inner is None else inner
    return node


def _model_at(model: type[Entry], loc: tuple[Step, ...]) -> type[Entry]:
    """The model of the table at a path."""
    names = False
    for step in loc:
        if names:
            # A name the player chose, which may well be spelled like a key.
            names = False
            continue
        field = model.model_fields.get(keys_of(model).get(str(step), ""))
        if field is None:
            continue
        names = any(get_origin(part) is dict for part in _parts(field.annotation))
        inner = [part for part in _parts(field.annotation) if isinstance(part, type)]
        model = next((part for part in inner if issubclass(part, Entry)), model)
    return model


def _parts(annotation: Any) -> Iterator[Any]:
    """A type and all types it is made of."""
    yield annotation
    for part in get_args(annotation):
        yield from _parts(part)
