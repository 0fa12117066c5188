"""What `check` says of a mapping beside its mistakes, and the chart it draws."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from bridge.commands.check import check
from bridge.shell import awake
from bridge.shell.chart_labels import manuals
from bridge.shell.files import mapping_from_text, read_rig
from bridge.values.errors import DeviceError, UsageError
from tests.acceptance.inside import core_yaml

ROOT = Path(__file__).parent.parent.parent
RIG = ROOT / "examples" / "boathouse" / "rig.yaml"
SHAPES = ROOT / "mappings" / "chord_shapes.yaml"


def test_every_part_of_a_mapping_is_explained() -> None:
    """After the patch: counts, keys, controls and chords with lamps and slots, and what is out of reach."""
    said: list[str] = []
    assert check(said.append, RIG, SHAPES) == 0
    text = "\n".join(said)
    assert "Chord shapes: 9 rules, 12 chord shapes, 1 look" in text
    parts = [
        "Universe 1, slot: lamp",
        "Keys and pads (C4",
        "Controls",
        "Chords (judged",
        "Reach",
        "Refresh rate",
    ]
    places = [text.index(f"\n{part}") for part in parts]
    assert places == sorted(places)
    assert "C5..B6 (72..95)" in text
    assert "every lamp has a key, a pad, a chord or a texture" in text


@pytest.mark.parametrize(
    "path",
    [
        *sorted((ROOT / "mappings").glob("*.yaml")),
        *sorted((ROOT / "examples" / "textures").glob("*.yaml")),
        ROOT / "examples" / "boathouse" / "mapping.yaml",
    ],
    ids=lambda path: path.stem,
)
def test_everything_in_a_mapping_is_counted(path: Path) -> None:
    """Of each ready mapping the count of rules and the rest is that of the entries in its file."""
    file = core_yaml(path)
    sound = file.get("sound") or {}
    rules = len(file.get("keys") or ()) + len(file.get("controls") or ()) + len(sound.get("rules") or ())
    chords = len((file.get("chords") or {}).get("shapes") or ())
    wanted = [(rules, "rule"), (chords, "chord shape")]
    wanted += [(len(file.get("looks") or ()), "look"), (len(file.get("textures") or ()), "texture")]
    said: list[str] = []
    assert check(said.append, RIG, path) == 0
    counts = ", ".join(f"{number} {word}{'' if number == 1 else 's'}" for number, word in wanted)
    assert said[1].endswith(f": {counts}")
    text = "\n".join(said)
    for section in ("textures", "sound"):
        assert (f"\n{section.title()}\n" in text) == bool(file.get(section))


def test_a_rig_alone_has_nothing_to_explain() -> None:
    """Without a mapping no key is spoken of."""
    said: list[str] = []
    assert check(said.append, RIG, None) == 0
    assert "Keys and pads" not in "\n".join(said)


def test_the_chart_is_written_where_it_is_asked_for(tmp_path: Path) -> None:
    """`--chart` draws the keys of the mapping, and says so."""
    said: list[str] = []
    assert check(said.append, RIG, SHAPES, tmp_path / "keys.png") == 0
    assert said[-1] == f"\nwrote {tmp_path / 'keys.png'}"
    with Image.open(tmp_path / "keys.png") as image:
        assert image.format == "PNG"
        assert image.width > 1000


def test_a_chart_needs_a_mapping_and_a_place(tmp_path: Path) -> None:
    """No mapping, or no such folder: the one named error, and what to do."""
    with pytest.raises(UsageError, match="--chart draws the keys of a mapping; add --mapping and its file"):
        check([].append, RIG, None, tmp_path / "keys.png")
    with pytest.raises(DeviceError, match="cannot write"):
        check([].append, RIG, SHAPES, tmp_path / "none" / "keys.png")
    assert list(tmp_path.iterdir()) == []


def test_a_computer_on_its_battery_is_warned_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While a battery is being used up `check` asks for the plug; on mains it says nothing of it."""
    (tmp_path / "bat").mkdir()
    (tmp_path / "bat" / "type").write_text("Battery\n")
    monkeypatch.setattr(awake, "BATTERIES", tmp_path)
    for status, expected in (("Discharging", 1), ("Charging", 0)):
        (tmp_path / "bat" / "status").write_text(f"{status}\n")
        said: list[str] = []
        check(said.append, RIG, None)
        assert sum("battery" in line for line in said) == expected


def test_a_keyboard_with_a_few_shots_is_drawn_as_a_keyboard() -> None:
    """A manual is drawn by its notes: an octave of keys beside two single shots is no row of pads."""
    head = "mapping: M\nfeels: {f: {decay_ms: 100}}\nkeys:\n  - {notes: C4..B4, lamps: roof, spread: wrap}\n"
    shots = "".join(f"  - {{notes: {note}, lamps: door, mode: shot, feel: f}}\n" for note in (36, 38))
    rig, _ = read_rig(RIG)
    (manual,) = manuals(rig, mapping_from_text(head + shots, rig)[0])
    assert not manual.pads
