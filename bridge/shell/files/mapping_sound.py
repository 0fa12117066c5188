"""Knows: how the sections `sound` and `time` become values.

Must never know: other rules, or how music is heard.
"""

from __future__ import annotations

from bridge.shell.files.check import Item, check, is_empty, items
from bridge.shell.files.mapping_shared import Shared
from bridge.shell.files.nodes import Node, Table, describe
from bridge.shell.files.note_sets import notes_of
from bridge.shell.files.sound_model import HEARD, LIT, SoundEntry, SoundSection, TimeSection
from bridge.values.rig import Lamps, Rig
from bridge.values.sound import (
    USUAL_BANDS,
    USUAL_HEARING,
    USUAL_TIMING,
    Hearing,
    SoundRule,
    Timing,
)

ONLY_ONSET = ("chase", "texture", "plays", "channel", "attack_ms", "decay_ms", "least")


def read_hearing(top: Table, shared: Shared) -> Hearing:
    """How the section `sound` wants music heard; its bands are known to `shared` from then on."""
    shared.bands = USUAL_BANDS
    section = _section(top, "sound", shared)
    item = (
        check(SoundSection, section.without({"rules"}), shared.report, "the section sound")
        if section
        else None
    )
    if item is None:
        return USUAL_HEARING
    entry = item.value
    count = len(entry.crossovers) + 1
    names = USUAL_BANDS if count == len(USUAL_BANDS) else tuple(f"band {n + 1}" for n in range(count))
    if entry.bands is not None:
        names = tuple(name.raw for name in entry.bands)
        if len(names) != count and item.good("crossovers"):
            what = f"{len(names)} bands, and {count - 1} crossovers make {count}"
            shared.report.error(item.node.place("bands"), what, f"give {count} names")
            names = (names + tuple(f"band {n + 1}" for n in range(len(names), count)))[:count]
        for n, name in enumerate(entry.bands):
            if name.raw in [other.raw for other in entry.bands[:n]]:
                shared.report.error(name, f"two bands are called {name.raw}", "give each its own name")
    shared.bands = names
    return Hearing(
        entry.crossovers,
        names,
        entry.attack_ms / 1000.0,
        entry.release_ms / 1000.0,
        entry.gain,
        entry.ceiling_db,
        entry.gate_db,
    )


def read_sound(top: Table, rig: Rig, shared: Shared) -> tuple[SoundRule, ...]:
    """The rules of the section `sound`."""
    section = _section(top, "sound", shared, said=True)
    if section is None:
        return ()
    rules = [_rule(node, rig, shared) for node in items(section, "rules", shared.report)]
    return tuple(rule for rule in rules if rule is not None)


def read_timing(top: Table, shared: Shared) -> Timing:
    """The section `time`."""
    section = _section(top, "time", shared)
    item = check(TimeSection, section, shared.report, "the section time") if section is not None else None
    if item is None:
        return USUAL_TIMING
    entry = item.value
    return Timing(entry.order, shared.source(entry.clock_from), entry.clock_to)


def _section(top: Table, key: str, shared: Shared, said: bool = False) -> Table | None:
    section = top.get(key)
    if section is None or is_empty(section):
        return None
    if not isinstance(section, Table):
        if not said:
            what = f"'{key}' holds {describe(section)}"
            shared.report.error(section, what, "write keys and values under it, on lines of their own")
        return None
    return section


def _rule(node: Node, rig: Rig, shared: Shared) -> SoundRule | None:
    item = check(SoundEntry, node, shared.report, "a rule of sound")
    if item is None:
        return None
    entry = item.value
    _check_kind(item, shared)
    strokes = entry.onset is not None
    band = shared.band(entry.onset if entry.onset is not None else entry.band)
    lamps = shared.names.resolve(entry.chase or entry.lamps or (), shared.report)
    bar: tuple[tuple[float, float], ...] = ()
    if entry.shown == "bar":
        bar = rising(lamps, rig)
    return SoundRule(
        band,
        strokes,
        lamps,
        bar,
        shared.curve if entry.curve is None else entry.curve,
        entry.between,
        entry.attack_ms / 1000.0,
        entry.decay_ms / 1000.0,
        entry.chase is not None,
        shared.texture(entry.texture) if entry.texture is not None else "",
        notes_of(entry.plays or (), shared.middle_c, shared.report),
        entry.channel,
        entry.least,
        item.node.line,
    )


def _check_kind(item: Item[SoundEntry], shared: Shared) -> None:
    """Report what does not go together."""
    node = item.node
    for keys, nothing in ((HEARD, "listens to nothing"), (LIT, "sets nothing off")):
        given = [key for key in keys if key in node]
        if not given and item.good(*keys) and not item.bad:
            shared.report.error(node, f"a rule of sound {nothing}", f"give one of {', '.join(keys)}")
        elif len(given) > 1:
            shared.report.error(node.keys_at[given[1]], f"both {' and '.join(given)}", "write two entries")
    if "band" in node and "onset" not in node:
        for key in ONLY_ONSET:
            if key in node:
                shared.report.error(node.keys_at[key], f"{key} with band", "it goes with onset")
    if "onset" in node and "as" in node:
        shared.report.error(node.keys_at["as"], "as with onset", "it goes with band")
    if "channel" in node and "plays" not in node and "onset" in node:
        shared.report.error(node.keys_at["channel"], "channel without plays", "take it out")


def rising(lamps: Lamps, rig: Rig) -> tuple[tuple[float, float], ...]:
    """For each lamp the levels at which a bar reaches and fills it: lamps of one height rise together."""
    up = [round(rig.lamps[lamp].at[1], 3) for lamp in lamps]
    if len(set(up)) < 2:
        up = [round(rig.lamps[lamp].at[0], 3) for lamp in lamps]
    rows = sorted(set(up))
    return tuple((rows.index(y) / len(rows), (rows.index(y) + 1) / len(rows)) for y in up)
