"""Knows: how to make any number of mapping files out of the published schema, by chance but repeatably.

Must never know: how files are read.
"""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from typing import Any

import yaml

from bridge.shell.files import schema_of

SCHEMA = schema_of("mapping")
INPUTS, FEELS, LOOKS = ("piano", "kit"), ("organ", "bell"), ("dusk", "walkin")
TEXTURES = ("ripple", "haze")
LAMPS = ("all", "roof", "roof.1", "roof.2.3", "left", "right", "west", "west.red", "door", "*.red", "reds")
POOLS: dict[str, tuple[Any, ...]] = {
    "lamps": LAMPS,
    "chase": LAMPS,
    "levels": LAMPS,
    "looks": LAMPS,
    "from": INPUTS,
    "inputs": INPUTS,
    "feel": FEELS,
    "feels": FEELS,
    "look": LOOKS,
    "over": ("roof",),
    "at": LAMPS,
    "texture": TEXTURES,
    "textures": TEXTURES,
    "centre": ("key", "door"),
    "picture": ("nowhere.png",),
    "steps": ("ripple 4, dark 2 fade 1", "haze 16"),
    "notes": (0, 36, 60, "C4", "F#3", "C3..B4", "white C2..C4", "Side Stick", "open hi-hat", 127),
    "draw": (".*", "*..*..", "123456", ""),
    "velocity": ("1..60", "61..127", 90),
    "middle_c": ("C4", "C3"),
    "chord": ("major", "m7", 9, "sus4", "half diminished", "minor", "6/9", 5),
}
NAMED = ("inputs", "feels", "looks", "levels", "textures")
"""Keys whose words are names of what they hold."""

WILD: tuple[Any, ...] = (
    None, "", "none", "on", "C3..", -1, 0, 1, 0.5, 13, 128, 1e9, float("inf"), float("nan"), True, False,
    [], {}, [[]], {"a": 1}, ["*"], "*", "0x10", "¶", "a" * 300, 10**30,
)  # fmt: skip
"""What a slip or a wrong guess puts in a value's place."""


class Maker:
    """Makes values that fit a schema; a share `wild` of them does not.

    Args:
        seed: the same seed makes the same file.
    """

    def __init__(self, seed: int, wild: float) -> None:
        self._chance = random.Random(seed)
        self._wild = wild

    def file(self) -> dict[str, Any]:
        """A whole mapping; the names rules point at are defined as a rule."""
        made: dict[str, Any] = self.value(SCHEMA, "", 0)
        if self._chance.random() < 0.9:
            made["inputs"] = {name: f"a {name}" for name in INPUTS}
            made["feels"] = {"organ": {"release_ms": 100}, "bell": {"decay_ms": 300, "sustain": 0}}
            made["looks"] = {name: {"door": 0.5} for name in LOOKS}
            made["textures"] = {
                name: self.value(SCHEMA["$defs"]["TextureEntry"], name, 1) for name in TEXTURES
            }
            for texture in made["textures"].values():
                self._keep_to_one(texture)
        return made

    def _keep_to_one(self, texture: dict[str, Any]) -> None:
        """Most textures show something that is there, at one speed, and mask one way at most."""
        if self._chance.random() < 0.05:
            return
        for key in ("picture", "steps", "masked_by", "beats"):
            texture.pop(key, None)
        texture.setdefault("kind", "rings")

    def value(self, schema: dict[str, Any], key: str, depth: int, single: bool = False) -> Any:
        """A value for one place; no list where it is `single` and already stands in one."""
        if depth > 1 and self._chance.random() < self._wild:
            return self._chance.choice(WILD)
        if "$ref" in schema:
            return self.value(SCHEMA["$defs"][schema["$ref"].rsplit("/", 1)[1]], key, depth)
        if "enum" in schema:
            return self._chance.choice(schema["enum"])
        if "const" in schema:
            return schema["const"]
        if "properties" in schema:
            return self._table(schema, depth)
        if isinstance(schema.get("type"), list) and key in POOLS:
            return self._chance.choice(POOLS[key])
        if options := schema.get("anyOf") or schema.get("oneOf"):
            if self._chance.random() < 0.9:
                options = [option for option in options if option != {"type": "null"}]
            if key in POOLS and key not in NAMED and self._chance.random() < 0.8:
                return self._chance.choice(POOLS[key]) if single else self._pool(key)
            return self.value(self._chance.choice(options), key, depth)
        kind = schema.get("type", "null")
        kind = self._chance.choice(kind) if isinstance(kind, list) else kind
        return getattr(self, f"_{kind}")(schema, key, depth)

    def _pool(self, key: str) -> Any:
        """One of the words for a key, or a list of some where it takes lists."""
        if self._chance.random() < 0.2 and key in ("lamps", "chase", "notes", "draw"):
            return [self._chance.choice(POOLS[key]) for _ in range(self._chance.randint(1, 3))]
        return self._chance.choice(POOLS[key])

    def _table(self, schema: dict[str, Any], depth: int) -> dict[str, Any]:
        properties = schema["properties"]
        often = {"shapes": 0.9, "mode": 0.03, "repeat": 0.03, "step_ms": 0.03, "step_beats": 0.03}
        usual = 0.7 if depth == 0 else 0.12
        keys = [key for key in properties if self._chance.random() < often.get(key, usual)]
        keys = [key for key in keys if not key.startswith("step_") or "chase" in keys]
        keys += schema.get("required", ())
        if "oneOf" in schema:
            # Just one of these keys, and a flag among them counts only where it is true.
            option = self._chance.choice(schema["oneOf"])
            out = {one["required"][0] for one in schema["oneOf"]}
            keys = [key for key in keys if key not in out] + option["required"]
            properties = {**properties, **option.get("properties", {})}
        for rule in schema.get("allOf", ()):
            if "if" in rule and set(rule["if"]["required"]) & set(keys):
                # A condition is left out rather than fulfilled, but for chance.
                keys = [
                    key for key in keys if key not in rule["if"]["required"] or self._chance.random() < 0.1
                ]
        made = {key: self.value(properties[key], key, depth + 1) for key in dict.fromkeys(keys)}
        if self._chance.random() < self._wild / 2:
            made[self._chance.choice(("nots", "lamp", "texture", "¶", "0", "sets"))] = 1
        return made

    def _object(self, schema: dict[str, Any], key: str, depth: int) -> dict[str, Any]:
        inner = schema.get("additionalProperties", {})
        names = POOLS.get(key, LAMPS)
        # The names of looks are names, the names in a look are lamps.
        names = LOOKS if key == "looks" and depth == 1 else names
        count = self._chance.randint(1, 3)
        return {
            name: self.value(inner, key, depth + 1)
            for name in self._chance.sample(names, min(count, len(names)))
        }

    def _array(self, schema: dict[str, Any], key: str, depth: int) -> list[Any]:
        if "prefixItems" in schema:
            return [self.value(one, key, depth + 1) for one in schema["prefixItems"]]
        low, high = schema.get("minItems", 1), schema.get("maxItems", 5)
        made = [
            self.value(schema["items"], key, depth + 1, True)
            for _ in range(self._chance.randint(low, max(low, high)))
        ]
        if self._chance.random() < 0.95 and len({type(value) for value in made}) == 1:
            # Curves and ranges rise.
            if all(isinstance(value, int | float) for value in made):
                made.sort()
            elif all(isinstance(value, list) and len(value) == 2 for value in made):
                columns = [sorted(set(column)) for column in zip(*made, strict=True) if _numbers(column)]
                made = [list(point) for point in zip(*columns, strict=False)] if len(columns) == 2 else made
        if "contains" in schema:
            made = [0, *made[1:]]
        return made

    def _number(self, schema: dict[str, Any], _key: str, _depth: int) -> float:
        low, high = schema.get("minimum", schema.get("exclusiveMinimum", 0.0)), schema.get("maximum", 100.0)
        return self._chance.choice(
            (high, round(self._chance.uniform(low, high), 3) or high, min(high, low + 1))
        )

    def _integer(self, schema: dict[str, Any], _key: str, _depth: int) -> int:
        return self._chance.randint(schema.get("minimum", 0), schema.get("maximum", 127))

    def _string(self, schema: dict[str, Any], key: str, _depth: int) -> Any:
        return self._chance.choice(POOLS.get(key) or schema.get("examples") or ("a", "some words", "x.1"))

    def _boolean(self, _schema: dict[str, Any], _key: str, _depth: int) -> bool:
        return self._chance.random() < 0.5

    def _null(self, _schema: dict[str, Any], _key: str, _depth: int) -> None:
        return None


def _numbers(column: Sequence[Any]) -> bool:
    return all(isinstance(value, float) for value in column)


def mapping_text(seed: int, wild: float | None = None) -> str:
    """A mapping file: the same for the same seed, in one of YAML's ways to write it.

    Args:
        wild: share of values that are anything at all; by the seed none, a few or many unless given.
    """
    wild = (0.0, 0.004, 0.05)[seed % 7 % 3] if wild is None else wild
    made = Maker(seed, wild).file()
    if seed % 3 == 0:
        return json.dumps(made, ensure_ascii=seed % 2 == 0)
    text: str = yaml.safe_dump(
        made, default_flow_style=None if seed % 3 == 1 else False, sort_keys=False, allow_unicode=True
    )
    return text
