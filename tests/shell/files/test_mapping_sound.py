"""The sections `sound` and `time`, and controls that music turns."""

from __future__ import annotations

import pytest
from jsonschema import Draft202012Validator

from bridge.shell.files.mapping import mapping_from_text
from bridge.shell.files.mapping_sound import rising
from bridge.shell.files.schema import schema_of
from bridge.values.errors import FileError
from bridge.values.mapping import Mapping, Trigger
from bridge.values.rig import Lamp, Rig
from bridge.values.sound import USUAL_HEARING, Hearing, SoundRule, Timing

LAMPS = tuple(Lamp(f"l{i}", i, 1, i + 1, at=(float(i % 3), float(i // 3))) for i in range(6))
RIG = Rig("test", LAMPS, groups={"all": tuple(range(6)), "low": (0, 1, 2)})

FULL = """
inputs: {desk: desk}
textures:
  sparks: {noise: value}
sound:
  crossovers: [120, 900, 5000]
  bands: [floor, voice, strings, air]
  attack_ms: 2
  release_ms: 300
  gain: off
  ceiling_db: 20
  gate_db: -50
  rules:
    - {band: floor, lamps: low, curve: square, between: [0.1, 0.8]}
    - {band: air, lamps: all, as: bar}
    - {onset: floor, lamps: low, attack_ms: 10, decay_ms: 400, least: 0.3}
    - {onset: voice, chase: [l0, l3]}
    - {onset: floor, plays: C2, channel: 3}
controls:
  - {band: voice, sets: master, between: [0.5, 1]}
  - {onset: air, sets: level, lamps: l5}
  - {beat: true, sets: level, lamps: l4}
  - {tempo: true, sets: level, lamps: l3}
  - {onset: floor, does: release_all}
  - {notes: 40, does: tap}
time:
  order: [sound, clock]
  clock_from: desk
  clock_to: drum
"""


def read(text: str) -> Mapping:
    """A mapping that must load."""
    return mapping_from_text(text, RIG, "m.yaml")[0]


def told(text: str) -> list[str]:
    """What is said of a mapping that must not load."""
    with pytest.raises(FileError) as caught:
        mapping_from_text(text, RIG, "m.yaml")
    return [str(problem) for problem in caught.value.problems]


def without_textures(text: str) -> str:
    """The text without its section textures."""
    return text.replace("textures:\n  sparks: {noise: value}\n", "")


def test_everything_is_read() -> None:
    """Every key of both sections arrives, in the units of the engine."""
    mapping = read(without_textures(FULL))
    bands = ("floor", "voice", "strings", "air")
    assert mapping.hearing == Hearing((120, 900, 5000), bands, 0.002, 0.3, False, 20.0, -50.0)
    assert mapping.timing == Timing(("sound", "clock"), "desk", "drum")
    light, bar, flash, chase, pad = mapping.sound
    assert light == SoundRule(0, lamps=(0, 1, 2), curve="square", between=(0.1, 0.8), line=light.line)
    assert bar.bar == ((0.0, 0.5),) * 3 + ((0.5, 1.0),) * 3
    assert (flash.strokes, flash.attack, flash.decay, flash.least) == (True, 0.01, 0.4, 0.3)
    assert (chase.band, chase.chase, chase.lamps) == (1, True, (0, 3))
    assert (pad.notes, pad.channel, pad.lamps) == ((36,), 3, ())
    kinds = [rule.trigger for rule in mapping.sets] + [rule.trigger for rule in mapping.does]
    assert kinds[:5] == [
        Trigger("band", (1,)),
        Trigger("onset", (3,)),
        Trigger("beat"),
        Trigger("tempo"),
        Trigger("onset", (0,)),
    ]
    assert mapping.does[1].does == "tap"


def test_nothing_given_is_the_usual() -> None:
    """An empty section and none at all mean the three usual bands, and the usual order."""
    for text in ("sound:\ntime:\n", "sound: {}\n", "keys: []\n"):
        mapping = read(text)
        assert mapping.hearing == USUAL_HEARING
        assert mapping.timing == Timing()
    assert read("sound: {crossovers: [300]}").hearing.bands == ("band 1", "band 2")


def test_a_bar_rises_by_rows_or_from_the_left() -> None:
    """Lamps of one height rise together; where all hang alike, the bar goes from left to right."""
    assert rising((0, 3), RIG) == ((0.0, 0.5), (0.5, 1.0))
    assert rising((2, 0, 1), RIG) == ((2 / 3, 1.0), (0.0, 1 / 3), (1 / 3, 2 / 3))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("sound: 3", "m.yaml:1:8: 'sound' holds 3"),
        ("sound: {crossovers: [900, 200]}", "has 200 after 900; let them rise"),
        ("sound: {bands: [a, b]}", "2 bands, and 2 crossovers make 3; give 3 names"),
        ("sound: {bands: [a, b, a]}", "two bands are called a"),
        ("sound: {gain: loud}", "give auto or off"),
        ("sound: {rules: [{lamps: all}]}", "listens to nothing; give one of band, onset"),
        ("sound: {rules: [{band: bass}]}", "sets nothing off; give one of lamps"),
        ("sound: {rules: [{band: bas, lamps: all}]}", "unknown band 'bas'; did you mean 'bass'?"),
        ("sound: {rules: [{band: bass, onset: bass, lamps: all}]}", "both band and onset"),
        ("sound: {rules: [{band: bass, chase: all}]}", "chase with band; it goes with onset"),
        ("sound: {rules: [{onset: bass, lamps: all, as: bar}]}", "as with onset; it goes with band"),
        ("sound: {rules: [{onset: bass, lamps: all, channel: 3}]}", "channel without plays"),
        ("sound: {rules: [{onset: bass, texture: fog}]}", "fog"),
        ("sound: {rules: [{onset: bass, lamps: nobody}]}", "nobody"),
        ("controls: [{band: bass, control: 3, sets: master}]", "both control and band"),
        ("controls: [{band: none, sets: master}]", "unknown band 'none'"),
        ("time: {order: [clock, clock]}", "names one twice"),
        ("time: {order: [clock, sun]}", "unknown source 'sun'"),
        ("time: {clock_from: desk}", "unknown input 'desk'"),
        ("time: {tempo: 120}", "say tempo: at the top of the mapping"),
    ],
)
def test_mistakes_are_told_once_with_what_would_be_right(text: str, says: str) -> None:
    """Each mistake of both sections is one message, with its place and a remedy."""
    messages = told(text)
    assert len(messages) == 1, messages
    assert says in messages[0]
    assert messages[0].startswith("m.yaml:1:")


def test_the_schema_takes_what_reading_takes() -> None:
    """The published schema accepts the full example and refuses what has no source."""
    import yaml

    validator = Draft202012Validator(schema_of("mapping"))
    tree = yaml.safe_load(without_textures(FULL).replace("gain: off", 'gain: "off"'))
    assert [error.message for error in validator.iter_errors(tree)] == []
    assert not validator.is_valid({"sound": {"rules": [{"lamps": "all"}]}})
    assert not validator.is_valid({"sound": {"crossovers": [5]}})
