"""Knows: how the entries under `controls` become rules.

Must never know: keys, or what the engine makes of a rule.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.shell.files.check import Item, check, comes_later, items, keys_of, take
from bridge.shell.files.control_model import (
    DOES,
    SETS,
    DoesBlackout,
    DoesLook,
    DoesTexture,
    SetsFeel,
    SetsLevel,
    SetsLook,
    SetsMaster,
    SetsSustain,
    SetsTexture,
)
from bridge.shell.files.control_triggers import PRESSED, TURNED, Does, Sets
from bridge.shell.files.hints import LATER_DOES, LATER_SETS
from bridge.shell.files.mapping_looks import NONE, Picture
from bridge.shell.files.mapping_shared import Shared
from bridge.shell.files.name_leaves import Names
from bridge.shell.files.nodes import Node, Scalar, Table, describe
from bridge.shell.files.note_sets import notes_of
from bridge.shell.files.report import Report, listed
from bridge.values.mapping import DoRule, SetRule, Trigger


def read_controls(
    top: Table, looks: Mapping[str, Picture], shared: Shared
) -> tuple[tuple[SetRule, ...], tuple[DoRule, ...]]:
    """The section `controls`: what sets values, and what does things, each in the order of the file."""
    sets: list[SetRule] = []
    does: list[DoRule] = []
    for node in items(top, "controls", shared.report):
        model = _model(node, shared.report)
        if model is None:
            _check_rest(node, shared)
        elif issubclass(model, Sets):
            setter = check(model, node, shared.report, "a control")
            if setter is not None:
                sets.append(_set_rule(setter, looks, shared))
        else:
            doer = check(model, node, shared.report, "a control")
            if doer is not None:
                does.append(_do_rule(doer, looks, shared))
    return tuple(sets), tuple(does)


def _model(node: Node, report: Report) -> type[Sets] | type[Does] | None:
    """The model of what an entry says it sets or does; None, reported, where there is none."""
    if not isinstance(node, Table):
        what = f"a control is written as keys and values, not as {describe(node)}"
        report.error(node, what, "write {control: 21, sets: master}")
        return None
    if ("sets" in node) == ("does" in node):
        what = "has both sets and does" if "sets" in node else "neither sets nor does anything"
        right = f"give one of sets: {', '.join(SETS)}; does: {', '.join(DOES)}"
        report.error(node, f"a control {what}", right)
        return None
    key = "sets" if "sets" in node else "does"
    known: Mapping[str, type[Sets] | type[Does]] = SETS if key == "sets" else DOES
    word = node[key]
    if not isinstance(word, Scalar) or word.value is None:
        report.error(word, f"{key} is {describe(word)}", f"known: {', '.join(known)}")
        return None
    if word.raw in known:
        return known[word.raw]
    if word.raw in (LATER_SETS if key == "sets" else LATER_DOES):
        report.error(word, *comes_later(f"{key}: {word.raw}"))
    else:
        report.unknown(word, f"word for {key}:", word.raw, known)
    return None


def _check_rest(node: Node, shared: Shared) -> None:
    """Report what else is wrong with an entry whose word is not known."""
    if not isinstance(node, Table):
        return
    item = check(Does, node.only(keys_of(Does)), shared.report, "a control")
    if item is not None and any(key in node for key in PRESSED):
        _trigger(item, PRESSED, shared)
    if "lamps" in node:
        shared.names.resolve(take(Names(), node["lamps"], "lamps", shared.report) or (), shared.report)


def _set_rule(item: Item[Sets], looks: Mapping[str, Picture], shared: Shared) -> SetRule:
    entry = item.value
    low, high = entry.between if entry.between is not None else entry.usual
    word = str(item.node["sets"])
    lamps = entry.lamps if isinstance(entry, SetsMaster | SetsLevel) else ()
    return SetRule(
        _trigger(item, TURNED, shared),
        what=word.removesuffix("_ms"),
        lamps=shared.names.resolve(lamps, shared.report),
        name=_name(item, looks, shared),
        curve=entry.curve,
        between=(low * entry.unit, high * entry.unit),
        takeover=entry.takeover,
        line=item.node.line,
    )


def _name(item: Item[Sets], looks: Mapping[str, Picture], shared: Shared) -> str:
    """The feel or look whose value a rule sets, empty for none."""
    entry = item.value
    if isinstance(entry, SetsFeel | SetsSustain) and entry.feel is not None:
        shared.feel_of(entry.feel)
        return entry.feel.raw
    if isinstance(entry, SetsTexture) and entry.texture is not None:
        return shared.texture(entry.texture)
    if isinstance(entry, SetsLook) and item.good("look"):
        if entry.look.raw not in looks:
            shared.report.unknown(entry.look, "look", entry.look.raw, looks)
        return entry.look.raw
    return ""


def _do_rule(item: Item[Does], looks: Mapping[str, Picture], shared: Shared) -> DoRule:
    entry = item.value
    look, fade = "", None
    if isinstance(entry, DoesLook):
        look = "" if entry.look.raw == NONE else entry.look.raw
        fade = None if entry.fade_ms is None else entry.fade_ms / 1000.0
        if look and look not in looks:
            shared.report.unknown(entry.look, "look", look, [*looks, NONE])
    texture = ""
    if isinstance(entry, DoesTexture):
        texture = shared.texture(entry.texture, NONE) if item.good("texture") else ""
        fade = None if entry.fade_ms is None else entry.fade_ms / 1000.0
    return DoRule(
        _trigger(item, PRESSED, shared),
        does=str(item.node["does"]),
        toggle=isinstance(entry, DoesBlackout) and entry.toggle,
        look=look,
        fade=fade,
        line=item.node.line,
        texture=texture,
    )


def _trigger(item: Item[Sets] | Item[Does], keys: Sequence[str], shared: Shared) -> Trigger:
    """What sets an entry off: the one of `keys` that it has."""
    entry, node = item.value, item.node
    source = shared.source(entry.source)
    # By identity: controller 0 and parameter 0 are numbers like any other, and 0 == False.
    given = [key for key in keys if (value := getattr(entry, key)) is not None and value is not False]
    if len(given) > 1:
        what = "both " + " and ".join(given)
        shared.report.error(node.keys_at[given[1]], what, "give one, or write two entries")
    elif not given and not item.bad - set(keys_of(type(entry))) and item.good(*keys):
        # Where a key is unknown it was probably meant for this, and has been reported.
        right = f"give {listed([f'{key}:' for key in keys[:-1]])} or {keys[-1]}:"
        shared.report.error(node, "nothing sets this control off", right)
    kind = given[0] if given else "control"
    wide = entry.bits == 14
    if wide and given and (entry.control is None or entry.control > 31) and item.good("control", "bits"):
        found = kind if entry.control is None else f"control {entry.control}"
        right = "only control 0 to 31 has a fine half, 32 up from it; take bits out"
        shared.report.error(node.place("bits"), f"bits: 14 with {found}", right)
    if kind == "notes":
        written = entry.notes if isinstance(entry, Does) else None
        return Trigger("note", notes_of(written or (), shared.middle_c, shared.report), entry.channel, source)
    if kind in ("band", "onset"):
        return Trigger(kind, (shared.band(entry.band if kind == "band" else entry.onset),))
    if kind in ("beat", "tempo"):
        return Trigger(kind)
    if kind in ("bend", "pressure"):
        return Trigger(kind, (), entry.channel, source)
    if kind == "program":
        # Instruments count programs from 1, the wire from 0.
        program = entry.program if isinstance(entry, Does) else None
        return Trigger("program", ((program or 1) - 1,), entry.channel, source)
    number = {"control": entry.control, "rpn": entry.rpn, "nrpn": entry.nrpn}[kind]
    return Trigger("control14" if kind == "control" and wide else kind, (number or 0,), entry.channel, source)
