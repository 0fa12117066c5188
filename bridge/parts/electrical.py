"""Knows: the sums of the low-voltage side: resistors, cables, supplies, fuses and the DMX line.

Must never know: rigs, files, lamps by name, or any local code: no figure here replaces one.

Each sum is a `Figure`: the value, its unit, and a line of text with the formula and its numbers. Sources
stand beside each constant and in tests/reference/electrical.csv. Mains wiring is no part of this: it is
work for a licensed electrician.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

E12: Final = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
"""Resistor values per decade, 10 % parts (IEC 60063)."""
E24: Final = (
    *(10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30),
    *(33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91),
)
"""Resistor values per decade, 5 % parts (IEC 60063)."""
RESISTOR_RATINGS_W: Final = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
"""Ratings to choose from (common practice)."""
POWER_IN_HAND: Final = 2.0
"""A resistor is rated for this many times its power (a rule of design)."""
DERATING_FROM_C: Final = 70.0
DERATED_AWAY_C: Final = 155.0
"""Film and chip resistors bear their rating up to the first, nothing at the second (data sheets)."""

COPPER_OHM_MM2_PER_M: Final = 0.01724
"""Resistivity of annealed copper at 20 degC (IEC 60028: 1/58)."""
COPPER_PER_K: Final = 0.00393
"""Temperature coefficient of copper at 20 degC (IEC 60028; from memory)."""
WIRE_OHM_PER_M: Final = MappingProxyType(
    {
        (0.5, 2): 0.036,
        (0.75, 2): 0.0245,
        (1.0, 2): 0.0181,
        (1.5, 2): 0.0121,
        (2.5, 2): 0.00741,
        (0.5, 5): 0.039,
        (0.75, 5): 0.026,
        (1.0, 5): 0.0195,
        (1.5, 5): 0.0133,
        (2.5, 5): 0.00798,
    }
)
"""Most ohm per metre at 20 degC by (cross section in mm2, class): plain copper, 2 stranded, 5 flexible
(IEC 60228 tables 2 and 3)."""

CONTINUOUS_FACTOR: Final = 1.25
"""A protective device carries at least this times the continuous load (NFPA 70, 210.20(A)): 80 % at most."""
FUSES_A: Final = (1.0, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0)
"""Ratings of common blade fuses for extra-low voltage (common practice; from memory)."""

TERMINATION_OHM: Final = 120.0
"""Across the pair at the far end of a DMX512 line (ANSI E1.11; TIA/EIA-485-A practice)."""
UNIT_LOADS: Final = 32
"""Unit loads that one pair may carry without a repeater (TIA/EIA-485-A)."""
UNIT_LOAD_OHM: Final = 12_000.0
"""Input resistance of one unit load, about (TIA/EIA-485-A)."""
DRIVER_LEAST_V: Final = 1.5
"""Least differential volts of a driver into 54 ohm (TIA/EIA-485-A)."""
RECEIVER_THRESHOLD_V: Final = 0.2
"""Differential volts at which a receiver must decide (TIA/EIA-485-A)."""
COMMON_MODE_V: Final = (-7.0, 12.0)
"""Common mode that a receiver must bear (TIA/EIA-485-A)."""
LINE_LONGEST_M: Final = 1200.0
"""Longest pair at low rates (TIA/EIA-485-A)."""
RATE_TIMES_LENGTH: Final = 1e8
"""Bit per second times metres (rule of thumb)."""
DMX_LINE_M: Final = 300.0
"""Planning length of a DMX512 line (recommended practice)."""
DMX_PINS: Final = MappingProxyType(
    {1: "common", 2: "data 1-", 3: "data 1+", 4: "second pair", 5: "second pair"}
)
"""Pins of the five-pin XLR (ANSI E1.11; 4 and 5 from memory)."""

ELV_AC_V: Final = 50.0
ELV_DC_V: Final = 120.0
"""Limits of extra-low voltage: volts rms, and ripple-free volts (IEC 61140, IEC 60364-4-41)."""
TOUCHABLE_AC_V: Final = 25.0
TOUCHABLE_DC_V: Final = 60.0
"""Limits for bare accessible parts in dry places (IEC 61140, IEC 60364-4-41)."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A result: `value` in `unit`, and `text`, the formula with its numbers in."""

    value: float
    unit: str
    text: str


@dataclass(frozen=True, slots=True)
class LedResistor:
    """What to buy for LEDs on a fixed supply.

    Args:
        exact: ohm by the formula. e12, e24: the next value up, an exact hit kept.
        current: amps with the E24 value. power: watts in it. rating: watts to buy; inf where none is made.
    """

    exact: Figure
    e12: Figure
    e24: Figure
    current: Figure
    power: Figure
    rating: Figure


@dataclass(frozen=True, slots=True)
class VoltageDrop:
    """What a cable takes: ohm there and back, volts lost, per cent of the supply, volts left, watts lost."""

    loop: Figure
    drop: Figure
    percent: Figure
    at_load: Figure
    lost: Figure


@dataclass(frozen=True, slots=True)
class SupplyLoad:
    """What hangs on a supply: amps at full, the budget, and the share 0..1 all may have at once."""

    connected: Figure
    budget: Figure
    share: Figure


def e_series_next_up(ohm: float, series: Sequence[int] = E24) -> float:
    """The smallest value of a series (10..99 per decade, x 10^n) that is >= `ohm`, an exact hit kept.

    Raises:
        ValueError: `ohm` is not above 0 and finite.
    """
    if not 0.0 < ohm < math.inf:
        raise ValueError(f"a resistor of {ohm} ohm is none")
    decade = math.floor(math.log10(ohm)) - 1
    # The sum that led here may be off in its last digits; that must not cost a whole step.
    least = ohm * (1.0 - 1e-9)
    values = (base * 10.0**n if n >= 0 else base / 10.0**-n for n in (decade, decade + 1) for base in series)
    return next(value for value in values if value >= least)


def led_resistor(supply_v: float, drop_v: float, amps: float) -> LedResistor:
    """Series resistor for LEDs in a row: R = (Us - Uf) / I, P = (Us - Uf) x I.

    Args:
        supply_v: volts of the supply. drop_v: volts of all LEDs in the row. amps: what they shall carry.

    Raises:
        ValueError: the LEDs need as much as the supply gives, or `amps` is not above 0.
    """
    left = supply_v - drop_v
    if left <= 0.0 or amps <= 0.0:
        raise ValueError(
            f"LEDs of {drop_v:g} V at {amps:g} A leave nothing to drop on {supply_v:g} V; put fewer in a row"
        )
    ohm = left / amps
    e12, e24 = e_series_next_up(ohm, E12), e_series_next_up(ohm, E24)
    real = left / e24
    watts = left * real
    # Rated by the exact R, where the power is highest.
    needed = POWER_IN_HAND * left * amps
    rating = next((r for r in RESISTOR_RATINGS_W if r >= needed * (1.0 - 1e-9)), math.inf)
    buy = (
        f"{rating:g} W"
        if rating < math.inf
        else "more than any here: spread it, or use a constant-current driver"
    )
    return LedResistor(
        Figure(
            ohm, "ohm", f"R = (Us - Uf) / I = ({supply_v:g} V - {drop_v:g} V) / {amps:g} A = {ohm:.4g} ohm"
        ),
        Figure(e12, "ohm", f"next E12 value up from {ohm:.4g} ohm: {e12:g} ohm"),
        Figure(e24, "ohm", f"next E24 value up from {ohm:.4g} ohm: {e24:g} ohm"),
        Figure(real, "A", f"I = (Us - Uf) / R = {left:g} V / {e24:g} ohm = {real:.4g} A"),
        Figure(watts, "W", f"P = (Us - Uf) x I = {left:g} V x {real:.4g} A = {watts:.4g} W"),
        Figure(rating, "W", f"{POWER_IN_HAND:g} x {left:g} V x {amps:g} A = {needed:.4g} W: {buy}"),
    )


def resistor_bears_w(rating_w: float, ambient_c: float) -> Figure:
    """Power a film resistor bears: P = P70 x (155 - T) / (155 - 70) above 70 degC, all of it below."""
    hot = min(max(ambient_c, DERATING_FROM_C), DERATED_AWAY_C)
    watts = rating_w * (DERATED_AWAY_C - hot) / (DERATED_AWAY_C - DERATING_FROM_C)
    return Figure(
        watts, "W", f"P = {rating_w:g} W x (155 - {hot:g}) / (155 - 70) = {watts:.4g} W at {ambient_c:g} degC"
    )


def wire_ohm_per_m(mm2: float, wire_class: int = 2, celsius: float = 20.0) -> Figure:
    """Resistance of one copper conductor: R/l = (IEC 60228 maximum, else rho / A) x (1 + 0.00393 x (T - 20)).

    Args:
        mm2: cross section. wire_class: 2 stranded, 5 flexible; another takes the resistivity alone.

    Raises:
        ValueError: a cross section that is not above 0.
    """
    if mm2 <= 0.0:
        raise ValueError(f"a wire of {mm2:g} mm2 is none")
    cold = WIRE_OHM_PER_M.get((mm2, wire_class))
    source = f"IEC 60228 class {wire_class}"
    if cold is None:
        cold, source = COPPER_OHM_MM2_PER_M / mm2, f"{COPPER_OHM_MM2_PER_M} ohm mm2/m / {mm2:g} mm2"
    ohm = cold * (1.0 + COPPER_PER_K * (celsius - 20.0))
    return Figure(ohm, "ohm/m", f"{mm2:g} mm2 ({source}) at {celsius:g} degC: {ohm:.4g} ohm/m")


def voltage_drop(
    supply_v: float, amps: float, length_m: float, mm2: float, wire_class: int = 2, celsius: float = 20.0
) -> VoltageDrop:
    """Loss along a cable of `length_m` one way, both conductors counted: R = 2 x l x R/l, U = I x R.

    Raises:
        ValueError: a cross section or a supply voltage that is not above 0.
    """
    if supply_v <= 0.0:
        raise ValueError(f"a supply of {supply_v:g} V is none")
    per_m = wire_ohm_per_m(mm2, wire_class, celsius).value
    loop = 2.0 * length_m * per_m
    drop = amps * loop
    percent, left, lost = 100.0 * drop / supply_v, supply_v - drop, amps * drop
    return VoltageDrop(
        Figure(loop, "ohm", f"R = 2 x {length_m:g} m x {per_m:.4g} ohm/m = {loop:.4g} ohm"),
        Figure(drop, "V", f"U = I x R = {amps:g} A x {loop:.4g} ohm = {drop:.4g} V"),
        Figure(percent, "%", f"{drop:.4g} V / {supply_v:g} V = {percent:.4g} %"),
        Figure(left, "V", f"{supply_v:g} V - {drop:.4g} V = {left:.4g} V at the load"),
        Figure(lost, "W", f"P = I x U = {amps:g} A x {drop:.4g} V = {lost:.4g} W lost in the cable"),
    )


def lamp_amps(watts: float, volts: float) -> Figure:
    """Current of a lamp at full: I = P / U."""
    amps = watts / volts
    return Figure(amps, "A", f"I = P / U = {watts:g} W / {volts:g} V = {amps:.4g} A")


def supply_load(amps: Sequence[float], supply_a: float, headroom: float = 0.2) -> SupplyLoad:
    """Everything on one supply at full against its budget: sum(I), Imax x (1 - headroom), budget / sum.

    Args:
        amps: of each lamp at full. supply_a: what the supply may give. headroom: share 0..1 kept back.
    """
    total = math.fsum(amps)
    budget = supply_a * (1.0 - headroom)
    share = min(1.0, budget / total) if total > 0.0 else 1.0
    return SupplyLoad(
        Figure(total, "A", f"sum of {len(amps)} lamps at full = {total:.4g} A"),
        Figure(budget, "A", f"{supply_a:g} A x (1 - {headroom:g}) = {budget:.4g} A"),
        Figure(share, "", f"all at once: {budget:.4g} A for {total:.4g} A, at most 1: {share:.4g} of full"),
    )


def fuse_suggestion(load_a: float, wire_a: float = math.inf) -> Figure:
    """The smallest common fuse >= 1.25 x the continuous load; inf where none is, or the wire bears less.

    Args:
        load_a: amps the branch carries at its highest.
        wire_a: amps its thinnest wire may carry, as the local code says; a fuse protects the wire.
    """
    needed = CONTINUOUS_FACTOR * load_a
    sum_text = f"{CONTINUOUS_FACTOR:g} x {load_a:.4g} A = {needed:.4g} A"
    fuse = next((f for f in FUSES_A if f >= needed * (1.0 - 1e-9)), math.inf)
    if fuse > wire_a:
        text = f"{sum_text}: no fuse suits a wire for {wire_a:g} A; take thicker wire or split the load"
        return Figure(math.inf, "A", text)
    if fuse == math.inf:
        return Figure(fuse, "A", f"{sum_text}: above every common fuse; split the load")
    return Figure(
        fuse, "A", f"{sum_text}: {fuse:g} A at the supply, if the wire bears that; the local code decides"
    )


def dmx_line_ohm(unit_loads: float, terminations: int = 2) -> Figure:
    """What a driver of the line sees: R = 1 / (terminations / 120 + unit loads / 12000)."""
    siemens = terminations / TERMINATION_OHM + unit_loads / UNIT_LOAD_OHM
    ohm = 1.0 / siemens if siemens > 0.0 else math.inf
    return Figure(
        ohm, "ohm", f"R = 1 / ({terminations} / 120 ohm + {unit_loads:g} / 12000 ohm) = {ohm:.4g} ohm"
    )


def line_length_m(bits_per_s: float = 250_000.0) -> Figure:
    """Longest pair by the rule of thumb rate x length = 1e8, at most 1200 m. DMX512 is planned at 300 m."""
    metres = min(LINE_LONGEST_M, RATE_TIMES_LENGTH / bits_per_s)
    return Figure(metres, "m", f"l = 1e8 / {bits_per_s:g} bit/s, at most 1200 m = {metres:.4g} m")
