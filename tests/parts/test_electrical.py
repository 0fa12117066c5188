"""Knows: what the electrical sums must give, row by row of the published values.

Must never know: rigs or files of a player.
"""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts import electrical as el
from tests.reference_rows import rows

ROWS = rows("electrical.csv")


def of(topic: str) -> list[dict[str, str]]:
    """The rows of one topic, by a readable id."""
    return [row for row in ROWS if row["topic"] == topic]


def name(row: dict[str, str]) -> str:
    return f"{row['topic']}: {row['name']}"


def number(pattern: str, text: str) -> float:
    found = re.search(pattern, text)
    assert found, f"{pattern!r} not in {text!r}"
    return float(found.group(1))


def led_of(case: str) -> el.LedResistor:
    note = next(row["note"] for row in of("led resistor") if row["name"] == f"{case} exact R")
    return el.led_resistor(
        number(r"([\d.]+) V supply", note),
        number(r"([\d.]+) V drop", note),
        number(r"([\d.]+) mA", note) / 1000.0,
    )


def test_every_topic_of_the_file_is_checked() -> None:
    """No row of the published file is left out."""
    topics = {"led resistor", "series", "resistor", "supply", "wire", "voltage drop", "rs485", "safety"}
    assert {row["topic"] for row in ROWS} == topics


@pytest.mark.parametrize("row", of("led resistor"), ids=name)
def test_series_resistor(row: dict[str, str]) -> None:
    """Exact ohm, power, the next E12 and E24 up and the wattage agree with the published cases."""
    case, what = re.fullmatch(r"(case \d+) (.*)", row["name"]).groups()  # type: ignore[union-attr]
    led = led_of(case)
    value = float(row["value"])
    if what == "exact R":
        assert led.exact.value == pytest.approx(value, rel=1e-8)
    elif what == "P at exact R":
        note = row["note"]
        supply, drop = number(r"([\d.]+) V supply", note), number(r"([\d.]+) V drop", note)
        assert (supply - drop) * number(r"([\d.]+) mA", note) / 1000.0 == pytest.approx(value, rel=1e-8)
        assert led.power.value <= value * (1 + 1e-9)
    elif what == "E12 up":
        assert led.e12.value == value
    elif what == "E24 up":
        assert led.e24.value == value
        assert led.current.value * 1000.0 == pytest.approx(number(r"I = ([\d.]+) mA", row["note"]), rel=1e-6)
        assert led.power.value == pytest.approx(number(r"P = ([\d.]+) W", row["note"]), rel=1e-6)
    else:
        assert what == "wattage rating"
        assert led.rating.value == value


@pytest.mark.parametrize("row", of("series"), ids=name)
def test_series_values(row: dict[str, str]) -> None:
    """The E series are those of IEC 60063."""
    assert getattr(el, row["name"]) == tuple(int(v) for v in row["value"].split())


@pytest.mark.parametrize("row", of("resistor"), ids=name)
def test_derating(row: dict[str, str]) -> None:
    """A film resistor bears its rating up to 70 degC and nothing at 155, in a straight line."""
    value = float(row["value"])
    if row["name"] == "derating start":
        assert el.resistor_bears_w(0.25, value).value == 0.25
        assert el.resistor_bears_w(0.25, value + 1.0).value < 0.25
    elif row["name"] == "derating end":
        assert el.resistor_bears_w(0.25, value).value == 0.0
        assert el.resistor_bears_w(0.25, value - 1.0).value > 0.0
    else:
        assert el.resistor_bears_w(0.25, 100.0).value == pytest.approx(value, rel=1e-8)


@pytest.mark.parametrize("row", of("supply"), ids=name)
def test_supply(row: dict[str, str]) -> None:
    """A supply is planned to 80 % of its amps; what is connected above that gives the share all may have."""
    value = float(row["value"])
    if row["name"] == "continuous load factor":
        assert value / 100.0 == el.CONTINUOUS_FACTOR
    elif row["name"] == "example 10 A supply":
        assert el.supply_load([], 10.0).budget.value == pytest.approx(value)
    else:
        load = el.supply_load([0.35] * 24, 10.0)
        assert load.connected.value == pytest.approx(value)
        assert load.share.value == pytest.approx(0.952381, rel=1e-6)
        assert el.lamp_amps(100.8, 12.0).value == pytest.approx(value)


@pytest.mark.parametrize("row", of("wire"), ids=name)
def test_wire(row: dict[str, str]) -> None:
    """Ohm per metre are the IEC 60228 maxima where they are tabled, and rho / A otherwise."""
    value = float(row["value"])
    if row["name"] == "temperature coefficient":
        warm, cold = el.wire_ohm_per_m(1.0, celsius=30.0).value, el.wire_ohm_per_m(1.0).value
        assert warm / cold == pytest.approx(1.0 + 10.0 * value)
    else:
        mm2 = number(r"^([\d.]+) mm2", row["name"])
        wire_class = int(number(r"class (\d)", row["name"])) if "class" in row["name"] else 0
        assert el.wire_ohm_per_m(mm2, wire_class).value == pytest.approx(value, rel=1e-8)


@pytest.mark.parametrize("row", of("voltage drop"), ids=name)
def test_voltage_drop(row: dict[str, str]) -> None:
    """A cable counts both its conductors; loss, volts at the load and watts agree with the cases."""
    note = row["note"]
    cable = el.voltage_drop(
        number(r"^([\d.]+) V", note),
        number(r", ([\d.]+) A", note),
        number(r", ([\d.]+) m of", note),
        number(r"of ([\d.]+) mm2", note),
    )
    assert cable.drop.value == pytest.approx(float(row["value"]), rel=1e-8)
    assert cable.loop.value == pytest.approx(number(r"= ([\d.]+) ohm;", note), rel=1e-8)
    assert cable.percent.value == pytest.approx(number(r"= ([\d.]+) percent", note), rel=1e-6)
    assert cable.at_load.value == pytest.approx(number(r"at the load ([\d.]+) V", note), rel=1e-8)
    assert cable.lost.value == pytest.approx(number(r"lost ([\d.]+) W", note), rel=1e-8)


RS485 = {
    "termination": lambda: el.TERMINATION_OHM,
    "unit loads": lambda: el.UNIT_LOADS,
    "unit load input resistance": lambda: el.UNIT_LOAD_OHM / 1000.0,
    "worst load": lambda: el.dmx_line_ohm(el.UNIT_LOADS).value,
    "driver minimum": lambda: el.DRIVER_LEAST_V,
    "receiver threshold": lambda: el.RECEIVER_THRESHOLD_V,
    "maximum length": lambda: el.line_length_m(1000.0).value,
    "rate times length rule": lambda: el.line_length_m().value * 250_000.0,
    "DMX512 length guidance": lambda: el.DMX_LINE_M,
}


@pytest.mark.parametrize("row", of("rs485"), ids=name)
def test_line(row: dict[str, str]) -> None:
    """The figures of the DMX line are those of TIA/EIA-485-A and of common planning."""
    if row["name"] == "common mode range":
        low, high = el.COMMON_MODE_V
        assert f"{low:.0f}..+{high:.0f}" == row["value"]
    elif row["name"] == "DMX512 connector pins":
        for pin in (1, 2, 3):
            assert f"pin {pin} {el.DMX_PINS[pin]}" in row["note"]
        assert el.DMX_PINS[4] == el.DMX_PINS[5] == "second pair"
    else:
        assert RS485[row["name"]]() == pytest.approx(float(row["value"]), rel=1e-8)


@pytest.mark.parametrize("row", of("safety"), ids=name)
def test_extra_low_voltage(row: dict[str, str]) -> None:
    """The limits of extra-low voltage are those of IEC 61140."""
    if row["name"].startswith("touchable"):
        assert row["value"] == f"{el.TOUCHABLE_AC_V:.0f} AC / {el.TOUCHABLE_DC_V:.0f} DC"
    else:
        limit = el.ELV_AC_V if row["name"].endswith("AC") else el.ELV_DC_V
        assert limit == float(row["value"])


@given(st.floats(1e-3, 1e8), st.sampled_from([el.E12, el.E24]))
def test_next_up_is_up_and_next(ohm: float, series: tuple[int, ...]) -> None:
    """The value found is of the series, at least what is needed, and none lies between."""
    found = el.e_series_next_up(ohm, series)
    assert found >= ohm * (1 - 1e-8)
    exponent = math.floor(math.log10(found) + 1e-9)
    mantissa = found / 10.0 ** (exponent - 1)
    assert any(math.isclose(mantissa, base, rel_tol=1e-9) for base in series)
    between = [b * 10.0**n for n in range(exponent - 3, exponent + 1) for b in series]
    assert not [b for b in between if ohm * (1 + 1e-8) < b < found * (1 - 1e-8)]


@given(st.sampled_from(el.E24), st.integers(-2, 6))
def test_next_up_keeps_a_hit(base: int, exponent: int) -> None:
    """A value of the series stays itself."""
    ohm = base * 10.0**exponent
    assert el.e_series_next_up(ohm, el.E24) == pytest.approx(ohm, rel=1e-12)


@given(st.floats(0.01, 24.0))
def test_fuse_is_the_next_up(load: float) -> None:
    """A fuse carries 125 % of the load and is the smallest that does."""
    fuse = el.fuse_suggestion(load).value
    assert fuse >= load * el.CONTINUOUS_FACTOR * (1 - 1e-8)
    assert all(other >= fuse or other < load * el.CONTINUOUS_FACTOR for other in el.FUSES_A)


def test_fuse_never_passes_its_wire() -> None:
    """Where the wire bears less than the fuse that the load needs, none is suggested, with the reason."""
    assert el.fuse_suggestion(7.0, wire_a=10.0).value == 10.0
    none = el.fuse_suggestion(7.0, wire_a=9.0)
    assert none.value == math.inf
    assert "thicker wire" in none.text
    assert "split the load" in el.fuse_suggestion(100.0).text


def test_the_text_has_the_numbers_in() -> None:
    """Each text is its formula with the numbers of the case."""
    assert led_of("case 3").exact.text == "R = (Us - Uf) / I = (12 V - 3.2 V) / 0.02 A = 440 ohm"
    cable = el.voltage_drop(12.0, 5.0, 10.0, 2.5)
    assert cable.loop.text == "R = 2 x 10 m x 0.00741 ohm/m = 0.1482 ohm"
    assert cable.drop.text == "U = I x R = 5 A x 0.1482 ohm = 0.741 V"
    assert "1.25 x 4 A = 5 A: 5 A" in el.fuse_suggestion(4.0).text
    assert "the local code decides" in el.fuse_suggestion(4.0).text
    assert el.dmx_line_ohm(32).text == "R = 1 / (2 / 120 ohm + 32 / 12000 ohm) = 51.72 ohm"


def test_nonsense_is_named() -> None:
    """LEDs that need the whole supply, no wire and no resistor are refused with the reason."""
    with pytest.raises(ValueError, match="put fewer in a row"):
        el.led_resistor(12.0, 12.0, 0.02)
    with pytest.raises(ValueError, match="0 mm2"):
        el.voltage_drop(12.0, 1.0, 1.0, 0.0)
    with pytest.raises(ValueError, match="supply of 0 V"):
        el.voltage_drop(0.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="resistor of"):
        el.e_series_next_up(0.0)


def test_power_led_needs_more_than_one_resistor() -> None:
    """Where no rating is enough, the sum says so."""
    led = el.led_resistor(24.0, 3.0, 1.0)
    assert led.rating.value == math.inf
    assert "constant-current" in led.rating.text
