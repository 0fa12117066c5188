"""Knows: what the nine address switches of a decoder must say (common practice: binary, switch 1 is 1)."""

from __future__ import annotations

import pytest

from bridge.parts.switches import switch_text, switches


def test_the_sum_of_the_switches_is_the_address() -> None:
    """Switch n is worth 2 to the n - 1, and those that are on add up to the address."""
    for address in range(1, 512):
        on = switches(address)
        assert on is not None
        assert len(on) == 9
        assert sum(2**place for place, is_on in enumerate(on) if is_on) == address
        assert switch_text(address) == ", ".join(str(place + 1) for place in range(9) if on[place])


def test_by_hand() -> None:
    """25 is 16 + 8 + 1: switches 5, 4 and 1; 511 is all of them."""
    assert switch_text(1) == "1"
    assert switch_text(25) == "1, 4, 5"
    assert switch_text(256) == "9"
    assert switches(511) == (True,) * 9


def test_what_nine_switches_cannot_say() -> None:
    """512 needs ten, and the text says so; 0 and 513 are no addresses."""
    assert switches(512) is None
    assert "maker's sheet" in switch_text(512)
    for address in (0, 513):
        with pytest.raises(ValueError, match=f"{address} is no DMX address"):
            switches(address)
