# ruff: noqa: E501 - a row of a table is one line
"""The words of textures: what a file says becomes what the engine plays, and every mistake is told at its place."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from bridge.core.engine import Engine
from bridge.parts.textures import TEXTURES, USUAL, USUAL_HZ
from bridge.shell.files import mapping_from_text, read_mapping, read_rig, schema_of
from bridge.shell.files.nodes import plain
from bridge.shell.files.report import Report
from bridge.shell.files.tree import parse
from bridge.values.errors import FileError
from bridge.values.mapping import DoRule, Mapping, SetRule, Trigger
from bridge.values.texture import Options, Settings, Step, Texture, TextureRule
from tests.shell.files.cases import agree, boathouse, case, mapping_told

RIG = boathouse()
EXAMPLES = Path(__file__).parents[3] / "examples"
ROOF = tuple(range(24))


def mapping(text: str) -> Mapping:
    """The mapping of a text that has neither mistakes nor warnings, and that the schema takes."""
    made, warnings = mapping_from_text(text, RIG)
    assert warnings == []
    tree = parse(text, Report("a"))
    assert tree is not None
    assert [
        error.message for error in Draft202012Validator(schema_of("mapping")).iter_errors(plain(tree))
    ] == []
    return made


@pytest.mark.parametrize("kind", sorted(TEXTURES))
def test_what_is_not_given(kind: str) -> None:
    """A bare kind covers all lamps with the settings and the speed that are usual for it."""
    (texture,) = mapping(f"textures: {{a: {{kind: {kind}, run: true}}}}").textures.values()
    usual = USUAL[kind]
    assert texture.lamps == tuple(range(28))
    assert texture.hz == USUAL_HZ[kind]
    assert texture.settings == Settings(
        usual.scale, usual.direction, usual.amount, usual.width, texture.settings.centre
    )
    assert (texture.mix, texture.mask, texture.strength, texture.run) == ("highest", "", 1.0, True)


def test_every_key_of_a_texture() -> None:
    """What is written arrives: speeds, settings, options, how it mixes."""
    made = mapping(
        "textures:\n"
        "  a: {kind: rings, lamps: roof, beats: 4, backwards: true, scale: 2, direction: -90, amount: 0.2, width: 0.5,\n"
        "      centre: [1, 2], profile: fall, count: 3, angle: 30, seed: 7, between: [0.1, 0.9], strength: 0.5,\n"
        "      mix: multiply, masks: keys, run: true, fade_ms: 500}\n"
        "  b: {kind: rings, centre: key, masked_by: keys, hz: 2, run: true}\n"
        "  c: {kind: rings, centre: door, run: true}\n"
    )
    assert made.textures["a"] == Texture(
        "a", "rings", ROOF, hz=USUAL_HZ["rings"], beats=4.0, backwards=True,
        settings=Settings(2.0, -90.0, 0.2, 0.5, (1.0, 2.0)), options=Options(7, "fall", 3, 30.0),
        between=(0.1, 0.9), strength=0.5, mix="multiply", mask="of_keys", run=True, fade=0.5, line=2,
    )  # fmt: skip
    assert made.textures["b"].at_key
    assert (made.textures["b"].mask, made.textures["b"].hz, made.textures["b"].beats) == ("keys", 2.0, 0.0)
    assert made.textures["c"].settings.centre == (3.0, 1.0)
    assert made.runs
    assert not mapping("keys: [{notes: 1, lamps: door}]").runs


def test_colour_is_a_share() -> None:
    """White lamps take all of a texture's colour, red ones what red there is in it."""
    (texture,) = mapping(
        "textures: {a: {kind: swell, run: true, lamps: [door, west], colour: '#0000ff'}}"
    ).textures.values()
    assert texture.tint == (1.0, 0.0, 0.0, 0.0)
    (texture,) = mapping(
        "textures: {a: {kind: swell, run: true, lamps: west, colour: '#ff0000'}}"
    ).textures.values()
    assert texture.tint[0] == 1.0 > texture.tint[1] > texture.tint[2] == 0.0


def test_keys_play_textures() -> None:
    """A rule that names a texture in place of lamps plays it, beside those that play lamps."""
    made = mapping(
        "inputs: {pads: x}\nfeels: {slow: {attack_ms: 1000, decay_ms: 10, sustain: 0.5, release_ms: 2000}}\ncurve: soft\n"
        "textures: {a: {kind: rings, centre: key, fade_ms: 250}, b: {kind: swell}}\n"
        "keys:\n"
        "  - {notes: C3..D3, texture: a, at: [roof.1.1, door], between: [0.2, 1], velocity: 1..60, channel: 3}\n"
        "  - {notes: 60, lamps: door}\n"
        "  - {notes: 61, from: pads, texture: b, mode: punch, feel: slow, curve: full, pedal: ignore}\n"
        "  - {notes: 62, texture: b, mode: start, fade_ms: 100}\n"
    )
    assert len(made.keys) == 1
    assert made.texture_keys == (
        TextureRule(
            (48, 49, 50),
            "a",
            ((0,), (27,), (0,)),
            "hold",
            0.25,
            0.0,
            1.0,
            0.25,
            "",
            (1, 60),
            "soft",
            (0.2, 1.0),
            True,
            3,
            "",
            6,
        ),
        TextureRule(
            (61,),
            "b",
            (),
            "punch",
            1.0,
            0.01,
            0.5,
            2.0,
            "slow",
            (1, 127),
            "full",
            (0.0, 1.0),
            False,
            None,
            "pads",
            8,
        ),
        TextureRule((62,), "b", (), "start", 0.1, 0.0, 1.0, 0.1, curve="soft", line=9),
    )


def test_controls_move_and_start_textures() -> None:
    """Each word for a setting, of one texture or of all, and the action."""
    made = mapping(
        "textures: {a: {kind: rings, run: true}}\n"
        "controls:\n"
        "  - {control: 1, sets: strength, texture: a}\n"
        "  - {bend: true, sets: direction, between: [-90, 90]}\n"
        "  - {control: 2, sets: speed, texture: a}\n"
        "  - {control: 3, sets: centre_x, texture: a, between: [0, 6]}\n"
        "  - {program: 1, does: texture, texture: a, fade_ms: 1500}\n"
        "  - {program: 2, does: texture, texture: none}\n"
    )
    assert made.sets == (
        SetRule(Trigger("control", (1,)), "strength", name="a", line=3),
        SetRule(Trigger("bend"), "direction", between=(-90.0, 90.0), line=4),
        SetRule(Trigger("control", (2,)), "speed", name="a", between=(0.0, 2.0), line=5),
        SetRule(Trigger("control", (3,)), "centre_x", name="a", between=(0.0, 6.0), line=6),
    )
    assert made.does == (
        DoRule(Trigger("program", (0,)), "texture", fade=1.5, line=7, texture="a"),
        DoRule(Trigger("program", (1,)), "texture", line=8),
    )


def test_chords_choose_textures() -> None:
    """A shape may be a texture."""
    (rule,) = mapping("textures: {a: {kind: swell}}\nchords: {shapes: [{chord: major, texture: a}]}").chords
    assert (rule.texture, rule.picture, rule.chase) == ("a", (), ())


def test_steps_however_they_are_written() -> None:
    """A list of texts, one text with commas, or a block of lines: the same sequence."""
    wanted = (Step("a b", 4.0), Step("c", 2.5, 1.0), Step("", 2.0))
    for steps in (
        "['a b 4', 'c 2.5 fade 1', dark 2]",
        "'a b 4, c 2.5  fade 1, dark 2'",
        "|\n      a b 4\n      c 2.5 fade 1\n      dark 2\n",
    ):
        made = mapping(
            f"textures:\n  a b: {{kind: swell}}\n  c: {{kind: wave}}\n  song:\n    run: true\n    steps: {steps}\n"
        )
        song = made.textures["song"]
        assert (song.kind, song.steps, song.beats) == ("steps", wanted, 8.5)


def texture(words: str) -> str:
    """A mapping of one texture that runs."""
    return f"textures: {{a: {{{words}, run: true}}}}"


STEP = "write a texture and its beats, like 'ripple 16' or 'ripple 16 fade 4'"
MISTAKES = [
    case(texture("kind: ¶rinsg"), "unknown texture 'rinsg'; did you mean 'rings'? known: wave, rings, …"),
    case("textures: {a: ¶{run: true}}", "a texture shows nothing; give one of kind, picture, steps"),
    case("textures: {a: ¶{run: true, kind: wave, picture: x.png}}", "a texture has both kind and picture; give one of kind, picture, steps"),
    case("textures: {a: ¶5}", "a texture is written as keys and values, not as 5; …"),
    case("textures: {¶dark: {kind: wave, run: true}}", "a texture called dark; the word means no texture; call it else"),
    case(texture("kind: wave, ¶speed: 1"), "unknown key 'speed'; say hz: cycles a second, or beats: beats a cycle"),
    case(texture("kind: wave, hz: 1, ¶beats: 4"), "both hz and beats; give one"),
    case(texture("kind: wave, hz: ¶-1"), "hz -1 is out of range; give a number from 0 to 50"),
    case(texture("kind: wave, lamps: ¶rof"), "no lamp or group is called 'rof'; did you mean 'roof'? …"),
    case(texture("kind: wave, masks: keys, ¶masked_by: keys"), "both masks and masked_by; give one"),
    case(texture("kind: wave, mix: ¶heighest"), "unknown mix 'heighest'; did you mean 'highest'? known: highest, add, multiply, replace"),
    case(texture("kind: rings, centre: ¶[1]"), "centre is a list of 1; give two numbers, [x, y]"),
    case(texture("kind: rings, centre: ¶dor"), "no lamp or group is called 'dor'; did you mean 'door'? …"),
    case(texture("steps: ¶zzz 4"), "unknown texture 'zzz'; known: a, dark"),
    case(texture("steps: ¶a 4"), "the step 'a' is itself; give a kind or a picture"),
    case(texture("steps: [¶wave]"), f"steps has 'wave' for a step; {STEP}"),
    case(texture("steps: [¶dark 0]"), "steps has 'dark 0', which lasts no number of beats; give beats over 0, at most 4096"),
    case(texture("steps: [¶dark 2 fade 3]"), f"steps has 'dark 2 fade 3', which fades for longer than it lasts; {STEP}"),
    case(texture("picture: ¶nowhere.png"), "'nowhere.png': there is no such picture; name it from the folder of the mapping"),
    case("keys: [{notes: 1, texture: ¶b}]\ntextures: {a: {kind: wave, run: true}}", "unknown texture 'b'; …"),
    case("keys: [{notes: 1, texture: a, feel: f, ¶fade_ms: 4}]\nfeels: {f: {}}\ntextures: {a: {kind: wave, run: true}}", "both feel and fade_ms; give one"),
    case("keys: [{notes: 1, texture: a, ¶lamps: door}]\ntextures: {a: {kind: wave, run: true}}", "unknown key 'lamps'; …"),
    case("keys: [{notes: 1, texture: a, mode: ¶shot}]\ntextures: {a: {kind: wave, run: true}}", "unknown mode 'shot'; …"),
    case("controls: [{control: 1, sets: speed, texture: ¶b}]\ntextures: {a: {kind: wave, run: true}}", "unknown texture 'b'; …"),
    case("controls: [{notes: 1, does: texture, texture: ¶b}]\ntextures: {a: {kind: wave, run: true}}", "unknown texture 'b'; …"),
    case("chords: {shapes: [{chord: major, texture: ¶b}]}\ntextures: {a: {kind: wave, run: true}}", "unknown texture 'b'; …"),
    case("chords: {shapes: [¶{chord: major, texture: a, lamps: door}]}\ntextures: {a: {kind: wave}}", "a shape has both lamps and texture; …"),
]  # fmt: skip

WARNINGS = [
    case(texture("kind: swell, hz: ¶3.5"), "warning: 3.5 cycles a second light a lamp more than three times a second; that can bring on a seizure, and the flash guard holds it back; give 3 or less"),
    case("textures: {¶a: {kind: wave}}", "warning: nothing shows the texture 'a'; say run: true, or name it in a rule or in steps"),
    case("textures: {a: {kind: rings, centre: key}}\nkeys: [¶{notes: 1, texture: a}]", "warning: 'a' has its centre at the key, and this rule says no lamps for its notes; say at: and lamps, one for each note"),
    case(texture("kind: wave, ¶fit: fill"), "warning: fit does nothing beside kind; take it out"),
    case(texture("steps: dark 4, ¶hz: 1"), "warning: hz does nothing beside steps; take it out"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "messages"), [*MISTAKES, *WARNINGS])
def test_a_mistake_is_told_at_its_place(marked: str, messages: tuple[str, ...]) -> None:
    """Each mistake is told once, at its line and column, with what would be right."""
    agree(mapping_told(marked), messages)


def test_pictures_are_named_from_the_mappings_folder(tmp_path: Path) -> None:
    """A picture beside the mapping is found from anywhere; a broken one is told with file, line and column."""
    Image.new("RGB", (8, 8), (255, 255, 255)).save(tmp_path / "white.png")
    (tmp_path / "bad.png").write_bytes((tmp_path / "white.png").read_bytes()[:40])
    file = tmp_path / "m.yaml"
    file.write_text(
        "textures:\n  a: {picture: white.png, run: true}\n  b: {picture: white.png, run: true, hz: 1}\n"
    )
    made, warnings = read_mapping(file, RIG)
    assert warnings == []
    assert [texture.kind for texture in made.textures.values()] == ["film", "still"]
    assert bool(np.all(Engine(RIG, made).advance([], 0.1).slots[0, :24] > 200))
    file.write_text("textures:\n  a: {picture: bad.png, run: true}\n")
    with pytest.raises(FileError, match=r"m\.yaml:2:16: 'bad\.png': .*(broken|can be read)"):
        read_mapping(file, RIG)


def test_a_take_need_not_keep_pictures(tmp_path: Path) -> None:
    """Not strict, a picture that is not there is a warning, its texture is left out, and all else plays."""
    text = "textures: {a: {picture: gone.png, run: true}, b: {kind: swell, run: true}, c: {steps: 'a 4, b 4', run: true}}"
    made, warnings = mapping_from_text(text, RIG, "x", tmp_path, strict=False)
    assert [str(warning) for warning in warnings] == [
        "x:1:25: warning: 'gone.png': there is no such picture; name it from the folder of the mapping"
    ]
    assert list(made.textures) == ["b", "c"]
    Engine(RIG, made).advance([], 0.5)
    Image.new("L", (2, 2), 255).save(tmp_path / "gone.png")
    assert mapping_from_text(text, RIG, "x", tmp_path)[0].textures["a"].kind == "film"


def test_a_film_runs_at_its_own_speed(tmp_path: Path) -> None:
    """Without hz or beats an animated picture takes the time it says; with beats, so many."""
    first = Image.new("L", (4, 4), 0)
    first.save(tmp_path / "a.gif", save_all=True, append_images=[Image.new("L", (4, 4), 255)], duration=2000)
    file = tmp_path / "m.yaml"
    file.write_text("textures: {a: {picture: a.gif, run: true}, b: {picture: a.gif, run: true, beats: 8}}")
    made, _ = read_mapping(file, RIG)
    assert made.textures["a"].hz == pytest.approx(0.25)
    assert made.textures["b"].beats == 8.0


@pytest.mark.parametrize("path", sorted((EXAMPLES / "textures").glob("*.yaml")), ids=lambda path: path.stem)
def test_the_examples(path: Path) -> None:
    """Each example reads without a word for the boathouse, moves, and stays within what it may: 0 to 255."""
    rig, _ = read_rig(EXAMPLES / "boathouse" / "rig.yaml")
    made, warnings = read_mapping(path, rig)
    assert warnings == []
    assert path.read_text(encoding="utf-8").startswith("# ")
    if made.runs:
        engine = Engine(rig, made)
        seen = {engine.advance([], t).slots.tobytes() for t in (0.5, 2.0, 5.5, 9.0, 31.0)}
        assert len(seen) > 2


def test_there_are_eight_examples_with_pictures_of_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At least eight; every picture they name is drawn by the script, to the same pixels."""
    files = list((EXAMPLES / "textures").glob("*.yaml"))
    assert len(files) >= 8
    monkeypatch.syspath_prepend(str(EXAMPLES))
    import make_pictures

    monkeypatch.setattr("sys.argv", ["make_pictures.py", str(tmp_path)])
    make_pictures.main()
    drawn = sorted(path.name for path in tmp_path.iterdir())
    kept = EXAMPLES / "textures" / "pictures"
    assert drawn == sorted(path.name for path in kept.iterdir())
    for name in drawn:
        with Image.open(tmp_path / name) as new, Image.open(kept / name) as old:
            assert new.size == old.size
            assert np.abs(np.asarray(new.convert("L"), int) - np.asarray(old.convert("L"), int)).mean() < 3


def test_the_gallery_can_be_drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A command draws an example in motion, and the gallery that is kept has them all and is small."""
    monkeypatch.syspath_prepend(str(EXAMPLES))
    import make_gallery

    path = make_gallery.draw(EXAMPLES / "textures" / "ripples.yaml", tmp_path, 2.0)
    with Image.open(path) as film:
        assert film.n_frames > 5
    kept = list((EXAMPLES / "gallery").glob("*.gif"))
    assert {path.stem for path in kept} == {path.stem for path in (EXAMPLES / "textures").glob("*.yaml")}
    assert sum(path.stat().st_size for path in kept) < 1_500_000
