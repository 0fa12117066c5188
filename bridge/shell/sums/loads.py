"""Knows: what hangs on each supply and decoder, and the current it asks for: connected, worst and typical.

Must never know: cables, addresses, or how a sum is shown on paper.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np

from bridge.core.guards import amps_of
from bridge.core.patch import Patch
from bridge.parts.electrical import CONTINUOUS_FACTOR, FUSES_A, fuse_suggestion, lamp_amps, supply_load
from bridge.values.numbers import Floats
from bridge.values.rig import Decoder, Lamp, Rig, Supply

TYPICAL_LEVEL = 0.5
"""The level of every lamp that we call typical. Our yardstick: nobody plays all lamps at full all evening."""

TERMS = 6
"""Kinds of lamps written out in a sum; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Load:
    """The amps of one supply or decoder.

    Args:
        lamps: what hangs on it. unknown: those of them whose current the file does not say; not counted.
        gives: amps it may give, 0 for no limit. budget: less what is kept back; the load guard keeps it.
        connected: all lamps at full drive, which is also the peak of pulse-width dimming: all lamps in the on
            part of their cycle at once. worst: the average with every lamp at its ceiling.
            typical: with every lamp at TYPICAL_LEVEL.
        amps: of each lamp at full drive; highest, drives: its drive in the worst and in the typical case.
    """

    name: str
    lamps: tuple[Lamp, ...]
    unknown: tuple[str, ...]
    gives: float
    budget: float
    connected: float
    worst: float
    typical: float
    amps: tuple[float, ...]
    highest: tuple[float, ...]
    drives: tuple[float, ...]


def volts_of(rig: Rig) -> dict[str, float]:
    """Volts of each supply by its name."""
    return {supply.name: supply.volts for supply in rig.supplies}


def supply_loads(rig: Rig) -> list[Load]:
    """The load of each supply, in the order of the file."""
    drives = _drives(rig)
    return [
        _load(rig, drives, supply.name, _on_supply(rig, supply), supply.amps, 1.0 - supply.headroom)
        for supply in rig.supplies
    ]


def decoder_loads(rig: Rig) -> list[Load]:
    """The load of each decoder, in the order of the file; no headroom is kept there."""
    drives = _drives(rig)
    found = hanging(rig)
    return [_load(rig, drives, box.name, found[box.name], box.amps, 1.0) for box in rig.decoders]


def hanging(rig: Rig) -> dict[str, list[Lamp]]:
    """The lamps of each decoder, by slot; those of an overlap count for the first one, as in the guard."""
    owner: dict[tuple[int, int], Decoder] = {}
    for box in rig.decoders:
        for slot in range(box.start, box.start + box.slots):
            owner.setdefault((box.universe, slot), box)
    out: dict[str, list[Lamp]] = {box.name: [] for box in rig.decoders}
    for lamp in sorted(rig.lamps, key=lambda lamp: lamp.slot):
        found = owner.get((lamp.universe, lamp.slot))
        if found is not None and found.carries(lamp):
            out[found.name].append(lamp)
    return out


def _on_supply(rig: Rig, supply: Supply) -> list[Lamp]:
    return [lamp for lamp in rig.lamps if lamp.supply == supply.name]


def _drives(rig: Rig) -> tuple[Floats, Floats]:
    """The drive of every lamp at level 1, and at the typical level."""
    patch = Patch(rig)
    return patch.drive(np.ones(len(rig.lamps))), patch.drive(np.full(len(rig.lamps), TYPICAL_LEVEL))


def _load(
    rig: Rig, drives: tuple[Floats, Floats], name: str, lamps: Sequence[Lamp], gives: float, kept: float
) -> Load:
    volts = volts_of(rig)
    amps = tuple(amps_of(lamp, volts) for lamp in lamps)
    highest, typical = (tuple(float(each[lamp.index]) for lamp in lamps) for each in drives)
    return Load(
        name,
        tuple(lamps),
        tuple(lamp.name for lamp, one in zip(lamps, amps, strict=True) if one <= 0.0),
        gives,
        gives * kept,
        fsum(amps),
        fsum(a * d for a, d in zip(amps, highest, strict=True)),
        fsum(a * d for a, d in zip(amps, typical, strict=True)),
        amps,
        highest,
        typical,
    )


def supply_lines(rig: Rig) -> list[str]:
    """The sums of every supply, each with its formula and numbers."""
    lines: list[str] = []
    for supply, load in zip(rig.supplies, supply_loads(rig), strict=True):
        lines.append(
            f"{supply.name}: {supply.volts:g} V, {supply.amps:g} A, {counted(len(load.lamps), 'lamp')}"
        )
        if not load.lamps:
            continue
        lines += [f"  {text}" for text in _currents(load, supply)]
        figures = supply_load(load.amps, supply.amps, supply.headroom)
        lines.append(f"  budget: {figures.budget.text}")
        lines += _asked(load)
        if figures.share.value < 1.0:
            lines.append(f"  {figures.share.text}")
        lines.append(
            "  peak of pulse-width dimming, all in the on part of their cycle at once: "
            f"{load.connected:.4g} A = {_percent(load.connected, supply.amps)} of {supply.amps:g} A; "
            "the guard keeps averages, not this"
        )
        if load.connected > supply.amps * (1.0 + 1e-9):
            lines.append(
                f"  warning: {load.connected:.4g} A of lamps on a supply of {supply.amps:g} A: it may sag or "
                "switch off whatever a program does; divide the lamps, or take a larger supply"
            )
        lines.append(f"  fuse: {_fuse(load.connected, supply.amps)}")
        lines += _uncounted(load)
    homeless = [lamp.name for lamp in rig.lamps if not lamp.supply]
    if homeless and rig.supplies:
        lines.append(f"on no supply, so counted and guarded nowhere: {listed(homeless)}")
    elif not rig.supplies:
        lines.append(
            "none in the file: add supplies: {main: {volts: 12, amps: …}}, and nothing is overloaded"
        )
    return lines


def decoder_lines(rig: Rig) -> list[str]:
    """The sums of every decoder."""
    lines: list[str] = []
    for box, load in zip(rig.decoders, decoder_loads(rig), strict=True):
        limit = f", at most {box.amps:g} A" if box.amps else ""
        each = f", {box.amps_per_slot:g} A an output" if box.amps_per_slot else ""
        lines.append(f"{box.name}: {box.slots} outputs, {counted(len(load.lamps), 'lamp')}{limit}{each}")
        if not load.lamps:
            continue
        lines.append(f"  connected: {terms(load.amps, ())} = {load.connected:.4g} A")
        lines += _asked(load)
        if box.amps_per_slot:
            most = max(range(len(load.lamps)), key=lambda at: load.amps[at])
            lines.append(
                f"  highest output: {load.lamps[most].name} {load.amps[most]:.4g} A = "
                f"{_percent(load.amps[most], box.amps_per_slot)} of {box.amps_per_slot:g} A"
            )
        lines += _uncounted(load)
    return lines


def _currents(load: Load, supply: Supply) -> list[str]:
    """How the current of each kind of lamp comes about, and all of them together."""
    lines = []
    for watts, amps in dict.fromkeys((lamp.watts, lamp.amps) for lamp in load.lamps):
        if amps:
            lines.append(f"one lamp: {amps:.4g} A, as the file says")
        elif watts:
            lines.append(f"one lamp: {lamp_amps(watts, supply.volts).text}")
    lines = lines[:TERMS] + ([f"and {len(lines) - TERMS} kinds of lamps more"] if len(lines) > TERMS else [])
    return [*lines, f"connected: {terms(load.amps, ())} = {load.connected:.4g} A"]


def _asked(load: Load) -> list[str]:
    """The worst and the typical average against the budget."""
    worst = f"  worst case, every lamp at its ceiling: {terms(load.amps, load.highest)} = {load.worst:.4g} A"
    typical = f"  typical, every lamp at level {TYPICAL_LEVEL:g}: "
    typical += f"{terms(load.amps, load.drives)} = {load.typical:.4g} A"
    if load.budget:
        over = load.worst > load.budget * (1.0 + 1e-9)
        tail = ", over it: the guard scales the lamps together" if over else ""
        worst += f", {_percent(load.worst, load.budget)} of the budget{tail}"
        typical += f", {_percent(load.typical, load.budget)}"
    return [worst, typical]


def _fuse(load_a: float, gives: float) -> str:
    figure = fuse_suggestion(load_a)
    if figure.value <= gives:
        return figure.text
    # A fuse above what the supply can give never blows: it protects no wire.
    branch = max((fuse for fuse in FUSES_A if fuse <= gives), default=gives)
    return (
        f"{figure.text.split(':')[0]}, more than the {gives:g} A the supply gives, so one fuse for all would "
        f"never blow: divide the lamps into branches of at most {branch / CONTINUOUS_FACTOR:.4g} A "
        f"({branch:g} A / {CONTINUOUS_FACTOR:g}), each with a fuse for its wire"
    )


def fuse_short(load: Load) -> str:
    """What to fuse a supply with, in a few words."""
    fuse = fuse_suggestion(load.connected).value
    if fuse <= load.gives:
        return f"fuse {fuse:g} A, if the wire bears that"
    branch = max((one for one in FUSES_A if one <= load.gives), default=load.gives)
    return f"fuse it by branches of at most {branch / CONTINUOUS_FACTOR:.3g} A"


def _uncounted(load: Load) -> list[str]:
    if not load.unknown:
        return []
    return [f"  not counted, since the file gives neither watts nor amps: {listed(load.unknown)}"]


def terms(amps: Sequence[float], drives: Sequence[float]) -> str:
    """A sum written out, equal lamps together: `24 x 0.6667 A x 0.9 + 6 x 0.6667 A`."""
    kinds: Counter[tuple[float, float]] = Counter(
        (round(one, 6), round(drive, 6)) for one, drive in zip(amps, drives or [1.0] * len(amps), strict=True)
    )
    shown = [
        f"{count} x {one:.4g} A" + ("" if drive == 1.0 else f" x {drive:.4g}")
        for (one, drive), count in kinds.items()
    ]
    more = [f"{len(shown) - TERMS} kinds more"] if len(shown) > TERMS else []
    return " + ".join(shown[:TERMS] + more)


def counted(number: int, word: str) -> str:
    """`1 lamp`, `2 lamps`."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def listed(names: Iterable[str], limit: int = 8) -> str:
    """Names with commas, the rest counted."""
    every = list(names)
    shown = ", ".join(every[:limit])
    return shown if len(every) <= limit else f"{shown} and {len(every) - limit} more"


def _percent(part: float, whole: float) -> str:
    return f"{100.0 * part / whole:.0f} %"
