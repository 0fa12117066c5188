# ruff: noqa: E501 - a row of a table is one line
"""The published schemas. Peer: the library jsonschema, by JSON Schema draft 2020-12."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from bridge.shell.files import KINDS, schema_of
from bridge.shell.files.check import Entry
from bridge.shell.files.control_model import DOES, SETS, model_of
from bridge.shell.files.mapping_model import MappingFile
from bridge.shell.files.nodes import Listing, Table, plain
from bridge.shell.files.output_model import OUTPUT_MODELS, kind_of
from bridge.shell.files.report import Report
from bridge.shell.files.rig_model import RigFile
from bridge.shell.files.tree import parse
from tests.shell.files import test_mapping_chords as chords
from tests.shell.files import test_mapping_controls as controls
from tests.shell.files import test_mapping_keys as touch
from tests.shell.files import test_mapping_mistakes as mappings
from tests.shell.files import test_rig_mistakes as rigs
from tests.shell.files import test_rig_wiring as wiring
from tests.shell.files.cases import FULL, MAPPING, MARK, RIG
from tests.shell.files.test_rig_wiring import WIRED

EXAMPLES = {
    "rig": [
        RIG,
        "lamps:\ngrids:\n",
        "lamps: [{name: 007, slot: 040, response: [[0, 0], [1, 1]], colour: '#00ff00', heat: {full_s: 1, rest_s: 0}}]",
        "grids: [{name: 1.1, columns: 2, rows: 2, slots: [1, 2], skip: [1.1, [2, 1]], from: upper_left, order: snake}]",
        "groups: {1: a, 2: [a, 1.1, {colour: red}], 3: {colour: '#00ff00'}, 4: '*.red'}",
        "outputs: [{kind: artnet, host: a, as: 0, interface: '::1'}, {kind: serial, port: 5, break_us: 100}, {kind: memory}]",
        "outputs: [{kind: sacn, sends: all, sync: 5, discover: false, early: true, least_gap_ms: 2.5}, {kind: artnet, host: a, sends: all}]",
        "lamp_types: {t: {bits: 16, parts: {red: {slot: 0}, 2: {}}}}\nlamps: [{name: a, type: t, slots: {red: 1, 2: 3}}]",
        "guards: {heat: off}\non_exit: hold\nrig: 5\n",
        WIRED,
        "dmx: {devices: 3}\naudience: {distance_m: 8}\n",
    ],
    "mapping": [
        MAPPING,
        FULL,
        "chords:\ncontrols:\n",
        "chords: {shapes: }\ntempo: 1\nthru: 5\n",
        "chords: {window_ms: 0, shapes: [{chord: 5, draw: ['', 12, '. *']}, {chord: [0, 7], draw: '1', over: 'b.*.*.red'}]}",
        "keys: [{notes: Hi Wood Block, lamps: a, velocity: 5, choke: 1, repeat: 0, aftertouch: 0}]",
        "keys:\nlooks:\n",
        "middle_c: C3\ncurve: [[1, 0.1], [127, 1]]\nfeels: {1: {}}\nfeel: 1\ninputs: {2: 3}\nmerge: latest\n",
        "keys: [{notes: [60, C4, white C4..D5, 1 .. 2, Bb-1], lamps: [a, 1, '*.red'], from: 2, channel: 1, pedal: ignore}]",
        "controls: [{control: 1, sets: master, lamps: a, between: [0, 1]}, {control: 5, does: blackout, toggle: true}]",
        "controls: [{notes: 1, does: look, look: none, fade_ms: 0}]\nlooks: {a: {1: 0, b: 1.0}}",
    ],
}  # fmt: skip

UNSEEN = (
    "no lamp or group", "matches no lamp", "unknown supply", "unknown lamp type", "unknown input", "unknown feel",
    "unknown look", "unknown part", "carries both", "would take slot", "a second", "other lamps begin", "slots names",
    "slots has", "outside the grid", "leaves no lamp", "is over ceiling", "in a circle", "no lamp is", "the group 'all'",
    "has the name of", "runs down", "has level", "has drive", "has velocity", "mode shot", "a look called none",
    "the name '", "a name is empty", "stands for a part", "holds an empty table", "give part of a port's name",
    "rig is empty", "decoder is called", "unknown supply or decoder", "to itself",
    "hang elsewhere", "carries lamps of",
    "warning: ", "give a range within", "at which velocity ends", "leaves no key", "cannot be used", "did you mean Acoustic",
    "did you mean Bass", "did you mean Closed", "unknown chord", "is one note only", "notes has no", "than the grid has",
    "places in the row", "unknown grid", "'Tuba' is",
)  # fmt: skip
"""Mistakes that a schema cannot see: they need the other lamps, the order of points, or what a name may hold."""


def seen(kind: str, text: str) -> list[str]:
    """What the schema says of a file."""
    tree = parse(text.replace(MARK, ""), Report("a"))
    assert tree is not None
    return [error.message for error in Draft202012Validator(schema_of(kind)).iter_errors(plain(tree))]


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_is_one(kind: str) -> None:
    """Each schema is valid by the draft it names, and can be written as JSON."""
    schema = schema_of(kind)
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert json.loads(json.dumps(schema)) == schema


@pytest.mark.parametrize(("kind", "text"), [(kind, text) for kind in EXAMPLES for text in EXAMPLES[kind]])
def test_valid_files_are_accepted(kind: str, text: str) -> None:
    """Whatever reading accepts by its shape, the schema accepts."""
    assert seen(kind, text) == []


@pytest.mark.parametrize(("model", "text"), [(RigFile, RIG), (MappingFile, MAPPING)])
def test_models_take_whole_files(model: type[Entry], text: str) -> None:
    """The models the schemas come from read a whole file as they read its entries one by one."""
    whole = model.model_validate(parse(text, Report("a")))
    for entry in whole.outputs or () if isinstance(whole, RigFile) else ():
        assert type(entry) is OUTPUT_MODELS[entry.kind]
    for entry in whole.controls or () if isinstance(whole, MappingFile) else ():
        assert type(entry) in (*SETS.values(), *DOES.values())
    assert whole.model_fields_set >= {"rig", "lamps"} or whole.model_fields_set >= {"keys", "controls"}


def test_an_entry_of_no_kind_has_no_model() -> None:
    """What is no table, or names no kind, is none of the kinds."""
    assert kind_of(Listing(1, 1)) is model_of(Listing(1, 1)) is None
    assert kind_of(Table(1, 1)) is model_of(Table(1, 1)) is None


TABLES = {
    "rig": (rigs.VALUES, rigs.REFERENCES, rigs.GRIDS, rigs.GROUPS, wiring.VALUES, wiring.REFERENCES),
    "mapping": (
        mappings.KEYS,
        mappings.SECTIONS,
        mappings.CONTROLS,
        touch.MISTAKES,
        touch.DRUMS,
        touch.HINTS,
        controls.TRIGGERS,
        controls.VALUES,
        controls.LATER,
        chords.CHORDS,
        chords.DRAWN,
        chords.SECTION,
    ),
}
ROWS = [
    (kind, row)
    for kind, tables in TABLES.items()
    for table in tables
    for row in table
    if not all(any(sign in message for sign in UNSEEN) for message in row.values[1])
]


@pytest.mark.parametrize(
    ("kind", "row"), ROWS, ids=lambda value: None if isinstance(value, str) else value.id
)
def test_mistakes_of_shape_are_refused(kind: str, row: Any) -> None:
    """The schema refuses every mistake of the tables that needs no other lamp, order or name to be seen."""
    assert seen(kind, row.values[0])


def test_most_mistakes_are_seen() -> None:
    """The schema is no sieve: it sees the larger part of the mistakes in the tables."""
    assert len(ROWS) > 70


def described(schema: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """Every key of every table of a schema, with what the schema says of it."""
    for name, table in {"": schema, **schema["$defs"]}.items():
        for key, value in table["properties"].items():
            yield f"{name}.{key}", value


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_described(kind: str) -> None:
    """An editor can show what each key means, and which words it takes."""
    keys = dict(described(schema_of(kind)))
    assert len(keys) > (40 if kind in TABLES else 7)
    assert [key for key, value in keys.items() if not value.get("description")] == []


def test_words_are_offered() -> None:
    """Words that come from a registry are listed for editors to complete."""
    keys = dict(described(schema_of("mapping")))
    assert keys["KeyEntry.mode"]["enum"] == ["hold", "latch", "shot"]
    assert "square" in keys["KeyEntry.curve"]["anyOf"][0]["enum"]
    assert set(dict(described(schema_of("rig")))["GuardsEntry.flash"]["enum"]) == {"limit", "warn", "off"}


def test_there_are_two_files() -> None:
    """Rig, mapping and set list have schemas, and nothing else does."""
    assert KINDS == ("rig", "mapping", "set")
    with pytest.raises(KeyError, match="take"):
        schema_of("take")
