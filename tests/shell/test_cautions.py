"""Each caution is given where it fits, and only there."""

from __future__ import annotations

import pytest

from bridge.shell.cautions import (
    ADAPTER,
    FLASHING,
    GENERAL,
    MAINS,
    NO_FLASH_GUARD,
    NO_LOAD_GUARD,
    SIGNALS,
    TERMINATOR,
    TOUCHABLE,
    cautions,
)
from bridge.shell.files import rig_from_text
from tests.shell.files.cases import RIG

LAMP = "lamps: [{name: a, slot: 1}]\n"
SERIAL = "outputs: [{kind: serial, port: x}]\n"
ENDED = "dmx: {devices: 1, terminated: true}\n"


def said(text: str) -> list[str]:
    """The cautions of a rig."""
    return cautions(rig_from_text(text)[0])


def test_what_every_rig_is_told() -> None:
    """Mains, dust, heat, fuses, what hangs overhead, hazards by DMX, and flashing light: always."""
    told = said(LAMP + ENDED)
    assert set(told) == {FLASHING, *GENERAL}
    text = " ".join(told)
    words = ("mains", "licensed electrician", "local code", "dust and paint", "hot", "Fuse", "gauge")
    words += ("strain relief", "safety line", "by DMX", "photosensitive", "warn the audience")
    assert [word for word in words if word not in text] == []


@pytest.mark.parametrize(
    ("caution", "where", "where_not"),
    [
        (ADAPTER, LAMP + SERIAL, LAMP + "outputs: [{kind: sacn}]\n"),
        (TERMINATOR, LAMP + SERIAL, LAMP + SERIAL + ENDED),
        (TERMINATOR, LAMP + "dmx: {devices: 1}\n", LAMP + ENDED),
        (
            SIGNALS,
            "lamps: [{name: a, slot: 1, colour: amber}]\n",
            "lamps: [{name: a, slot: 1, colour: blue}]\n",
        ),
        (MAINS, LAMP + "supplies: {m: {volts: 51, amps: 1}}", LAMP + "supplies: {m: {volts: 50, amps: 1}}"),
        (
            TOUCHABLE,
            LAMP + "supplies: {m: {volts: 48, amps: 1}}",
            LAMP + "supplies: {m: {volts: 25, amps: 1}}",
        ),
        (NO_FLASH_GUARD, LAMP + "guards: {flash: off}", LAMP + "guards: {heat: off}"),
        (NO_FLASH_GUARD, LAMP + "guards: {flash: warn}", LAMP + "guards: {flash: limit}"),
        (NO_LOAD_GUARD, LAMP + "guards: {load: off}", LAMP + "guards: {flash: off}"),
        (NO_LOAD_GUARD, LAMP + "guards: {load: warn}", LAMP + "guards: {load: limit}"),
    ],
)
def test_a_caution_fits(caution: str, where: str, where_not: str) -> None:
    """A caution that belongs to some rigs is told to those, and to no others."""
    assert caution in said(where)
    assert caution not in said(where_not)


def test_one_open_line_is_enough() -> None:
    """Of two universes one ends open: the terminator is asked for."""
    two = "lamps: [{name: a, slot: 1}, {name: b, slot: 1, universe: 2}]\n"
    both = two + "dmx: [{devices: 1, terminated: true}, {devices: 1, universe: 2, terminated: "
    assert TERMINATOR in said(both + "false}]")
    assert TERMINATOR not in said(both + "true}]")


def test_the_gravest_comes_first() -> None:
    """Mains before everything else, then flashing light."""
    told = said(RIG.replace("volts: 12", "volts: 230"))
    assert told[:2] == [MAINS, FLASHING]
    assert said(RIG)[0] == FLASHING
