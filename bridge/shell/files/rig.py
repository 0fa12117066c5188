"""Knows: how a rig file becomes a Rig, all its mistakes found at once.

Must never know: mappings, devices, or how any one section is read.
"""

from __future__ import annotations

import os

from bridge.shell.files.check import check, entries, is_empty, items
from bridge.shell.files.lamp_names import LampNames
from bridge.shell.files.nodes import Table
from bridge.shell.files.report import Report
from bridge.shell.files.rig_groups import read_groups
from bridge.shell.files.rig_lamps import Hung
from bridge.shell.files.rig_loads import check_leds, check_outputs_of_boxes, check_supplies
from bridge.shell.files.rig_model import GuardsEntry, RigFile, SupplyEntry
from bridge.shell.files.rig_outputs import check_rates, read_outputs
from bridge.shell.files.rig_patch import check_names, check_slots
from bridge.shell.files.rig_types import read_types
from bridge.shell.files.rig_wiring import (
    Feeding,
    lamps_fit,
    names_differ,
    read_cables,
    read_decoders,
    read_dmx,
)
from bridge.shell.files.source import read_file
from bridge.shell.files.tree import parse
from bridge.shell.files.wiring_model import AudienceEntry
from bridge.values.errors import Problem
from bridge.values.rig import Rig, Supply

SECTIONS = frozenset(
    ("supplies", "lamp_types", "grids", "lamps", "groups", "outputs", "decoders", "cables", "dmx")
)


def read_rig(path: str | os.PathLike[str]) -> tuple[Rig, list[Problem]]:
    """Read a rig file.

    Returns:
        The rig, and warnings about what is odd in it.

    Raises:
        FileError: with everything that is wrong, in the order of the file.
    """
    report = Report(os.fspath(path))
    text = read_file(path, report)
    return _rig(text, report)


def rig_from_text(text: str, name: str = "rig") -> tuple[Rig, list[Problem]]:
    """Read a rig from the text of its file, which messages call `name`; else as `read_rig`."""
    return _rig(text, Report(name))


def _rig(text: str | None, report: Report) -> tuple[Rig, list[Problem]]:
    top = parse(text, report) if text is not None else None
    rig = _build(top, report) if top is not None else Rig()
    return rig, report.finish()


def _build(top: Table, report: Report) -> Rig:
    empty = {key for key in ("guards", "audience") if is_empty(top.get(key))}
    head = check(RigFile, top.without(SECTIONS | empty), report, "a rig")
    file = head.value if head else RigFile.model_validate({})
    supplies = _supplies(top, report)
    hung = Hung(report, read_types(top, report), supplies)
    # The order of the file is the order of the lamps.
    for section in top:
        if section == "lamps":
            for node in items(top, section, report):
                hung.lamp(node)
        elif section == "grids":
            for node in items(top, section, report):
                hung.grid(node)
    check_names(hung.lamps, hung.origins, report)
    check_slots(hung.lamps, hung.origins, report)
    if not hung.lamps and not hung.broken and not report.failed:
        report.warn(top, "the rig has no lamps", "add some under 'lamps:' or 'grids:'")
    names = LampNames((lamp.name for lamp in hung.lamps), broken=hung.broken)
    read_groups(top, hung.lamps, names, report)
    boxes = read_decoders(top, report)
    names_differ(boxes, supplies, names, top, report)
    cables = read_cables(top, Feeding(supplies, boxes, hung.lamps, names), report)
    dmx = read_dmx(top, hung.lamps, report)
    slots_at = [origin.slot for origin in hung.origins]
    lamps_fit(boxes, hung.lamps, slots_at, report)
    check_supplies(top, supplies, hung.lamps, report)
    check_outputs_of_boxes(boxes, supplies, hung.lamps, report)
    check_leds(supplies, hung.lamps, [origin.name for origin in hung.origins], report)
    outputs = read_outputs(top, report)
    audience = file.audience or AudienceEntry.model_validate({})
    guards = file.guards or GuardsEntry.model_validate({})
    rig = Rig(
        name=file.rig,
        lamps=tuple(hung.lamps),
        refresh_hz=file.refresh_hz,
        on_exit=file.on_exit,
        supplies=tuple(supply for supply in supplies.values() if supply is not None),
        groups=names.groups,
        grids=tuple(hung.grids),
        decoders=tuple(boxes.decoders.values()),
        cables=cables,
        dmx=dmx,
        view_deg=audience.view_deg,
        distance_m=audience.distance_m,
        outputs=tuple(read.spec for read in outputs),
        guards={"load": guards.load, "flash": guards.flash, "heat": guards.heat},
    )
    if head and head.good("refresh_hz"):
        check_rates(rig, outputs, top.place("refresh_hz"), report)
    return rig


def _supplies(top: Table, report: Report) -> dict[str, Supply | None]:
    """Supplies by name; None for one that could not be read and has been reported."""
    supplies: dict[str, Supply | None] = {}
    for name, node in entries(top, "supplies", report):
        item = check(SupplyEntry, node, report, "a supply")
        entry = item.value if item else None
        supplies[name.raw] = Supply(name.raw, entry.volts, entry.amps, entry.headroom) if entry else None
    return supplies
