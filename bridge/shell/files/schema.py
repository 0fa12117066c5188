"""Knows: the published JSON Schemas (draft 2020-12) of the two files a player writes.

Must never know: how a file is read.
"""

from __future__ import annotations

from typing import Any

from bridge.shell.files.check import SECTION, Entry
from bridge.shell.files.mapping_model import MappingFile
from bridge.shell.files.rig_model import RigFile
from bridge.shell.files.set_list_model import SetFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_FILES: dict[str, type[Entry]] = {"rig": RigFile, "mapping": MappingFile, "set": SetFile}
KINDS = tuple(_FILES)
"""The files there are schemas of."""


def schema_of(kind: str) -> dict[str, Any]:
    """The schema of a file.

    It takes every file that reading takes. What it cannot see, reading still finds: names that stand for
    nothing, slots taken twice, curves that fall.

    Args:
        kind: rig or mapping.

    Raises:
        KeyError: another kind.
    """
    made = _FILES[kind].model_json_schema(by_alias=True)
    for model in made.get("$defs", {}).values():
        model["properties"] = {key: _without_null(value) for key, value in model["properties"].items()}
    tidy: dict[str, Any] = _tidy(made)
    return {"$schema": DIALECT, **tidy, "title": f"Lampwright {kind}"}


def _without_null(schema: dict[str, Any]) -> dict[str, Any]:
    """An optional key is left out, not left empty; only whole sections may stand empty."""
    if SECTION in schema:
        return {key: value for key, value in schema.items() if key != SECTION}
    options = [option for option in schema.get("anyOf", ()) if option != {"type": "null"}]
    if len(options) == len(schema.get("anyOf", ())):
        return schema
    rest = {key: value for key, value in schema.items() if key != "anyOf"}
    return {**rest, **options[0]} if len(options) == 1 else {**rest, "anyOf": options}


def _tidy(node: Any, names: bool = False) -> Any:
    """Without the titles pydantic makes of field names, and without defaults that only stand for absence.

    Args:
        names: the keys of `node` are names of properties, which may well be `title` or `default`.
    """
    if isinstance(node, list):
        return [_tidy(value) for value in node]
    if not isinstance(node, dict):
        return node
    return {
        key: _tidy(value, names=not names and key in ("properties", "$defs"))
        for key, value in node.items()
        if names or not (key == "title" or (key == "default" and value in (None, "", 0, [])))
    }
