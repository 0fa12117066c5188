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
    ALL,
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
from bridge.shell.outputs.base import line_seconds
from bridge.shell.outputs.spelling import UNIVERSE_RANGE, line_of, spec_name
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
        twin = out.setdefault(line_of(spec), Read(spec, item))
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
        gap = (entry.least_gap_ms or 0.0) / 1000.0 if entry.early else 0.0
        spec = replace(spec, pad_to=entry.pad_to, early=entry.early, gap=gap)
        if entry.least_gap_ms is not None and not entry.early and item.good("early"):
            what = "least_gap_ms does nothing without early"
            report.warn(
                node.keys_at["least_gap_ms"], what, "add early: true, or refresh_hz for a slower rate"
            )
    if isinstance(entry, Network):
        spec = replace(spec, interface=entry.interface, whole=entry.sends == ALL)
    if isinstance(entry, Sacn):
        number = sends if entry.carried_as is None else entry.carried_as
        spec = replace(spec, carried_as=number, host=entry.host, priority=entry.priority)
        spec = replace(spec, sync=entry.sync, discover=entry.discover)
    if isinstance(entry, Artnet):
        # Universes of Art-Net count from 0.
        number = sends - 1 if entry.carried_as is None else entry.carried_as
        spec = replace(spec, carried_as=number, host=entry.host)
        if not spec.whole and number > UNIVERSE_RANGE["artnet"][1]:
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
    if spec.whole and "as" in node:
        spec = replace(spec, sends=ALL)
    return replace(spec, name=spec_name(spec))


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
        for universe in read.spec.numbers(tops):
            padded[universe] = max(padded.get(universe, 0), read.spec.pad_to)
        _check_output(rig, read, tops, report)
    _check_numbers(outputs, tops, report)
    for universe, slots in sorted(padded.items()):
        highest = highest_refresh_hz(slots, LEAST_BREAK_US)
        if rig.refresh_hz > highest:
            what = f"refresh_hz {rig.refresh_hz:g} is too fast for the {slots} slots of universe {universe}"
            report.error(place, what, _at_most(highest))
    sent = {universe for read in outputs for universe in read.spec.numbers(tops)}
    dark = sorted(tops.keys() - sent) if outputs else []
    for universe in dark:
        what = f"no output sends universe {universe}, so {quote(first[universe].name)} stays dark"
        report.warn(outputs[0].item.node, what, f"add one with sends: {universe}")


def _check_output(rig: Rig, read: Read, tops: Mapping[int, int], report: Report) -> None:
    """Report what is wrong with one output; `tops` has the highest slot in use of every universe."""
    spec, node = read.spec, read.item.node
    if tops and not spec.whole and spec.sends not in tops:
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

    pictures = spec.refresh_hz or rig.refresh_hz
    if spec.gap * pictures > 1.0:
        what = f"least_gap_ms {spec.gap * 1000:g} is over the {1000 / pictures:g} ms from picture to picture"
        right = f"give this output refresh_hz: {floor(100 / spec.gap) / 100:g}, or a shorter gap"
        report.error(node.place("least_gap_ms"), what, right)
    elif spec.early and line_seconds(spec, _top(spec, tops), 1.0 / pictures) == 0.0:
        slots = max(_top(spec, tops), spec.pad_to)
        what = f"early does nothing: {pictures:g} pictures a second of {slots} slots leave no time for more"
        report.warn(node.place("early"), what, "use fewer slots on a universe, or a lower refresh_hz")


def _top(spec: OutputSpec, tops: Mapping[int, int]) -> int:
    """The highest slot in use of what an output sends."""
    return max(tops.values(), default=0) if spec.whole else tops.get(spec.sends, 0)


def _check_numbers(outputs: Sequence[Read], tops: Mapping[int, int], report: Report) -> None:
    """Report numbers that a protocol does not have, and what two outputs would send to one place."""
    senders: dict[object, Read] = {}
    for read in outputs:
        spec, node = read.spec, read.item.node
        if spec.kind not in UNIVERSE_RANGE:
            continue
        numbers = spec.numbers(tops)
        if spec.whole and not _numbers_exist(read, numbers, report):
            continue
        for number in numbers.values():
            twin = senders.setdefault((spec.kind, spec.host, number), read)
            if twin is not read:
                what = (
                    f"{spec.name} sends universe {number}, as {twin.spec.name} on line {twin.spec.line} does"
                )
                report.error(node, what, "give one of them another as, or take it out")
                break
        # Receivers tell synchronization packets apart by universe alone (ANSI E1.31 clauses 6.3.2 and 6.7.2).
        twin = senders.setdefault((spec.host, "sync", spec.sync), read)
        if spec.sync and twin is not read:
            what = f"sync {spec.sync} is that of {twin.spec.name} on line {twin.spec.line}, too"
            report.error(
                node["sync"], what, "give it another number, or make them one output with sends: all"
            )


def _numbers_exist(read: Read, numbers: Mapping[int, int], report: Report) -> bool:
    """Report universes of `sends: all` that would get a number there is none of; True if all is well."""
    first, last = UNIVERSE_RANGE[read.spec.kind]
    universe, number = max(numbers.items())
    if number <= last:
        return True
    most = last - (universe - min(numbers))
    right = f"give as: {first} to {most}" if most >= first else "give each universe an output of its own"
    place = read.item.node.place("as" if "as" in read.item.node else "sends")
    report.error(place, f"universe {universe} would go out as {number}, past {last}, the last", right)
    return False


def _at_most(highest: float) -> str:
    return f"ANSI E1.11 allows at most {floor(highest * 100) / 100:.2f}"
