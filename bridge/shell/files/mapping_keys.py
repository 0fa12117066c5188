"""Knows: how the entries under `keys` become rules.

Must never know: controls, or what the engine makes of a rule.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.parts.notes import note_name
from bridge.shell.files.check import Item, check, items
from bridge.shell.files.mapping_model import KeyEntry
from bridge.shell.files.mapping_shared import Shared
from bridge.shell.files.mapping_spread import Dealt, deal
from bridge.shell.files.mapping_textures import plays_texture
from bridge.shell.files.nodes import Node, Table
from bridge.shell.files.note_sets import notes_of
from bridge.shell.files.report import listed, quote
from bridge.values.mapping import Feel, KeyRule
from bridge.values.rig import Lamp

SHOWN = 8
"""Names shown of what is left over."""


def read_keys(top: Table, lamps: Sequence[Lamp], shared: Shared) -> tuple[KeyRule, ...]:
    """The section `keys`, in the order of the file."""
    nodes = [node for node in items(top, "keys", shared.report) if not plays_texture(node)]
    rules = [_rule(node, lamps, shared) for node in nodes]
    return tuple(rule for rule in rules if rule is not None)


def _rule(node: Node, rig: Sequence[Lamp], shared: Shared) -> KeyRule | None:
    item = check(KeyEntry, node, shared.report, "a rule")
    if item is None:
        return None
    entry = item.value
    notes = _transposed(notes_of(entry.notes, shared.middle_c, shared.report), item, shared)
    lamps = shared.names.resolve(entry.lamps, shared.report)
    source = shared.source(entry.source)
    feel = shared.feel_of(entry.feel)
    if entry.mode == "shot" and item.good("mode", "feel") and feel is not None:
        _check_shot(item, feel, shared)
    _check_fit(item, shared)
    lowest, highest = entry.velocity
    dealt = deal(notes, lamps, entry.spread, [lamp.at for lamp in rig] if entry.spread == "across" else ())
    _warn_left(item, dealt, rig, shared)
    return KeyRule(
        notes=dealt.notes,
        lamps=dealt.lamps,
        channel=entry.channel,
        source=source,
        curve=shared.curve if entry.curve is None else entry.curve,
        between=entry.between,
        feel=feel or Feel(),
        feel_name=entry.feel.raw if entry.feel is not None else shared.feel_name,
        mode=entry.mode,
        merge=entry.merge or shared.merge,
        pedal=entry.pedal == "follow",
        velocities=(max(lowest, entry.min_velocity), highest),
        ignore_repeat=entry.ignore_repeat_ms / 1000.0,
        min_on=entry.min_on_ms / 1000.0,
        one_of=entry.one_of.raw if entry.one_of is not None else "",
        choke=entry.choke.raw if entry.choke is not None else "",
        solo=entry.solo,
        repeat=entry.repeat,
        aftertouch=entry.aftertouch,
        release_velocity=entry.release_velocity,
        line=item.node.line,
    )


def _transposed(notes: tuple[int, ...], item: Item[KeyEntry], shared: Shared) -> tuple[int, ...]:
    """The keys that count as these notes; what would lie below 0 or above 127 is reported."""
    by = item.value.transpose
    out = [note - by for note in notes]
    lost = [
        note_name(note, shared.middle_c) for note, key in zip(notes, out, strict=True) if not 0 <= key <= 127
    ]
    if lost:
        what = f"transpose {by} leaves no key for {listed(lost, SHOWN)}"
        shared.report.error(item.node.place("transpose"), what, "keys are 0 to 127")
    return tuple(key for key in out if 0 <= key <= 127)


def _check_fit(item: Item[KeyEntry], shared: Shared) -> None:
    """Report settings that contradict the rule's mode or one another."""
    entry, node = item.value, item.node
    if entry.one_of is not None and item.good("mode") and entry.mode != "latch":
        what = f"one_of is for latches, and this rule has mode {entry.mode}"
        shared.report.error(node.place("one_of"), what, "say mode: latch")
    if entry.repeat and item.good("mode") and entry.mode != "hold":
        what = f"repeat is for held keys, and this rule has mode {entry.mode}"
        shared.report.error(node.place("repeat"), what, "say mode: hold")
    if item.good("velocity", "min_velocity") and entry.min_velocity > entry.velocity[1]:
        what = f"min_velocity {entry.min_velocity} is over the {entry.velocity[1]} at which velocity ends"
        shared.report.error(node.place("min_velocity"), what, "give a lower one, or no strike is heard")


def _check_shot(item: Item[KeyEntry], feel: Feel, shared: Shared) -> None:
    if feel.decay > 0.0:
        return
    name = item.value.feel.raw if item.value.feel is not None else shared.feel_name
    what = f"mode shot with feel {quote(name)}, which has no decay" if name else "mode shot without a feel"
    shared.report.error(item.node.place("mode"), what, "name a feel with decay_ms over 0")


def _warn_left(item: Item[KeyEntry], dealt: Dealt, rig: Sequence[Lamp], shared: Shared) -> None:
    """Warn of notes or lamps that the other side was too short for."""
    spread = item.value.spread or "each"
    if dealt.notes_left:
        names = [note_name(note, shared.middle_c) for note in dealt.notes_left]
        what = f"more notes than lamps: nothing to play for {listed(names, SHOWN)}"
        shared.report.warn(item.node.place("notes"), what, "take them out, or say spread: wrap")
    if dealt.lamps_left:
        names = [rig[lamp].name for lamp in dealt.lamps_left]
        what = f"more lamps than notes: spread {spread} leaves out {listed(names, SHOWN)}"
        shared.report.warn(item.node.place("lamps"), what, "give more notes, or say spread: together")
