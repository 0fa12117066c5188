"""Knows: how decoders, cables and data lines come from a rig file, and what in them does not fit its lamps.

Must never know: how a lamp is read, outputs, or what a cable loses.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bridge.shell.files.check import Item, check, entries, is_empty, items
from bridge.shell.files.lamp_names import LampNames
from bridge.shell.files.nodes import Listing, Node, Scalar, Table
from bridge.shell.files.report import Placed, Report, listed, quote
from bridge.shell.files.wiring_model import CableEntry, DecoderEntry, DmxEntry
from bridge.values.frame import SLOTS
from bridge.values.rig import Cable, Decoder, DmxLine, Lamp, Supply

UNIT_LOADS = 32
"""Receivers on one pair without a repeater (TIA/EIA-485-A, unit loads)."""


MOST_DECODERS = 512
"""Decoders a rig may have."""

Slot = tuple[int, int]
"""Universe and slot."""


@dataclass(slots=True)
class Boxes:
    """The decoders of a file, where each stands, and names of those that could not be read.

    Args:
        owner: the first decoder that takes a slot.
    """

    decoders: dict[str, Decoder] = field(default_factory=dict)
    places: dict[str, Placed] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)
    owner: dict[Slot, Decoder] = field(default_factory=dict)

    def of(self, lamp: Lamp) -> Decoder | None:
        """The decoder that a lamp hangs on with all its slots."""
        box = self.owner.get((lamp.universe, lamp.slot))
        return box if box is not None and box.carries(lamp) else None


def read_decoders(top: Table, report: Report) -> Boxes:
    """The section `decoders`; two on the same slots are odd and told."""
    boxes = Boxes()
    for name, node in entries(top, "decoders", report):
        item = check(DecoderEntry, node, report, "a decoder")
        box = _decoder(name.raw, item, report) if item else None
        if item is None or box is None:
            boxes.broken.add(name.raw)
        elif len(boxes.decoders) >= MOST_DECODERS:
            report.error(name, f"more than {MOST_DECODERS} decoders", "divide the rig in two")
            break
        else:
            boxes.decoders[box.name] = box
            boxes.places[box.name] = item.node.place("start") if "start" in item.node else name
            _take(box, boxes, report)
    return boxes


def _decoder(name: str, item: Item[DecoderEntry], report: Report) -> Decoder | None:
    entry = item.value
    last = entry.start + entry.slots - 1
    if not item.good("slots", "start", "universe"):
        return None
    if last > SLOTS:
        what = f"decoder {quote(name)} would take slot {last}"
        report.error(item.node.place("start"), what, f"a universe ends at {SLOTS}")
        return None
    return Decoder(name, entry.universe, entry.start, entry.slots, entry.amps_per_slot, entry.amps)


def _take(box: Decoder, boxes: Boxes, report: Report) -> None:
    """Give a decoder its slots, and tell of those that another has."""
    shared: dict[str, list[int]] = {}
    for slot in range(box.start, box.start + box.slots):
        there = boxes.owner.setdefault((box.universe, slot), box)
        if there is not box:
            shared.setdefault(there.name, []).append(slot)
    for other, slots in shared.items():
        both = f"decoders {quote(other)} and {quote(box.name)} both take"
        what = f"{both} {_span(slots)} of universe {box.universe}"
        right = "they light together, and the guards count the first of them alone"
        report.warn(boxes.places[box.name], what, right)


def names_differ(
    boxes: Boxes, supplies: Mapping[str, object], names: LampNames, top: Table, report: Report
) -> None:
    """Report a decoder named like a supply, a lamp or a group: a cable could not tell them apart."""
    section = top.get("decoders")
    for name in boxes.decoders:
        kind = "supply" if name in supplies else "lamp" if name in names.lamps else "group"
        if (name in supplies or names.find(name)) and isinstance(section, Table):
            what = f"decoder {quote(name)} has the name of a {kind}"
            report.error(section.keys_at[name], what, "give the decoder another name")


def lamps_fit(boxes: Boxes, lamps: Sequence[Lamp], slots_at: Sequence[Placed], report: Report) -> None:
    """Tell of lamps that hang on no decoder though their universe has some.

    Args:
        slots_at: where the slot of each lamp is written.
    """
    with_boxes = {box.universe for box in boxes.decoders.values()}
    lost: dict[int, list[Lamp]] = {}
    for lamp in lamps:
        if lamp.universe in with_boxes and boxes.of(lamp) is None:
            lost.setdefault(lamp.universe, []).append(lamp)
    for universe, found in lost.items() if not boxes.broken else ():
        names = listed([lamp.name for lamp in found], 6)
        spans = listed(
            [
                f"{box.name} {box.start} to {box.start + box.slots - 1}"
                for box in boxes.decoders.values()
                if box.universe == universe
            ],
            6,
        )
        what = f"no decoder of universe {universe} takes the slots of {names}"
        report.warn(slots_at[found[0].index], what, f"decoders: {spans}")


@dataclass(frozen=True, slots=True)
class Feeding:
    """What a cable can begin or end at."""

    supplies: Mapping[str, Supply | None]
    boxes: Boxes
    lamps: Sequence[Lamp]
    names: LampNames
    hanging: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    """Lamps of each decoder."""

    def __post_init__(self) -> None:
        for lamp in self.lamps:
            if box := self.boxes.of(lamp):
                self.hanging[box.name].append(lamp.index)


def read_cables(top: Table, ends: Feeding, report: Report) -> tuple[Cable, ...]:
    """The section `cables`."""
    out: dict[str, tuple[Cable, Scalar]] = {}
    for node in items(top, "cables", report):
        item = check(CableEntry, node, report, "a cable")
        if item is None or not item.good("name", "carries", "from"):
            continue
        entry = item.value
        if entry.name.raw in out:
            first = out[entry.name.raw][1].line
            report.error(
                entry.name, f"a second cable {quote(entry.name.raw)}", f"the first is on line {first}"
            )
            continue
        cable = _cable(item, ends, report)
        if cable is not None and item.good("length_m", "mm2"):
            out[cable.name] = (cable, entry.name)
    return tuple(cable for cable, _ in out.values())


def _cable(item: Item[CableEntry], ends: Feeding, report: Report) -> Cable | None:
    entry = item.value
    source = entry.source.raw if entry.source else ""
    decoders, lamps, named = _carried(entry, ends, report)
    if entry.source and not _source_known(entry.source, ends, report):
        return None
    if source in decoders:
        what = f"the cable runs from {quote(source)} to itself"
        report.error(item.node.place("carries"), what, "name its far end")
        return None
    if source in ends.supplies:
        # A box can switch lamps of several supplies: this run carries the share of its own.
        lamps = [lamp for lamp in lamps if lamp.index in named or lamp.supply in ("", source)]
        strange = [lamp.name for lamp in lamps if lamp.supply not in ("", source)]
    else:
        strange = [lamp.name for lamp in lamps if source and not ends.boxes.decoders[source].carries(lamp)]
    supplies = sorted({lamp.supply for lamp in lamps if lamp.supply})
    if strange:
        what = f"the cable comes from {quote(source)}, and these hang elsewhere: {listed(strange, 6)}"
        report.error(item.node.place("carries"), what, "name only what is fed from there")
    elif len(supplies) > 1:
        what = f"the cable carries lamps of {len(supplies)} supplies: {listed(supplies)}"
        report.error(item.node.place("carries"), what, "a cable has one supply; describe each run by itself")
    return Cable(
        entry.name.raw,
        entry.length_m,
        entry.mm2,
        tuple(lamp.index for lamp in lamps),
        decoders,
        source,
        entry.wire,
        entry.rated_amps,
    )


def _carried(
    entry: CableEntry, ends: Feeding, report: Report
) -> tuple[tuple[str, ...], list[Lamp], set[int]]:
    """The decoders at the far end of a cable, all lamps it feeds, and those that it names itself."""
    decoders: list[str] = []
    lamps: dict[int, None] = {}
    named: set[int] = set()
    for name in {name.raw: name for name in entry.carries}.values():
        if name.raw in ends.boxes.decoders:
            decoders.append(name.raw)
            lamps.update(dict.fromkeys(ends.hanging.get(name.raw, ())))
        elif (found := ends.names.find(name.raw)) is not None:
            lamps.update(dict.fromkeys(found))
            named.update(found)
        elif name.raw not in ends.boxes.broken:
            what = f"no lamp, group or decoder is called {quote(name.raw)}"
            known = [] if report.full else [*ends.boxes.decoders, *ends.names.groups, *ends.names.lamps]
            report.error(name, what, report.near(name.raw, list(dict.fromkeys(known))))
    return tuple(decoders), [ends.lamps[index] for index in lamps], named


def _source_known(source: Scalar, ends: Feeding, report: Report) -> bool:
    known = [*ends.supplies, *ends.boxes.decoders]
    if source.raw in known:
        return True
    if source.raw not in ends.boxes.broken:
        report.unknown(source, "supply or decoder", source.raw, known)
    return False


def read_dmx(top: Table, lamps: Sequence[Lamp], report: Report) -> tuple[DmxLine, ...]:
    """The section `dmx`: one line, or a list with one for each universe."""
    section = top.get("dmx")
    if section is None or is_empty(section):
        return ()
    nodes: list[Node] = list(section) if isinstance(section, Listing) else [section]
    used = sorted({lamp.universe for lamp in lamps})
    out: dict[int, DmxLine] = {}
    for node in nodes:
        item = check(DmxEntry, node, report, "a data line")
        if item is None or not item.good("devices", "universe"):
            continue
        entry, place = item.value, item.node.place("universe")
        if entry.universe in out:
            report.error(place, f"a second data line for universe {entry.universe}", "a universe has one")
            continue
        out[entry.universe] = DmxLine(entry.universe, entry.devices, entry.length_m, entry.terminated)
        if used and entry.universe not in used:
            what = f"the data line of universe {entry.universe} has no lamp"
            report.warn(place, what, f"lamps are on: {listed([str(universe) for universe in used])}")
        if entry.devices > UNIT_LOADS:
            what = (
                f"{entry.devices} devices are more than the {UNIT_LOADS} unit loads that one pair may carry"
            )
            report.warn(item.node.place("devices"), what, "put a splitter in (TIA/EIA-485-A)")
    return tuple(out.values())


def _span(slots: Sequence[int]) -> str:
    return f"slot {slots[0]}" if len(slots) == 1 else f"slots {slots[0]} to {slots[-1]}"
