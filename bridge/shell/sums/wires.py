"""Knows: the sums of copper: voltage lost in cables, resistors of LEDs, the data line.

Must never know: what a supply may give, addresses, or how a sum is shown on paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from bridge.core.guards import amps_of
from bridge.parts import electrical as el
from bridge.shell.sums.loads import counted, terms, volts_of
from bridge.values.rig import Cable, DmxLine, Led, Rig

MOST_DROP_PERCENT = 5.0
"""Volts that may be lost on the way, in per cent of the supply (common practice for lamps: 3 to 5)."""

CLASSES = {"flexible": 5, "stranded": 2}
"""Word of the rig file -> class of conductor (IEC 60228)."""


def cable_volts(rig: Rig, cable: Cable) -> float:
    """Volts of the supply a cable hangs on; 0 where the file does not say."""
    volts = volts_of(rig)
    if cable.source in volts:
        return volts[cable.source]
    return next((volts[rig.lamps[i].supply] for i in cable.lamps if rig.lamps[i].supply in volts), 0.0)


def cable_lines(rig: Rig) -> list[str]:
    """What each run loses, alone and with the runs before it, and the fuse it asks for."""
    lines: list[str] = []
    for cable in rig.cables:
        volts = cable_volts(rig, cable)
        amps = [amps_of(rig.lamps[i], volts_of(rig)) for i in cable.lamps]
        total = math.fsum(amps)
        origin = f" from {cable.source}," if cable.source else ""
        lines.append(
            f"{cable.name}:{origin} {cable.length_m:g} m of {cable.mm2:g} mm2 {cable.wire}, "
            f"{counted(len(cable.lamps), 'lamp')}"
        )
        if not volts or not total:
            lines.append("  no sum: the file says of its lamps neither supply nor watts nor amps")
            continue
        drop = el.voltage_drop(volts, total, cable.length_m, cable.mm2, CLASSES[cable.wire])
        lines.append(f"  carries at full: {terms(amps, ())} = {total:.4g} A")
        lines.append(f"  {drop.loop.text}")
        lines.append(f"  {drop.drop.text}; {drop.percent.text}")
        lines.append(f"  {drop.at_load.text}; {drop.lost.text}")
        lost = drop.drop.value
        for before in _before(rig, cable):
            more = el.voltage_drop(
                volts, _amps(rig, before), before.length_m, before.mm2, CLASSES[before.wire]
            )
            lost += more.drop.value
            lines.append(
                f"  with {before.name} before it ({more.drop.value:.4g} V): {lost:.4g} V lost, "
                f"{volts - lost:.4g} V at the load"
            )
        if 100.0 * lost / volts > MOST_DROP_PERCENT:
            lines.append(f"  warning: {100.0 * lost / volts:.3g} % lost; {_thicker(cable, volts, total)}")
        fuse = el.fuse_suggestion(total, cable.rated_amps or math.inf)
        lines.append(f"  fuse: {fuse.text}")
    return lines


@dataclass(frozen=True, slots=True)
class CableRow:
    """One run in short, as text: its ends, its wire, what it carries, volts at its load, its fuse."""

    name: str
    ends: str
    wire: str
    amps: str
    at_load: str
    fuse: str


def cable_rows(rig: Rig) -> list[CableRow]:
    """All runs in short; `?` where the file does not say enough."""
    rows = []
    for cable in rig.cables:
        volts, total = cable_volts(rig, cable), _amps(rig, cable)
        far = [*cable.decoders, *([] if cable.decoders else [counted(len(cable.lamps), "lamp")])]
        ends = f"{cable.source or '?'} to {', '.join(far)}"
        wire = f"{cable.length_m:g} m, {cable.mm2:g} mm2 {cable.wire}"
        if not volts or not total:
            rows.append(CableRow(cable.name, ends, wire, "?", "?", "?"))
            continue
        lost = _lost(rig, cable, volts)
        fuse = el.fuse_suggestion(total, cable.rated_amps or math.inf).value
        rows.append(
            CableRow(
                cable.name,
                ends,
                wire,
                f"{total:.3g} A",
                f"{volts - lost:.3g} V ({100 * lost / volts:.0f} % lost)" if lost < volts else "nothing left",
                f"{fuse:g} A" if fuse < math.inf else "none fits",
            )
        )
    return rows


def _lost(rig: Rig, cable: Cable, volts: float) -> float:
    """Volts lost in a run and in those before it."""
    return math.fsum(
        el.voltage_drop(volts, _amps(rig, run), run.length_m, run.mm2, CLASSES[run.wire]).drop.value
        for run in (cable, *_before(rig, cable))
    )


def _amps(rig: Rig, cable: Cable) -> float:
    return math.fsum(amps_of(rig.lamps[i], volts_of(rig)) for i in cable.lamps)


def _before(rig: Rig, cable: Cable) -> list[Cable]:
    """The runs between a cable's beginning and its supply, nearest first."""
    found: list[Cable] = []
    at = cable
    while True:
        before = next((one for one in rig.cables if at.source and at.source in one.decoders), None)
        if before is None or before in found or before is cable:
            return found
        found.append(before)
        at = before


def _thicker(cable: Cable, volts: float, amps: float) -> str:
    """The next cross section that would do."""
    for mm2 in (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0):
        if mm2 > cable.mm2:
            drop = el.voltage_drop(volts, amps, cable.length_m, mm2, CLASSES[cable.wire])
            if drop.percent.value <= MOST_DROP_PERCENT:
                return f"{mm2:g} mm2 would lose {drop.percent.value:.3g} % in this run"
    return "shorten the run, divide the lamps, or take a supply of more volts nearer to them"


def led_lines(rig: Rig) -> list[str]:
    """The resistor for each kind of LEDs on each supply."""
    kinds: dict[tuple[Led, float], list[str]] = {}
    volts = volts_of(rig)
    for lamp in rig.lamps:
        if lamp.led is not None and lamp.supply in volts:
            kinds.setdefault((lamp.led, volts[lamp.supply]), []).append(lamp.name)
    lines = []
    for (led, supply_v), names in kinds.items():
        drop = led.drop_v * led.in_series
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        lines.append(
            f"{names[0]}{more}: {led.strings} x {led.in_series} LEDs of {led.drop_v:g} V "
            f"({led.in_series} x {led.drop_v:g} V = {drop:g} V a string) on {supply_v:g} V, "
            "a resistor for each string"
        )
        try:
            found = el.led_resistor(supply_v, drop, led.amps)
        except ValueError as error:
            lines.append(f"  warning: {error}")
            continue
        lines.append(f"  {found.exact.text}")
        lines.append(f"  {found.e24.text}")
        lines.append(f"  {found.current.text}; {found.power.text}")
        lines.append(f"  rated for a factor of {el.POWER_IN_HAND:g} in hand: {found.rating.text}")
    return lines


def line_lines(rig: Rig) -> list[str]:
    """The data line of each universe that the file describes, and how to describe the others."""
    lines: list[str] = []
    for line in rig.dmx:
        lines += _line(line)
    missing = [
        str(universe) for universe in rig.universes if universe not in {line.universe for line in rig.dmx}
    ]
    if missing and rig.outputs:
        lines.append(
            f"universe {', '.join(missing)}: not described; add "
            "dmx: {devices: …, length_m: …, terminated: true}, and it is checked"
        )
    return lines


def _line(line: DmxLine) -> list[str]:
    ends = int(line.terminated) + 1
    ohm = el.dmx_line_ohm(line.devices, ends)
    far = "120 ohm at its far end" if line.terminated else "no terminator"
    lines = [
        f"universe {line.universe}: {counted(line.devices, 'receiver')} on {line.length_m:g} m, {far}",
        f"  receivers: {line.devices} of at most {el.UNIT_LOADS} unit loads on one pair (TIA/EIA-485-A)",
        f"  the sender sees, its own 120 ohm counted: {ohm.text}; drivers are tested with 54 ohm",
        f"  length: {line.length_m:g} m of {el.DMX_LINE_M:g} m (planning length, recommended practice); "
        f"rule of thumb: {el.line_length_m().text}",
    ]
    if line.devices > el.UNIT_LOADS:
        lines.append("  warning: more receivers than one pair may carry: put a splitter in")
    if line.length_m > el.DMX_LINE_M:
        lines.append("  warning: longer than planned for: put a splitter or repeater in")
    if not line.terminated:
        lines.append(
            "  warning: an open end reflects: put 120 ohm across the pair (pins 2 and 3 of the plug) "
            "at the last receiver"
        )
    return lines
