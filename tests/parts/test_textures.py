"""The laws that every texture of the registry keeps, and what each one shows."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.parts.textures import LATTICE, PERIODS, PROFILES, TEXTURES, USUAL, USUAL_HZ, Draw
from bridge.values.numbers import Floats
from bridge.values.texture import MOVED, Options, Places, Settings

EVERY = pytest.mark.parametrize("name", sorted(TEXTURES))


def grid(columns: int = 6, rows: int = 4, pitch: float = 0.9) -> Places:
    """Lamps in rows from the lower left."""
    at = np.arange(columns * rows)
    return Places(at % columns * pitch, at // columns * pitch)


ROOF = grid()
SETTINGS = st.builds(
    Settings,
    scale=st.floats(-1.0, 50.0),
    direction=st.floats(-720.0, 720.0),
    amount=st.floats(0.0, 1.0),
    width=st.floats(0.0, 1.0),
    centre=st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
)
OPTIONS = st.builds(
    Options, st.integers(0, 2**63), st.sampled_from(sorted(PROFILES)), st.integers(0, 5), st.floats(0, 180)
)
PLACES = st.lists(
    st.tuples(st.floats(-10_000, 10_000), st.floats(-10_000, 10_000)), min_size=1, max_size=8
).map(lambda at: Places(*np.array(at).T))


def made(name: str, **options: object) -> Draw:
    """A texture as it comes."""
    return TEXTURES[name](Options(**options))  # type: ignore[arg-type]


@EVERY
@given(PLACES, st.floats(0, 1e7), SETTINGS, OPTIONS)
@settings(max_examples=40)
def test_levels_are_levels(
    name: str, places: Places, cycles: float, moved: Settings, options: Options
) -> None:
    """Whatever the places, the time and the settings: one finite level 0..1 for each lamp."""
    levels = TEXTURES[name](options)(places, cycles, moved)
    assert levels.shape == (places.count,)
    assert levels.dtype == np.float64
    assert bool(np.all((levels >= 0.0) & (levels <= 1.0)))


@EVERY
def test_no_lamps_no_levels(name: str) -> None:
    """A texture over no lamps gives no levels."""
    assert made(name)(Places(np.zeros(0), np.zeros(0)), 0.3, USUAL[name]).shape == (0,)


@EVERY
def test_the_same_asked_twice_or_out_of_order(name: str) -> None:
    """What is asked and when has no bearing on the answer, and no answer changes later."""
    times = [0.0, 7.25, 0.5, 3.125, 0.5, 100.75]
    draw = made(name)
    first = [draw(ROOF, t, USUAL[name]) for t in times]
    kept = [levels.copy() for levels in first]
    again = [made(name)(ROOF, t, USUAL[name]) for t in reversed(times)]
    for levels, copy, other in zip(first, kept, reversed(again), strict=True):
        assert levels.tobytes() == copy.tobytes() == other.tobytes()


@EVERY
@given(st.integers(0, 4 * LATTICE).map(lambda n: n / 4 + 0.0625), SETTINGS)
@settings(max_examples=25)
def test_its_period_is_kept(name: str, cycles: float, moved: Settings) -> None:
    """After its period a texture is the same again, wherever in it one looks."""
    draw = made(name)
    now, then = draw(ROOF, cycles, moved), draw(ROOF, cycles + PERIODS[name], moved)
    # Where light jumps, rounding may put a place on either side of the jump.
    assert np.mean(np.abs(now - then) < 1e-6) > 0.9


@EVERY
@pytest.mark.parametrize("profile", sorted(PROFILES))
def test_no_seam_at_the_wrap(name: str, profile: str) -> None:
    """Just after the end of its period it is what it was just after its beginning, and nothing jumps."""
    draw, period = made(name, profile=profile), PERIODS[name]
    step = 1 / 512
    seam = np.abs(draw(ROOF, period + step, USUAL[name]) - draw(ROOF, period - step, USUAL[name]))
    start = np.abs(draw(ROOF, step, USUAL[name]) - draw(ROOF, period + step, USUAL[name]))
    assert float(start.max()) < 1e-9
    if profile not in ("rise", "fall", "pulse"):
        assert float(seam.max()) < 0.1


@EVERY
def test_two_frame_rates_agree(name: str) -> None:
    """Where frames of 25 and of 40 a second fall on one moment they show the same."""
    draw, hz = made(name), 0.3
    slow = {k / 25: draw(ROOF, hz * (k / 25), USUAL[name]) for k in range(200)}
    fast = {k / 40: draw(ROOF, hz * (k / 40), USUAL[name]) for k in range(320)}
    common = slow.keys() & fast.keys()
    assert len(common) == 40
    assert all(slow[t].tobytes() == fast[t].tobytes() for t in common)


@EVERY
def test_it_moves_and_is_seen(name: str) -> None:
    """As it comes, every texture lights lamps and changes within its period."""
    seen = np.array([made(name)(ROOF, k / 16, USUAL[name]) for k in range(64)])
    assert seen.max() > 0.5
    assert np.ptp(seen, axis=0).max() > 0.3


@EVERY
def test_a_lamp_does_not_depend_on_how_many_there_are(name: str) -> None:
    """Lamps inside the outline may be left out without a change to the others; only a chase counts lamps."""
    if name == "chase":
        return
    keep = np.array([0, 5, 8, 18, 23])
    some = Places(ROOF.x[keep], ROOF.y[keep], ROOF.rank[keep])
    draw = made(name)
    for cycles in (0.0, 0.4, 5.7):
        whole = draw(ROOF, cycles, USUAL[name])
        np.testing.assert_allclose(draw(some, cycles, USUAL[name]), whole[keep], atol=1e-12)


@pytest.mark.parametrize("name", ["drift", "drops", "glints"])
def test_a_seed_makes_the_pattern(name: str) -> None:
    """The same seed gives the same pattern, another seed another."""
    one = made(name, seed=1)(grid(20, 20), 3.3, USUAL[name])
    assert one.tobytes() == made(name, seed=1)(grid(20, 20), 3.3, USUAL[name]).tobytes()
    assert one.tobytes() != made(name, seed=2)(grid(20, 20), 3.3, USUAL[name]).tobytes()


@pytest.mark.parametrize("name", ["drift", "drops", "glints"])
def test_amount_is_how_much(name: str) -> None:
    """None at 0; never less light on any lamp when there is more of it."""
    draw = made(name, seed=3)
    levels = [
        draw(grid(16, 16), 2.2, Settings(1.0, -90.0, amount, 0.4)) for amount in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
    assert not levels[0].any()
    for less, more in itertools.pairwise(levels):
        assert bool(np.all(more >= less))
        assert more.sum() > less.sum()


def test_a_wave_by_hand() -> None:
    """sin², crests 4 m apart, to the right: at half a cycle the lamp at 0 m is full, the next half."""
    at = Places(np.array([0.0, 1.0, 2.0, 4.0]), np.zeros(4))
    levels = made("wave")(at, 0.5, Settings(scale=4.0))
    np.testing.assert_allclose(levels, [1.0, 0.5, 0.0, 1.0], atol=1e-12)


def test_a_wave_goes_where_it_is_told() -> None:
    """A single wave upwards reaches the rows one after the other, and is gone after its time."""
    draw = made("wave", count=1, profile="pulse")
    up = Settings(scale=0.9, direction=90.0)
    for row in range(4):
        lit = np.flatnonzero(draw(ROOF, row + 0.5, up)).tolist()
        assert lit == list(range(row * 6, row * 6 + 6))
    assert not draw(ROOF, 5.0, up).any()
    assert not draw(ROOF, -0.1, up).any()


@given(st.floats(0, 360), st.floats(0.3, 9))
def test_rings_are_round(direction: float, far: float) -> None:
    """Two places equally far from the centre have the same level."""
    turn = math.radians(direction)
    at = Places(np.array([1 + far, 1 + far * math.cos(turn)]), np.array([2.0, 2 + far * math.sin(turn)]))
    levels = made("rings")(at, 0.3, Settings(scale=2.0, centre=(1.0, 2.0)))
    assert levels[0] == pytest.approx(levels[1], abs=1e-9)


def test_two_crossed_waves_are_the_mean_of_two() -> None:
    """Each of the two is a wave of half the light, turned by half the angle to either side."""
    moved = Settings(scale=2.0, direction=20.0)
    levels = made("crossing", angle=60.0)(ROOF, 0.3, moved)
    two = [made("wave")(ROOF, 0.3, moved.moved("direction", 20.0 + turn)) for turn in (-30.0, 30.0)]
    np.testing.assert_allclose(levels, (two[0] + two[1]) / 2, atol=1e-12)


def test_a_chase_by_hand() -> None:
    """Eight lamps, a tail of two: on lamp 3 exactly, the one behind is half, the next not begun."""
    draw, tail = made("chase"), Settings(scale=2.0)
    row = grid(8, 1)
    np.testing.assert_allclose(draw(row, 3 / 8, tail), [0, 0, 0.5, 1, 0, 0, 0, 0])
    np.testing.assert_allclose(draw(row, 3.5 / 8, tail), [0, 0, 0.25, 0.75, 0.5, 0, 0, 0])
    two = made("chase", count=2)(row, 1 / 8, tail)
    np.testing.assert_allclose(two, [0.5, 1, 0, 0, 0.5, 1, 0, 0])


def test_a_fill_by_hand() -> None:
    """Standing, it is filled to `amount` of the way, hard where the edge is; none at 0, all at 1."""
    draw = made("fill")
    for amount, lit in ((0.0, 0), (0.4, 12), (1.0, 24)):
        levels = draw(ROOF, 0.0, Settings(1e-6, 90.0, amount))
        np.testing.assert_allclose(levels, [1.0] * lit + [0.0] * (24 - lit))
    assert not draw(ROOF, 0.5, Settings(1.0, 90.0, 1.0)).any()


def test_swell_is_one_level() -> None:
    """Every lamp has the level of every other: dark at 0, full half way."""
    for cycles, level in ((0.0, 0.0), (0.25, 0.5), (0.5, 1.0)):
        np.testing.assert_allclose(made("swell")(ROOF, cycles, Settings()), level, atol=1e-12)


def test_drops_fall() -> None:
    """What a place shows the one below it shows later, by the time the drop takes."""
    draw = made("drops", seed=4)
    tall = Places(np.zeros(60), np.arange(60) * 0.1)
    moved = Settings(1.0, -90.0, 1.0, 0.35)
    now, later = draw(tall, 1.0, moved), draw(tall, 1.25, moved)
    # A quarter of a cycle is a quarter of six lanes: 1.5 m, 15 places.
    np.testing.assert_allclose(later[:45], now[15:], atol=1e-9)


def test_glints_are_brief() -> None:
    """A lamp that glints is lit for no more than `width` of a cycle, and lamps glint at their own moments."""
    draw = made("glints")
    seen = np.array([draw(ROOF, k / 200, Settings(amount=1.0, width=0.1)) for k in range(1000)])
    assert 0.05 < np.mean(seen > 0.0) <= 0.1 + 1e-9
    assert len({int(column.argmax()) for column in seen.T}) > 15


def test_noise_is_smooth_and_centred() -> None:
    """Over many places the noise has its mean in the middle, and neighbours differ little."""
    draw = made("drift")
    line = Places(np.arange(4000) * 0.05, np.full(4000, 0.37))
    levels = draw(line, 0.2, Settings(scale=1.5))
    assert abs(levels.mean() - 0.5) < 0.05
    assert np.abs(np.diff(levels)).max() < 0.2
    assert levels.min() < 0.1 < 0.9 < levels.max()


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_a_profile_keeps_to_its_width(name: str) -> None:
    """Dark from `width` of the cycle on, full somewhere before it."""
    part: Floats = np.linspace(0.0, 1.0, 1001)[:-1]
    levels = PROFILES[name](part, 0.4)
    assert levels[:400].max() == pytest.approx(1.0, abs=0.01)
    assert np.abs(levels[401:]).max() < 1e-9


def test_the_registries_are_complete() -> None:
    """Every texture has a period, settings and a speed of its own."""
    assert set(TEXTURES) == set(PERIODS) == set(USUAL) == set(USUAL_HZ)


@given(SETTINGS, st.sampled_from(MOVED), st.floats(-5, 5))
def test_a_moved_setting_leaves_the_others(before: Settings, what: str, value: float) -> None:
    """Moving one setting sets it and no other."""
    after = before.moved(what, value)
    read = {word: getattr(after, word) for word in MOVED if not word.startswith("centre")}
    read |= {"centre_x": after.centre[0], "centre_y": after.centre[1]}
    was = {word: getattr(before, word) for word in MOVED if not word.startswith("centre")}
    was |= {"centre_x": before.centre[0], "centre_y": before.centre[1]}
    assert read == was | {what: value}
