"""Knows: what a browser is told of the rig and the mapping: places, colours, and which key plays which lamps.

Must never know: levels of the moment, sockets, files.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bridge.parts.colours import rgb
from bridge.parts.notes import MIDDLE_C, note_name
from bridge.shell.draw_rig import places
from bridge.values.frame import SLOTS
from bridge.values.mapping import DoRule, KeyRule, Mapping
from bridge.values.rig import Lamps, Rig
from bridge.values.texture import TextureRule

MOST_DISCS = 32


def rig_facts(rig: Rig, hung: Rig | None = None) -> dict[str, Any]:
    """The rig for a browser.

    Args:
        rig: the rig that is running; hung: the one its file now tells of, where lamps may have moved.
    """
    spots = [(float(x), float(y)) for x, y in places(rig)]
    if hung is not None:
        moved = {
            lamp.name: (float(x), float(y)) for lamp, (x, y) in zip(hung.lamps, places(hung), strict=True)
        }
        spots = [moved.get(lamp.name, spot) for lamp, spot in zip(rig.lamps, spots, strict=True)]
    last = hung or rig
    return {
        "name": rig.name,
        "lamps": [
            {"name": lamp.name, "x": round(x, 3), "y": round(y, 3), "rgb": rgb(lamp.colour)}
            for lamp, (x, y) in zip(rig.lamps, spots, strict=True)
        ],
        "groups": {name: list(lamps) for name, lamps in rig.groups.items()},
        "kinds": sorted({lamp.kind for lamp in last.lamps if lamp.kind and "." not in lamp.name}),
        "supplies": [supply.name for supply in last.supplies],
        "free": {
            str(universe): min(SLOTS, last.top_slot(universe) + 1) for universe in last.universes or (1,)
        },
    }


def mapping_facts(mapping: Mapping, rig: Rig) -> dict[str, Any]:
    """The mapping for a browser: `keys` in a row like a keyboard's, `discs` like pads."""
    plays_discs = _disc_inputs(mapping)
    keys: dict[int, dict[str, Any]] = {}
    discs: dict[tuple[str, int], dict[str, Any]] = {}
    for rule in mapping.keys:
        for note, lamps in zip(rule.notes, rule.lamps, strict=True):
            key = _key(rule, note, lamps, rig, mapping.middle_c)
            if rule.source in plays_discs:
                known = discs.setdefault((rule.source, note), key)
            else:
                known = keys.setdefault(note, key)
            if known is not key and known["source"] == rule.source:
                known["lamps"] = sorted({*known["lamps"], *lamps})
                known["name"] = name_of(known["lamps"], rig)
    for played in mapping.texture_keys:
        texture = mapping.textures.get(played.texture)
        for note in played.notes:
            key = _key(played, note, texture.lamps if texture else (), rig, mapping.middle_c) | {
                "name": played.texture
            }
            if len(played.notes) > 1:
                keys.setdefault(note, key)
            else:
                discs.setdefault((played.source, note), key)
    for do in mapping.does:
        for note in do.trigger.numbers if do.trigger.kind == "note" else ():
            discs.setdefault((do.trigger.source, note), _disc(do, note, mapping.middle_c))
    return {
        "name": mapping.name,
        # The octave of note 60, by which the page names its keys.
        "middle": int(note_name(MIDDLE_C, mapping.middle_c)[1:]),
        "inputs": list(mapping.inputs),
        "feels": list(mapping.feels),
        "looks": list(mapping.looks),
        "keys": [keys[note] for note in sorted(keys)],
        "discs": list(discs.values())[:MOST_DISCS],
        "chords": [
            {"source": rule.source, "channel": rule.channel or 1, "name": rule.name}
            for rule in mapping.chords[:64]
        ],
    }


def _disc_inputs(mapping: Mapping) -> set[str]:
    """Inputs that are played like pads: each rule on a note of its own, several of them."""
    out = set()
    for source in {rule.source for rule in mapping.keys} - {""}:
        rules = [rule for rule in mapping.keys if rule.source == source]
        does = any(rule.trigger.source == source and rule.trigger.kind == "note" for rule in mapping.does)
        if all(len(rule.notes) == 1 for rule in rules) and (len(rules) > 1 or does):
            out.add(source)
    return out


def _key(rule: KeyRule | TextureRule, note: int, lamps: Lamps, rig: Rig, middle_c: str) -> dict[str, Any]:
    return {
        "note": note,
        "says": note_name(note, middle_c),
        "source": rule.source,
        "channel": rule.channel or 1,
        "lamps": list(lamps),
        "name": name_of(lamps, rig),
        "does": "",
    }


def _disc(rule: DoRule, note: int, middle_c: str) -> dict[str, Any]:
    name = rule.look or "no look" if rule.does == "look" else rule.does.replace("_", " ")
    return {
        "note": note,
        "says": note_name(note, middle_c),
        "source": rule.trigger.source,
        "channel": rule.trigger.channel or 1,
        "lamps": [],
        "name": name,
        "does": rule.does,
    }


def name_of(lamps: Iterable[int], rig: Rig) -> str:
    """What lamps are called together: a lamp's name, a group's, or their number."""
    wanted = set(lamps)
    if len(wanted) == 1:
        return rig.lamps[next(iter(wanted))].name
    # The shortest name: `left` rather than a column that has the same lamps.
    fitting = [name for name, members in rig.groups.items() if set(members) == wanted]
    return min(fitting, key=len) if fitting else f"{len(wanted)} lamps"
