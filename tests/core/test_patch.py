"""From levels to slots: response, floor, ceiling, wide lamps, shared slots, rounding."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.patch import Patch
from bridge.values.rig import Lamp, Rig


def patch(*lamps: Lamp) -> Patch:
    """A patch of these lamps."""
    return Patch(Rig("test", lamps))


@given(st.floats(0, 1), st.floats(0, 0.4), st.floats(0.5, 1))
def test_drive_is_0_at_0_else_between_floor_and_ceiling(level: float, floor: float, ceiling: float) -> None:
    """Drive = 0 at level 0, else floor + (ceiling - floor) x response (DESIGN, the rig)."""
    one = patch(Lamp("a", 0, 1, 1, response="square", floor=floor, ceiling=ceiling))
    got = one.drive(np.array([level]))[0]
    expected = 0.0 if level == 0 else floor + (ceiling - floor) * level * level
    assert got == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("level", "slot"), [(0.0, 0), (0.5, 128), (0.5 / 255, 1), (0.499 / 255, 0), (1.0, 255)]
)
def test_slots_round_half_up(level: float, slot: int) -> None:
    """Slot = round(drive x 255), a half upwards."""
    one = patch(Lamp("a", 0, 1, 1))
    assert one.slots(one.drive(np.array([level])))[0, 0] == slot


@given(st.floats(0, 1))
def test_linear_is_exact_to_the_bit(level: float) -> None:
    """Beside another response, linear still hands the level through unchanged."""
    two = patch(Lamp("a", 0, 1, 1), Lamp("b", 1, 1, 2, response="cie"))
    got = two.drive(np.array([level, 0.0]))[0]
    assert got == level if level > 1e-300 else got <= level


def test_a_wide_lamp_takes_two_slots_coarse_then_fine() -> None:
    """16 bits: round(drive x 65535), coarse byte in the lamp's slot, fine in the next."""
    wide = patch(Lamp("a", 0, 2, 511, bits=16), Lamp("b", 1, 2, 1))
    slots = wide.slots(np.array([0.3, 1.0]))
    assert int(slots[0, 510]) * 256 + int(slots[0, 511]) == 19661  # 0.3 x 65535 = 19660.5, half up
    assert slots[0, 0] == 255
    assert slots.sum() == 255 + 19661 // 256 + 19661 % 256


def test_lamps_on_one_slot_share_the_highest() -> None:
    """Two lamps that share a slot are driven alike."""
    shared = patch(Lamp("a", 0, 1, 7), Lamp("b", 1, 1, 7), Lamp("c", 2, 1, 8))
    drive = shared.drive(np.array([0.2, 0.6, 0.1]))
    assert drive.tolist() == [0.6, 0.6, 0.1]
    assert shared.slots(drive)[0, 6] == 153


def test_universes_come_in_ascending_order() -> None:
    """Each universe is a row, whatever the order of the lamps."""
    rig_patch = patch(Lamp("a", 0, 9, 1), Lamp("b", 1, 2, 1))
    assert rig_patch.universes == (2, 9)
    assert rig_patch.slots(np.array([1.0, 0.0]))[:, 0].tolist() == [0, 255]
