"""Pictures and films as lamps see them: what is right, against Pillow; what is broken, enormous or a bomb."""

from __future__ import annotations

import resource
import struct
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from bridge.core.texture_draw import Shown
from bridge.parts.colours import decode
from bridge.parts.responses import response_table
from bridge.shell.pictures import PictureError, limits, plan_for, seen_by_lamps
from bridge.shell.pictures.layout import Plan, half_gap, lay, level_tables
from bridge.values.rig import Lamp
from bridge.values.texture import STEPS_OF_LEVEL, Film, Settings, Still, Texture
from tests.shell.pictures.films import encode, grey, lamps

STEP = 1.0 / STEPS_OF_LEVEL
ROOF = lamps()


def plan(hung: list[Lamp] | None = None, **changes: object) -> Plan:
    """Over the roof, each lamp seeing the tile around it."""
    made = plan_for(hung or ROOF, "stretch", "box", None, False, False)
    return replace(made, **changes)  # type: ignore[arg-type]


def levels(path: Path, how: Plan | None = None) -> np.ndarray:
    """Levels 0..1 of every frame, shape (frames, lamps)."""
    seen = seen_by_lamps(path, how or plan())
    assert isinstance(seen, Film)
    return seen.levels / STEPS_OF_LEVEL


def saved(path: Path, pixels: np.ndarray, **options: object) -> Path:
    """A picture file of sRGB codes."""
    Image.fromarray(pixels).save(path, **options)  # type: ignore[arg-type]
    return path


def chance(height: int, width: int, seed: int = 1) -> np.ndarray:
    """Pixels by chance, repeatably."""
    return np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)


def mean_light(pixels: np.ndarray) -> float:
    """Luminance of the mean, by hand."""
    light = np.vectorize(decode)(pixels / 255.0)
    return float(light.reshape(-1, 3).mean(axis=0) @ [0.2126, 0.7152, 0.0722])


def test_a_one_pixel_film_over_a_one_lamp_rig(tmp_path: Path) -> None:
    """It is that pixel's luminance, as a picture, as a film, and whatever the fit and the area."""
    pixel = np.array([[[200, 100, 50]]], dtype=np.uint8)
    wanted = mean_light(pixel)
    picture, film = saved(tmp_path / "p.png", pixel), encode(tmp_path / "f.mkv", [pixel])
    for fit in ("fill", "fit", "stretch"):
        for area in ("box", "gauss"):
            one = replace(plan_for(lamps(1, 1), fit, area, None, False, False))
            assert levels(picture, one)[0, 0] == pytest.approx(wanted, abs=STEP)
            assert levels(film, one)[0, 0] == pytest.approx(wanted, abs=STEP)


def test_tiles_against_pillow(tmp_path: Path) -> None:
    """A picture stretched over a grid at a whole ratio: each lamp is Pillow's BOX of the decoded picture."""
    pixels = chance(24, 36)
    light = np.vectorize(decode)(pixels / 255.0) @ [0.2126, 0.7152, 0.0722]
    peer = np.asarray(Image.fromarray(light.astype(np.float32)).resize((6, 4), Image.Resampling.BOX))
    found = levels(saved(tmp_path / "p.png", pixels))[0].reshape(4, 6)
    # Lamps count rows from below, a picture from above.
    np.testing.assert_allclose(found[::-1], peer, atol=2 * STEP)


@pytest.mark.parametrize("size", [(36, 24), (600, 400), (1500, 1000)])
def test_every_way_of_summing_agrees(tmp_path: Path, size: tuple[int, int]) -> None:
    """Small pictures by weights, larger by tables of sums, the largest joined first: the mean is the mean."""
    tile = chance(4, 6, 5)
    pixels = np.kron(tile, np.ones((size[1] // 4, size[0] // 6, 1), dtype=np.uint8))
    found = levels(saved(tmp_path / "p.png", pixels))[0].reshape(4, 6)[::-1]
    wanted = [[mean_light(tile[y, x]) for x in range(6)] for y in range(4)]
    np.testing.assert_allclose(found, wanted, atol=2 * STEP)
    film = encode(tmp_path / "f.mkv", [pixels])
    np.testing.assert_allclose(levels(film)[0].reshape(4, 6)[::-1], wanted, atol=2 * STEP)


@pytest.mark.parametrize("radius", [0.3, 0.8, 2.5])
def test_joining_pixels_leaves_a_gaussian_alone(tmp_path: Path, radius: float) -> None:
    """The same picture at ten times the pixels, which are joined before the Gaussian, looks the same."""
    small = chance(24, 36, 3)
    large = np.kron(small, np.ones((10, 10, 1), dtype=np.uint8))
    how = plan(area="gauss", radius=radius)
    one, other = (
        levels(saved(tmp_path / name, pixels), how) for name, pixels in (("s.png", small), ("l.png", large))
    )
    np.testing.assert_allclose(one, other, atol=0.02)


def test_coloured_lamps_take_their_share(tmp_path: Path) -> None:
    """Half red and half blue: a red lamp sees red, a blue one blue, a green one nothing, white luminance."""
    picture = saved(tmp_path / "p.png", np.array([[[255, 0, 0]], [[0, 0, 255]]], dtype=np.uint8))
    hung = [replace(lamp, colour=colour) for lamp, colour in zip(lamps(4, 1, 0.0), ("red", "blue", "green", "white"), strict=True)]  # noqa: E501 # fmt: skip
    found = levels(picture, plan_for(hung, "stretch", "box", 0.5, False, False))[0]
    np.testing.assert_allclose(found, [0.5, 0.5, 0.0, (0.2126 + 0.0722) / 2], atol=STEP)


@pytest.mark.parametrize(
    "response", ["linear", "square", "cie", "dali", ((0.0, 0.0), (0.4, 0.4), (0.6, 0.4), (1.0, 1.0))]
)
def test_the_level_gives_the_light(response: object) -> None:
    """Through a lamp's response, the level of a picture is the picture's light again."""
    tables, rows = level_tables([response])  # type: ignore[list-item]
    light = np.linspace(0, 1, 4097)
    drives = response_table(response)  # type: ignore[arg-type]
    back = np.interp(tables[rows[0]], np.linspace(0, 1, len(drives)), drives)
    # A response that begins above nothing (dali) cannot give less than where it begins.
    np.testing.assert_allclose(back, np.maximum(light, drives[0]), atol=2e-4)


@pytest.mark.parametrize(
    ("fit", "inside"), [("stretch", [4, 4, 4, 4]), ("fit", [0, 4, 4, 0]), ("fill", [4, 4, 4, 4])]
)
def test_fit_fill_stretch(tmp_path: Path, fit: str, inside: list[int]) -> None:
    """A square picture over a rig twice as wide: inside it, over all of it, or drawn out."""
    picture = saved(tmp_path / "p.png", np.full((8, 8, 3), 255, dtype=np.uint8))
    found = levels(picture, plan_for(lamps(4, 2), fit, "box", None, False, False))[0].reshape(2, 4)
    assert (found > 0.99).sum(axis=0).tolist() == [count // 2 for count in inside]


def test_the_picture_stands_upright(tmp_path: Path) -> None:
    """The upper left of a picture is on the upper left lamp."""
    pixels = np.zeros((4, 6, 3), dtype=np.uint8)
    pixels[0, 0] = 255
    found = levels(saved(tmp_path / "p.png", pixels))[0]
    assert np.flatnonzero(found > 0.5).tolist() == [18]


def test_what_is_clear_is_dark(tmp_path: Path) -> None:
    """Cover counts as light: half clear white is half the light, clear white none."""
    pixels = np.full((2, 2, 4), 255, dtype=np.uint8)
    pixels[..., 3] = 51
    Image.fromarray(pixels).save(tmp_path / "p.png")
    np.testing.assert_allclose(levels(tmp_path / "p.png")[0], 0.2, atol=STEP)


@pytest.mark.parametrize("suffix", ["gif", "webp", "png"])
def test_animated_images(tmp_path: Path, suffix: str) -> None:
    """Each frame at its own time: shades and lengths come back as they were written."""
    shades = (0, 128, 255)
    first, *rest = [Image.fromarray(grey(shade)) for shade in shades]
    path = tmp_path / f"a.{suffix}"
    first.save(path, save_all=True, append_images=rest, duration=[50, 100, 200], loop=0, lossless=True)
    seen = seen_by_lamps(path, plan())
    assert isinstance(seen, Film)
    assert seen.starts == pytest.approx((0.0, 0.05, 0.15))
    assert seen.length == pytest.approx(0.35)
    wanted = [decode(shade / 255) for shade in shades]
    np.testing.assert_allclose(seen.levels[:, 0] * STEP, wanted, atol=0.02)


def test_a_film_of_unequal_frames(tmp_path: Path) -> None:
    """A variable rate: each frame begins when the film says, and the film ends where it says."""
    film = encode(tmp_path / "v.mkv", [grey(n * 40) for n in range(5)], [0, 40, 500, 510, 2000])
    seen = seen_by_lamps(film, plan())
    assert isinstance(seen, Film)
    assert seen.starts == pytest.approx((0.0, 0.04, 0.5, 0.51, 2.0))
    assert 2.0 < seen.length < 2.2
    np.testing.assert_allclose(seen.levels[:, 3] * STEP, [decode(n * 40 / 255) for n in range(5)], atol=STEP)


def test_a_moved_picture_moves_exactly(tmp_path: Path) -> None:
    """Moved by half a pixel each lamp has the mean of before and after; a whole round on it is as it was."""
    seen = seen_by_lamps(saved(tmp_path / "p.png", chance(24, 36, 9)), plan(moves=True))
    assert isinstance(seen, Still)
    hung = Texture("t", "still", tuple(range(24)), still=seen, settings=Settings(direction=180.0))
    shown = Shown(hung, [lamp.at[0] for lamp in ROOF], [lamp.at[1] for lamp in ROOF])
    at = [shown.levels(pixels / 36, None) for pixels in (0, 0.5, 1, 36)]
    np.testing.assert_allclose(at[1], (at[0] + at[2]) / 2, atol=1e-9)
    np.testing.assert_allclose(at[3], at[0], atol=1e-9)
    # And standing it is what the picture is without moving.
    np.testing.assert_allclose(at[0], levels(tmp_path / "p.png")[0], atol=2 * STEP)


def test_the_same_file_is_decoded_once(tmp_path: Path) -> None:
    """A mapping saved again finds its film as it was; a film saved again is decoded anew."""
    path = saved(tmp_path / "p.png", grey(255))
    first = seen_by_lamps(path, plan())
    assert seen_by_lamps(path, plan()) is first
    saved(path, grey(0, (50, 32)))
    assert seen_by_lamps(path, plan()) != first


BROKEN: dict[str, bytes] = {
    "empty": b"",
    "text": b"hello, this is no picture at all\n" * 40,
    "png head": b"\x89PNG\r\n\x1a\n",
    "gif head": b"GIF89a",
    "riff": b"RIFF\x10\0\0\0WEBPVP8 ",
    "playlist": b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nother.mkv\n#EXT-X-ENDLIST\n",
    "list of files": b"ffconcat version 1.0\nfile other.mkv\n",
    "gif of 65535 x 65535": b"GIF89a" + struct.pack("<HHBBB", 65535, 65535, 0x80, 0, 0) + bytes(6) + b"\x2c"
    + struct.pack("<HHHHB", 0, 0, 65535, 65535, 0) + b"\x02\x02\x4c\x01\0;",
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_no_picture(tmp_path: Path, name: str) -> None:
    """Rubbish, heads without a body, lists of other files and absurd sizes are one clear error, at once."""
    path = tmp_path / "x.png"
    path.write_bytes(BROKEN[name])
    encode(tmp_path / "other.mkv", [grey(9)])
    begun = time.monotonic()
    with pytest.raises(PictureError, match=r"picture|film"):
        seen_by_lamps(path, plan())
    assert time.monotonic() - begun < 2.0


def test_what_is_not_there(tmp_path: Path) -> None:
    """No file, a folder, a name that cannot be one."""
    for path in (tmp_path / "none.png", tmp_path, tmp_path / ("x" * 300), tmp_path / "nul\0.png"):
        with pytest.raises(PictureError, match=r"picture|file"):
            seen_by_lamps(path, plan())


def test_twenty_thousand_square(tmp_path: Path) -> None:
    """A picture of 20,000 x 20,000 is refused by its size, before it is decoded, in bounded memory."""
    Image.new("1", (20_000, 20_000)).save(tmp_path / "big.png")
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(PictureError, match=r"400 million pixels is too large; at most 40 million"):
        seen_by_lamps(tmp_path / "big.png", plan())
    scale = 1 if sys.platform == "darwin" else 1024
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * scale < 50_000_000


def test_a_bomb_of_frames(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An animated image whose frames add up to more than anyone can want is given up on its way."""
    monkeypatch.setattr("bridge.shell.pictures.images.MOST_ANIMATED", 10 * 400 * 300)
    first, *rest = [Image.new("L", (400, 300), n) for n in range(40)]
    first.save(tmp_path / "bomb.gif", save_all=True, append_images=rest, duration=20)
    with pytest.raises(PictureError, match="more than 10 frames of 400 x 300 pixels are too many"):
        seen_by_lamps(tmp_path / "bomb.gif", plan())


def test_a_film_without_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A film that is too long, has too many frames, or takes too long is refused, each with its reason."""
    film = encode(tmp_path / "f.mkv", [grey(n) for n in range(60)])
    monkeypatch.setattr("bridge.shell.pictures.films.MOST_SECONDS", 1.0)
    with pytest.raises(PictureError, match="2 s are too long for a film; at most 1 s"):
        seen_by_lamps(film, plan())
    monkeypatch.undo()
    monkeypatch.setattr("bridge.shell.pictures.sampled.MOST_FRAMES", 50)
    with pytest.raises(PictureError, match="more than 50 frames are too many"):
        seen_by_lamps(film, plan())
    monkeypatch.undo()
    monkeypatch.setattr("bridge.shell.pictures.sampled.SLOWEST", -1.0)
    with pytest.raises(PictureError, match="it is not decoded after"):
        seen_by_lamps(film, plan())


def test_a_frame_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A film whose frames are too large is refused by its head."""
    film = encode(tmp_path / "f.mkv", [grey(1)])
    monkeypatch.setattr("bridge.shell.pictures.films.MOST_FRAME", 1000)
    with pytest.raises(PictureError, match="a film of 48 x 32 pixels is too large"):
        seen_by_lamps(film, plan())
    assert limits.MOST_FRAME > 3840 * 2160


@pytest.mark.parametrize(("suffix", "codec"), [("mkv", "ffv1"), ("mp4", "mpeg4")])
def test_a_film_cut_off(tmp_path: Path, suffix: str, codec: str) -> None:
    """A film of which the end is missing is an error, wherever it was cut: never half a film."""
    frames = [chance(32, 48, n) for n in range(50)]
    whole = encode(tmp_path / f"f.{suffix}", frames, codec=codec)
    assert len(levels(whole)) == 50
    data = whole.read_bytes()
    for share in (0.02, 0.3, 0.6):
        path = tmp_path / f"cut{share}.{suffix}"
        path.write_bytes(data[: int(len(data) * share)])
        with pytest.raises(PictureError, match=r"cut off|cannot|can be read|no picture|no frame"):
            seen_by_lamps(path, plan())


def test_no_frame_at_all(tmp_path: Path) -> None:
    """A film that has a track and nothing in it is an error."""
    film = encode(tmp_path / "f.mkv", [grey(1)])
    data = film.read_bytes()
    at = data.index(b"\x1f\x43\xb6\x75")
    (tmp_path / "none.mkv").write_bytes(data[:at])
    with pytest.raises(PictureError, match=r"no frame|can be read"):
        seen_by_lamps(tmp_path / "none.mkv", plan())


WHOLE = {"png": {}, "gif": {}, "webp": {}, "jpg": {}}


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """A good file of each kind."""
    folder = tmp_path_factory.mktemp("good")
    out = {}
    for suffix in WHOLE:
        first, *rest = [Image.fromarray(chance(12, 16, n)) for n in range(3)]
        more = {"save_all": True, "append_images": rest} if suffix != "jpg" else {}
        first.save(folder / f"p.{suffix}", **more)
        out[suffix] = (folder / f"p.{suffix}").read_bytes()
    out["mkv"] = encode(folder / "f.mkv", [chance(12, 16, n) for n in range(3)]).read_bytes()
    out["mp4"] = encode(folder / "f.mp4", [chance(16, 16, n) for n in range(3)], codec="mpeg4").read_bytes()
    return out


def test_an_animation_cut_off_anywhere(good: dict[str, bytes], tmp_path: Path) -> None:
    """A file cut anywhere, in its second frame's head too, is what lamps see or the one named error."""
    whole, path = good["gif"], tmp_path / "cut.gif"
    broken = 0
    for at in range(1, len(whole)):
        path.write_bytes(whole[:at])
        try:
            seen_by_lamps(path, plan(lamps(2, 2)))
        except PictureError:
            broken += 1
    assert broken > len(whole) // 2


@given(st.data())
@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_damage(good: dict[str, bytes], tmp_path: Path, data: st.DataObject) -> None:
    """Law 6: any bytes are what lamps see, or the one named error; levels stay levels."""
    suffix = data.draw(st.sampled_from(sorted(good)))
    whole = bytearray(good[suffix])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(whole) - 1))
        if data.draw(st.booleans()):
            whole[at] = data.draw(st.integers(0, 255))
        else:
            del whole[at : at + data.draw(st.integers(1, 40))]
            whole = whole or bytearray(b"\0")
    path = tmp_path / f"x.{suffix}"
    path.write_bytes(bytes(whole))
    try:
        seen = seen_by_lamps(path, plan(lamps(2, 2)))
    except PictureError:
        return
    assert isinstance(seen, Film)
    assert seen.levels.shape == (len(seen.starts), 4)
    assert list(seen.starts) == sorted(seen.starts)
    assert seen.length > 0.0


def test_films_need_a_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without PyAV pictures are read as ever, and a film says what to install."""
    film = encode(tmp_path / "f.mkv", [grey(1)])
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(PictureError, match=r"films need PyAV.*pip install av"):
        seen_by_lamps(film, plan())
    assert levels(saved(tmp_path / "p.png", grey(255))).max() == 1.0


@given(st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=1, max_size=8), st.floats(0, 3))
def test_the_outline_has_the_picture(at: list[tuple[float, float]], radius: float) -> None:
    """Stretched, every lamp's middle lies in the picture, a radius from its edges; filled, within it too."""
    for fit in ("stretch", "fill"):
        how = Plan(
            tuple(at), ((0.2126, 0.7152, 0.0722),) * len(at), ("linear",) * len(at), fit, radius=radius
        )
        laid = lay(how, (40, 30))
        assert bool(np.all(laid.middles >= -1e-6))
        assert bool(np.all(laid.middles <= np.array([40, 30]) + 1e-6))


def test_half_a_gap() -> None:
    """Half the usual way to the next lamp, lamps at one place counted once; a lone lamp has half a metre."""
    assert half_gap([lamp.at for lamp in lamps(3, 3, 0.9)]) == pytest.approx(0.45)
    assert half_gap([(1.0, 1.0), (1.0, 1.0)]) == 0.5
