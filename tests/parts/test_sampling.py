"""Means around lamps: the published table, and Pillow, scipy and colour-science as peers."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy import ndimage

from bridge.parts import colours
from bridge.parts.sampling import (
    BT709,
    LINEAR,
    Weights,
    area_means,
    areas,
    box_weights,
    gauss_blurred,
    gauss_weights,
    light,
    linear,
)
from bridge.values.numbers import Floats
from tests.reference_rows import rows

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

ROWS = {row["case"]: row for row in rows("sampling.csv")}
RAMP: Floats = np.arange(16.0).reshape(4, 4)


def picture(case: str) -> Floats:
    """The input of a row of the table: rows of numbers from the top down."""
    return np.array([[float(x) for x in line.split()] for line in ROWS[case]["input_rows"].split("/")])


def expected(case: str) -> Floats:
    """The result of a row, flat."""
    return np.array([float(x) for line in ROWS[case]["expected"].split("/") for x in line.split()])


def tiles(columns: int, rows_: int, width: int, height: int) -> Weights:
    """Boxes that tile an image."""
    at = np.arange(columns * rows_)
    wide, high = width / columns, height / rows_
    middles = np.stack([(at % columns + 0.5) * wide, (at // columns + 0.5) * high], axis=1)
    return box_weights(middles, (wide / 2, high / 2), (width, height))


@pytest.mark.parametrize(
    ("case", "columns", "lines"),
    [
        ("ramp_4x4_to_2x2", 2, 2),
        ("ramp16_4x4_to_2x2", 2, 2),
        ("three_to_two", 2, 1),
        ("checker_encoded", 1, 1),
    ],
)
def test_published_tilings(case: str, columns: int, lines: int) -> None:
    """Boxes that tile the image give the published means, whole ratios and fractions alike."""
    image = picture(case)
    found = tiles(columns, lines, image.shape[1], image.shape[0]).means(image.reshape(-1))
    np.testing.assert_allclose(found, expected(case), rtol=1e-12)


@pytest.mark.parametrize(
    ("case", "at"),
    [("centre_box", (0.5, 0.5)), ("fractional_box", (0.375, 0.5)), ("edge_box", (0.0, 0.0))],
)
def test_published_boxes(case: str, at: tuple[float, float]) -> None:
    """A box half as wide as the image gives the published mean; over the edge, of what is inside."""
    image = picture(case)
    places = np.array([at]) * 4
    found = box_weights(places, (1.0, 1.0), (4, 4)).means(image.reshape(-1))
    np.testing.assert_allclose(found, expected(case), atol=1e-12)
    if case == "edge_box":
        # Clipped, not filled up with black: ten more in every pixel are ten more in the mean.
        more = box_weights(places, (1.0, 1.0), (4, 4)).means(image.reshape(-1) + 10)
        np.testing.assert_allclose(more, expected(case) + 10)


@pytest.mark.parametrize("case", ["checker_linear", "four_greys_linear"])
def test_published_means_in_linear_light(case: str) -> None:
    """Codes are averaged as light, not as codes."""
    codes = np.repeat(picture(case).astype(np.uint8)[..., None], 3, axis=2)
    height, width = codes.shape[:2]
    found = tiles(1, 1, width, height).of_image(codes, BT709)
    np.testing.assert_allclose(found, expected(case), rtol=1e-8)
    if case == "checker_linear":
        assert round(colours.encode(float(found[0])) * 255) == expected("checker_linear_code")[0]


def test_published_red_and_blue() -> None:
    """Half red and half blue: a red lamp and a blue one take half each, a green one nothing."""
    codes = np.array([[[255, 0, 0]], [[0, 0, 255]]], dtype=np.uint8)
    found = [
        float(tiles(1, 1, 1, 2).of_image(codes, colours.share(name))[0]) for name in ("red", "green", "blue")
    ]
    np.testing.assert_allclose(found, expected("red_blue_linear"), atol=1e-12)


@given(st.integers(1, 6), st.integers(1, 6), st.integers(1, 5), st.integers(1, 5), st.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_whole_ratios_against_pillow(columns: int, lines: int, wide: int, high: int, seed: int) -> None:
    """At whole ratios boxes agree with Pillow's BOX filter."""
    image = np.random.default_rng(seed).random((lines * high, columns * wide)).astype(np.float32)
    peer = np.asarray(Image.fromarray(image).resize((columns, lines), Image.Resampling.BOX))
    found = tiles(columns, lines, columns * wide, lines * high).means(image.astype(np.float64).reshape(-1))
    np.testing.assert_allclose(found.reshape(lines, columns), peer, rtol=2e-6)


@pytest.mark.parametrize("radius", [0.6, 1.5, 4.0])
def test_gaussians_against_scipy(radius: float) -> None:
    """Inside, a Gaussian agrees with scipy's; over an edge, with its share of what is inside."""
    image = np.random.default_rng(7).random((60, 50))
    ones = np.ones_like(image)
    kind = {"sigma": radius, "mode": "constant", "truncate": 6.0}
    peer = ndimage.gaussian_filter(image, **kind) / ndimage.gaussian_filter(ones, **kind)
    at = np.array([(x, y) for y in (0, 3, 30, 59) for x in (0, 24, 49)])
    found = gauss_weights(at + 0.5, (radius, radius), (50, 60)).means(image.reshape(-1))
    np.testing.assert_allclose(found, peer[at[:, 1], at[:, 0]], atol=2e-4)


@pytest.mark.parametrize("radius", [(0.7, 0.7), (2.0, 1.0), (30.0, 4.0)])
def test_blurring_against_scipy(radius: tuple[float, float]) -> None:
    """A picture that repeats is blurred as scipy blurs it with `wrap`."""
    image = np.random.default_rng(8).random((16, 24))
    peer = ndimage.gaussian_filter(image, radius[::-1], mode="wrap", truncate=4.0)
    np.testing.assert_allclose(gauss_blurred(image, radius), peer, atol=1e-4)


def test_srgb_against_colour_science() -> None:
    """All 256 codes decode as colour-science decodes them."""
    peer = colour.models.eotf_sRGB(np.arange(256) / 255)
    np.testing.assert_allclose(LINEAR, peer, atol=1e-12)
    np.testing.assert_allclose(
        linear(np.linspace(0, 1, 999)), colour.models.eotf_sRGB(np.linspace(0, 1, 999))
    )


def test_luminance_against_colour_science() -> None:
    """White lamps weigh channels as the row of Y in the matrix of BT.709 does, which the standard rounds."""
    peer = colour.models.RGB_COLOURSPACE_BT709.matrix_RGB_to_XYZ[1]
    np.testing.assert_allclose(BT709, peer, atol=5e-5)
    assert sum(BT709) == pytest.approx(1.0)
    assert colours.LUMINANCE == BT709


@pytest.mark.parametrize("name", [*colours.COLOURS, "#ff8000", "#010203", "#fefefe", "nothing"])
def test_a_share_is_a_share(name: str) -> None:
    """Whatever the lamp's colour, a white picture is full for it and a black one dark."""
    share = colours.share(name)
    assert sum(share) == pytest.approx(1.0)
    assert min(share) >= 0.0
    full = light(np.array([[255, 255, 255], [0, 0, 0]], dtype=np.uint8), share)
    np.testing.assert_allclose(full, [1.0, 0.0], atol=1e-12)


def test_shares_by_hand() -> None:
    """Kinds of white take luminance, primaries their channel, amber more red than green and no blue."""
    for name in ("white", "warm", "cool", "#ffffff", "#808080"):
        assert colours.share(name) == colours.LUMINANCE
    assert colours.share("#ff0000") == (1.0, 0.0, 0.0)
    red, green, blue = colours.share("amber")
    assert red > green > blue == 0.0


BOX = st.tuples(st.floats(-3, 15), st.floats(-3, 12), st.floats(0.01, 6), st.floats(0.01, 6))


@given(st.lists(BOX, min_size=1, max_size=6), st.integers(0, 99))
@settings(max_examples=80)
def test_tables_of_sums_agree_with_weights(boxes: list[tuple[float, float, float, float]], seed: int) -> None:
    """Over a picture that repeats, a table of sums gives what pixel weights give on nine copies of it."""
    image = np.random.default_rng(seed).random((9, 12))
    x, y, wide, high = np.array(boxes).T
    sides = np.stack([x - wide, x + wide, y - high, y + high])
    found = area_means(areas(image)[None], np.zeros(len(x), dtype=np.intp), sides, (0.0, 0.0))
    many = np.tile(image, (3, 3))
    for one, a, b, w, h in zip(found, x, y, wide, high, strict=True):
        peer = box_weights(np.array([[a + 12, b + 9]]), (w, h), (36, 27)).means(many.reshape(-1))
        assert one == pytest.approx(float(peer[0]), abs=1e-9)


def test_half_a_pixel_moves_the_mean_exactly() -> None:
    """A picture panned by half a pixel gives the mean of what it was before and after a whole one."""
    image = np.random.default_rng(3).random((8, 10))
    sides = np.array([[2.0, 3.0], [4.0, 7.0], [1.0, 2.0], [3.0, 6.0]])
    which = np.zeros(2, dtype=np.intp)
    at = [area_means(areas(image)[None], which, sides, (shift, 0.0)) for shift in (0.0, 0.5, 1.0)]
    np.testing.assert_allclose(at[1], (at[0] + at[2]) / 2, rtol=1e-12)
    rolled = np.roll(image, 1, axis=1)
    np.testing.assert_allclose(at[2], [rolled[1:3, 2:4].mean(), rolled[2:6, 3:7].mean()], rtol=1e-12)


def test_a_picture_comes_round_without_a_seam() -> None:
    """Moved by whole pictures either way nothing has changed; each lamp looks into its own table."""
    image = np.random.default_rng(4).random((2, 5, 7))
    tables = np.array([areas(plane) for plane in image])
    sides = np.array([[0.5, 6.5], [3.0, 9.0], [-1.0, 4.5], [1.0, 8.0]])
    which = np.array([1, 0])
    still = area_means(tables, which, sides, (0.0, 0.0))
    for shift in ((7.0, 0.0), (-14.0, 5.0), (700.0, -500.0)):
        np.testing.assert_allclose(area_means(tables, which, sides, shift), still, atol=1e-9)


def test_one_pixel_over_one_lamp() -> None:
    """A picture of one pixel is that pixel's luminance on a white lamp."""
    pixel = np.array([[[200, 100, 50]]], dtype=np.uint8)
    found = box_weights(np.array([[0.5, 0.5]]), (0.5, 0.5), (1, 1)).of_image(pixel, BT709)
    wanted = sum(w * colours.decode(c / 255) for w, c in zip(BT709, (200, 100, 50), strict=True))
    assert float(found[0]) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize("weigh", [box_weights, gauss_weights])
def test_a_lamp_outside_sees_nothing(weigh: object) -> None:
    """A lamp whose area lies outside the picture is dark, and does not disturb its neighbours."""
    places = np.array([[-50.0, 2.0], [2.0, 2.0], [2.0, 90.0]])
    found = weigh(places, (1.0, 1.0), (4, 4)).means(np.full(16, 0.7))  # type: ignore[operator]
    np.testing.assert_allclose(found, [0.0, 0.7, 0.0], atol=1e-12)


@given(st.floats(-2, 6), st.floats(-2, 6), st.floats(0, 9), st.floats(0, 9), st.booleans())
def test_a_mean_lies_within(x: float, y: float, wide: float, high: float, round_: bool) -> None:
    """Weights add up to 1 (or none counts), so that a mean lies between the darkest and the brightest."""
    weigh = gauss_weights if round_ else box_weights
    found = weigh(np.array([[x, y]]), (wide, high), (4, 4))
    assert float(found.shares.sum()) == pytest.approx(1.0) or not found.shares.any()
    assert float(found.shares.min()) >= 0.0
    assert 0 <= found.pixels.min() <= found.pixels.max() < 16
