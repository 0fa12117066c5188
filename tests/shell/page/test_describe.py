"""What a browser is told of rig and mapping; settings; the square for a camera."""

from __future__ import annotations

import json

import pytest

from bridge.shell.files import mapping_from_text, read_mapping, read_rig, rig_from_text
from bridge.shell.page import page_settings, qr_lines
from bridge.shell.page.describe import mapping_facts, rig_facts
from tests.shell.page.conftest import BOATHOUSE


def test_the_boathouse_is_told_whole() -> None:
    """Every lamp with its place and colour, every key and pad with what it plays."""
    rig, _ = read_rig(BOATHOUSE / "rig.yaml")
    mapping, _ = read_mapping(BOATHOUSE / "mapping.yaml", rig)
    told = json.loads(json.dumps({"rig": rig_facts(rig), "mapping": mapping_facts(mapping, rig)}))
    assert len(told["rig"]["lamps"]) == 31
    assert told["rig"]["lamps"][0] == {"name": "roof.1.1", "x": 0.0, "y": 2.0, "rgb": [255, 214, 170]}
    assert told["rig"]["free"] == {"1": 32}
    keys = {key["note"]: key for key in told["mapping"]["keys"]}
    assert len(keys) == 31
    assert (keys[48]["source"], keys[48]["name"], keys[47]["name"]) == ("piano", "roof.1.1", "door")
    discs = {disc["note"]: disc["name"] for disc in told["mapping"]["discs"]}
    assert [discs[note] for note in (36, 39, 42, 48, 49, 50)] == [
        "left",
        "heart",
        "west",
        "blackout",
        "release all",
        "walkin",
    ]


def test_a_key_of_two_rules_shows_the_lamps_of_both() -> None:
    """Rules of one input on one note add up on the page as they do on stage."""
    rig, _ = rig_from_text("lamps: [{name: a, slot: 1}, {name: b, slot: 2}]\ngroups: {both: [a, b]}\n")
    mapping, _ = mapping_from_text("keys:\n  - {notes: 60, lamps: a}\n  - {notes: 60, lamps: b}\n", rig)
    (key,) = mapping_facts(mapping, rig)["keys"]
    assert (key["lamps"], key["name"]) == ([0, 1], "all")


@pytest.mark.parametrize(
    ("host", "asks"),
    [
        ("127.0.0.1", False),
        ("localhost", False),
        ("::1", False),
        ("127.0.0.9", False),
        ("0.0.0.0", True),
        ("192.0.2.1", True),
        ("::", True),
        ("boat.local", True),
    ],
)
def test_only_this_computer_needs_no_secret(host: str, asks: bool) -> None:
    """Any address that others can reach gets a token, another each time."""
    settings = page_settings(host)
    assert bool(settings.token) is asks
    assert not asks or settings.token != page_settings(host).token


def test_the_square_is_a_code() -> None:
    """Even lines, four light modules around, and the finder pattern of ISO/IEC 18004 in three corners."""
    lines = qr_lines("http://192.0.2.1:5190/?key=0123456789abcdefghij")
    rows = [[half(mark, lower) for mark in line] for line in lines for lower in (False, True)]
    side = len(rows[0])
    rows = rows[:side]
    assert all(len(row) == side for row in rows)
    assert all(all(row) for row in rows[:4])
    finder = ["1111111", "1000001", "1011101", "1011101", "1011101", "1000001", "1111111"]
    for top, left in ((4, 4), (4, side - 11), (side - 11, 4)):
        found = [
            "".join("0" if light else "1" for light in row[left : left + 7]) for row in rows[top : top + 7]
        ]
        assert found == finder


def half(mark: str, lower: bool) -> bool:
    """True where the upper or lower half of a mark is light."""
    return mark == "█" or mark == ("▄" if lower else "▀")
