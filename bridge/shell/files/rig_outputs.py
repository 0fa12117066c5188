"""Knows: how outputs come from the entries under `outputs`, and what refresh rate their lines can carry.

Must never know: sockets and serial ports, or how an output sends.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor

from bridge.shell.files.check import Item, check, items, keys_of
from bridge.shell.files.nodes import Node, Table, describe
from bridge.shell.files.output_model import (
    OUTPUT_MODELS,
    Artnet,
    Network,
    Output,
    Padded,
    Sacn,
    Serial,
    kind_of,
)
from bridge.shell.files.report import Placed, Report, listed, quote
from bridge.shell.outputs.spelling import UNIVERSE_RANGE, spec_name
from bridge.values.rig import Lamp, OutputSpec, Rig
from bridge.wire.dmx_serial import BREAK_US, LEAST_BREAK_US, highest_refresh_hz


@dataclass(frozen=True, slots=True)
class Read:
    """An output and the entry it came from."""

    spec: OutputSpec
    item: Item[Output]


def read_outputs(top: Table, report: Report) -> list[Read]:
    """The section `outputs`, in the order of the file."""
    out: dict[object, Read] = {}
    for node in items(top, "outputs", report):
        model = _model(node, report)
        if model is None and isinstance(node, Table):
            check(Output, node.only(keys_of(Output)), report, "an output")
        item = check(model, node, report, "an output") if model else None
        spec = _spec(item, report) if item else None
        if item is None or spec is None or not item.good("sends", "universe", "as", "host", "port"):
            continue
        twin = out.setdefault(_line(spec), Read(spec, item))
        if twin.item is not item:
            what = f"the same output as on line {twin.spec.line}: {spec.name}"
            report.error(node, what, "take one of them out")
    return list(out.values())


def _model(node: Node, report: Report) -> type[Output] | None:
    if not isinstance(node, Table):
        what = f"an output is written as keys and values, not as {describe(node)}"
        report.error(node, what, "write {kind: …}")
        return None
    kind = kind_of(node)
    if "kind" not in node:
        report.error(node, "an output has no key 'kind'", f"known: {', '.join(OUTPUT_MODELS)}")
    elif kind is None:
        report.error(node["kind"], f"kind is {describe(node['kind'])}", f"known: {', '.join(OUTPUT_MODELS)}")
    elif kind not in OUTPUT_MODELS:
        report.unknown(node["kind"], "kind of output", kind, OUTPUT_MODELS)
    return OUTPUT_MODELS.get(kind or "")


def _spec(item: Item[Output], report: Report) -> OutputSpec | None:
    entry, node = item.value, item.node
    if entry.sends is not None and entry.universe is not None:
        report.error(
            node.keys_at["universe"], "both sends and universe", "give one of them: they mean the same"
        )
        return None
    sends = entry.sends or entry.universe or 1
    spec = OutputSpec(str(kind_of(node)), sends=sends, carried_as=sends, line=node.line)
    spec = replace(spec, refresh_hz=entry.refresh_hz or 0.0)
    if isinstance(entry, Padded):
        spec = replace(spec, pad_to=entry.pad_to)
    if isinstance(entry, Network):
        spec = replace(spec, interface=entry.interface)
    if isinstance(entry, Sacn):
        number = sends if entry.carried_as is None else entry.carried_as
        spec = replace(spec, carried_as=number, host=entry.host, priority=entry.priority)
    if isinstance(entry, Artnet):
        # Universes of Art-Net count from 0.
        number = sends - 1 if entry.carried_as is None else entry.carried_as
        spec = replace(spec, carried_as=number, host=entry.host)
        if number > UNIVERSE_RANGE["artnet"][1]:
            last = UNIVERSE_RANGE["artnet"][1]
            report.error(
                node.place("sends"), f"universe {number} is none of Art-Net", f"give as: 0 to {last}"
            )
            return None
    if isinstance(entry, Serial):
        spec = replace(spec, port=entry.port, framing=entry.framing, break_us=entry.break_us or BREAK_US)
        if entry.break_us is not None and entry.framing == "packet":
            what = "break_us does nothing with framing packet"
            report.warn(node.keys_at["break_us"], what, "the interface makes its own break")
    return replace(spec, name=spec_name(spec))


def _line(spec: OutputSpec) -> object:
    """What an output has to itself: a decoder cannot have two masters."""
    return (spec.port,) if spec.kind == "serial" else (spec.kind, spec.host, spec.carried_as)


def check_rates(rig: Rig, outputs: Sequence[Read], place: Placed, report: Report) -> None:
    """Report refresh rates above what ANSI E1.11 lets a line carry, and universes without lamps or output.

    Args:
        place: where the rig's refresh_hz stands.
    """
    tops: dict[int, int] = {}
    first: dict[int, Lamp] = {}
    for lamp in rig.lamps:
        first.setdefault(lamp.universe, lamp)
        tops[lamp.universe] = max(tops.get(lamp.universe, 0), lamp.slot + lamp.bits // 16)
    padded = dict(tops)
    for read in outputs:
        spec = read.spec
        padded[spec.sends] = max(padded.get(spec.sends, 0), spec.pad_to)
        _check_output(rig, read, tops, report)
    for universe, slots in sorted(padded.items()):
        highest = highest_refresh_hz(slots, LEAST_BREAK_US)
        if rig.refresh_hz > highest:
            what = f"refresh_hz {rig.refresh_hz:g} is too fast for the {slots} slots of universe {universe}"
            report.error(place, what, _at_most(highest))
    dark = sorted(tops.keys() - {read.spec.sends for read in outputs}) if outputs else []
    for universe in dark:
        what = f"no output sends universe {universe}, so {quote(first[universe].name)} stays dark"
        report.warn(outputs[0].item.node, what, f"add one with sends: {universe}")


def _check_output(rig: Rig, read: Read, tops: Mapping[int, int], report: Report) -> None:
    """Report what is wrong with one output; `tops` has the highest slot in use of every universe."""
    spec, node = read.spec, read.item.node
    if tops and spec.sends not in tops:
        what = f"{spec.name} sends universe {spec.sends}, which has no lamp"
        place = node.place("sends" if "sends" in node else "universe")
        report.warn(place, what, f"lamps are on: {listed([str(universe) for universe in sorted(tops)])}")
    if spec.refresh_hz > rig.refresh_hz:
        what = f"refresh_hz {spec.refresh_hz:g} is over the rig's {rig.refresh_hz:g}"
        report.error(node.place("refresh_hz"), what, "an output's own rate can only be lower")
    elif spec.kind == "serial" and spec.framing == "break":
        rate = spec.refresh_hz or rig.refresh_hz
        slots = max(tops.get(spec.sends, 0), spec.pad_to)
        highest = highest_refresh_hz(slots, spec.break_us)
        # A rate too fast even for the shortest break is told once, for the whole rig.
        if highest < rate <= highest_refresh_hz(slots, LEAST_BREAK_US):
            what = (
                f"{rate:g} pictures a second are too many for {slots} slots and a break of {spec.break_us} us"
            )
            report.error(node.place("refresh_hz"), what, _at_most(highest))


def _at_most(highest: float) -> str:
    return f"ANSI E1.11 allows at most {floor(highest * 100) / 100:.2f}"
