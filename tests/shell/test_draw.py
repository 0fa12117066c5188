"""Knows: what pictures of a rig, charts over time and films must show.

Must never know: how they are drawn, or what they should be liked for.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from bridge.shell.draw import Film, RigPainter, chart_of, gif, lamp_levels, rig_picture, time_chart
from bridge.shell.draw_chart import Chart
from bridge.shell.draw_film import MOST_SECONDS, RATE
from bridge.shell.draw_light import to_light, to_srgb
from bridge.shell.draw_peaks import Peaks, resample
from bridge.shell.draw_rig import places
from bridge.values.errors import DeviceError
from bridge.values.frame import Frame
from bridge.values.rig import Lamp, Rig
from tests.reference_rows import rows


def rig_of(*lamps: tuple[float, float, str], bits: int = 8) -> Rig:
    """A rig of lamps at (x, y) in a colour, on slots 1, 2 … (or 1, 3 … with 16 bits)."""
    width = bits // 8
    made = tuple(
        Lamp(f"l{i}", i, 1, 1 + i * width, bits=bits, at=(x, y), colour=colour)
        for i, (x, y, colour) in enumerate(lamps)
    )
    return Rig("test", made)


def frame(t: float, *values: int) -> Frame:
    """A frame of universe 1 whose first slots are `values`."""
    slots = np.zeros((1, 512), dtype=np.uint8)
    slots[0, : len(values)] = values
    return Frame(t, (1,), slots)


def pixels(image: Image.Image) -> np.ndarray:
    """The picture as integers of shape (height, width, 3)."""
    return np.asarray(image.convert("RGB")).astype(int)


def lit_at(rig: Rig, lamp: int, size: tuple[int, int]) -> np.ndarray:
    """The middle (x, y) in pixels of the light that one lamp makes."""
    levels = np.zeros(len(rig.lamps))
    dark = pixels(rig_picture(rig, levels, size)).sum(axis=2)
    levels[lamp] = 1.0
    gain = (pixels(rig_picture(rig, levels, size)).sum(axis=2) - dark).clip(0) ** 3
    down, along = np.indices(gain.shape)
    return np.array([(along * gain).sum() / gain.sum(), (down * gain).sum() / gain.sum()])


CROSS = rig_of((0, 0, "white"), (2, 0, "red"), (0, 1, "green"), (2, 3, "blue"))


def test_lamps_stand_on_the_picture_as_they_hang() -> None:
    """Right is right, up is up, and one metre has one length in every direction."""
    spots = np.array([lit_at(CROSS, lamp, (640, 400)) for lamp in range(4)])
    metres = np.array([lamp.at for lamp in CROSS.lamps])
    scale = (spots[1] - spots[0])[0] / 2
    assert scale > 40
    expected = spots[0] + (metres - metres[0]) * (scale, -scale)
    assert np.abs(spots - expected).max() < 2.0


@pytest.mark.parametrize(("lamp", "strongest"), [(1, 0), (2, 1), (3, 2)])
def test_a_lamp_glows_in_its_colour(lamp: int, strongest: int) -> None:
    """A red lamp adds most red where it hangs, a green one green, a blue one blue."""
    x, y = (round(float(v)) for v in lit_at(CROSS, lamp, (640, 400)))
    levels = np.zeros(4)
    levels[lamp] = 0.5
    assert int(np.argmax(pixels(rig_picture(CROSS, levels, (640, 400)))[y, x])) == strongest


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_light_is_never_darker(one: float, other: float) -> None:
    """Where one level is at least another, no pixel of its picture is darker."""
    painter = RigPainter(rig_of((0, 0, "amber"), (1, 0, "white")), (64, 48))
    low, high = sorted((one, other))
    assert (pixels(painter.paint([high, 0.3])) >= pixels(painter.paint([low, 0.3]))).all()


def test_a_lamp_that_is_off_is_still_to_be_seen() -> None:
    """The dark picture shows where each lamp hangs: its rim is not the ground."""
    dark = pixels(rig_picture(CROSS, np.zeros(4), (640, 400)))
    for lamp in range(4):
        x, y = (round(float(v)) for v in lit_at(CROSS, lamp, (640, 400)))
        around = dark[max(0, y - 40) : y + 40, max(0, x - 40) : x + 40].sum(axis=2)
        assert around.max() > around.min() + 60


def test_lamps_without_a_place_do_not_hide_each_other() -> None:
    """Lamps that share one place are set out apart from each other, and the others stay where they are."""
    rig = rig_of(*[(0, 0, "white")] * 30, (9, 9, "red"))
    spots = places(rig)
    assert len({tuple(spot) for spot in spots.round(6)}) == 31
    assert tuple(spots[30]) == (9, 9)


@pytest.mark.parametrize("count", [0, 1, 700])
def test_any_number_of_lamps_makes_a_picture_of_the_size_asked_for(count: int) -> None:
    """No lamp, one lamp or hundreds: the picture has the size that was asked for."""
    rig = rig_of(*[(i % 40, i // 40, "white") for i in range(count)])
    assert rig_picture(rig, np.ones(count), (320, 200)).size == (320, 200)


def test_levels_are_read_from_coarse_and_fine_slots() -> None:
    """A lamp's level is its slot of 255, or both slots of 65535."""
    assert lamp_levels(rig_of((0, 0, "white"), (1, 0, "white")), frame(0, 51, 255)).tolist() == [0.2, 1.0]
    fine = rig_of((0, 0, "white"), (1, 0, "white"), bits=16)
    assert lamp_levels(fine, frame(0, 0x12, 0x34, 0xFF, 0xFF)).tolist() == [0x1234 / 65535, 1.0]


def test_light_is_shown_by_the_srgb_law() -> None:
    """Linear light becomes the code that IEC 61966-2-1 gives, and back (reference curves.csv)."""
    for row in rows("curves.csv"):
        if row["curve"] == "srgb_encode_8bit":
            assert to_srgb(np.array([float(row["input"])], np.float32))[0] == int(row["output"])
        elif row["curve"] == "srgb_decode_8bit":
            code = int(row["input"])
            assert to_light((code, code, code))[0] == pytest.approx(float(row["output"]), rel=1e-5)


@given(
    st.lists(st.lists(st.integers(0, 255), min_size=2, max_size=2), min_size=1, max_size=60),
    st.integers(1, 5),
)
def test_folding_frames_loses_no_peak(values: list[list[int]], width: int) -> None:
    """However many frames there are, every bin is the maximum of its frames, in at most twice the width."""
    peaks = Peaks(2, width)
    for k, row in enumerate(values):
        peaks.add(k * 0.025, np.array(row, np.uint8))
    starts, bins = peaks.read()
    assert len(bins) <= 2 * width
    edges = [*(round(start / 0.025) for start in starts), len(values)]
    expected = [np.max(values[a:b], axis=0).tolist() for a, b in itertools.pairwise(edges)]
    assert bins.tolist() == expected


@given(st.lists(st.integers(0, 255), min_size=1, max_size=40), st.integers(1, 30))
def test_a_step_of_the_chart_shows_the_brightest_frame_in_it(values: list[int], width: int) -> None:
    """Each step is the maximum of the frames that stand in it, each held until the next."""
    shown = resample(
        np.arange(len(values), dtype=float), np.array(values, np.uint8)[:, None], len(values), width
    )
    size = len(values) / width
    for step in range(width):
        # Frame k stands from k to k + 1; touching an edge is not standing in the step.
        inside = [
            value
            for k, value in enumerate(values)
            if k < (step + 1) * size - 1e-4 * size and k + 1 > step * size + 1e-4 * size
        ]
        assert shown[step, 0] == max(inside)


@pytest.mark.parametrize(("frames", "columns"), [(1, 1), (3, 5), (9000, 3), (50, 4096)])
def test_a_chart_is_of_bounded_size(tmp_path: Path, frames: int, columns: int) -> None:
    """Whatever the length and the number of slots, the chart fits on a page and can be opened."""
    slots = np.random.default_rng(1).integers(0, 255, (frames, columns)).astype(np.uint8)
    labels = [f"{1 + n // 512}.{1 + n % 512}" for n in range(columns)]
    time_chart(np.arange(frames) / 40, slots, labels, tmp_path / "chart.png")
    with Image.open(tmp_path / "chart.png") as image:
        assert image.format == "PNG"
        assert 1400 <= image.width <= 1700
        assert image.height <= 3000


def test_a_flash_of_one_frame_in_an_hour_is_on_the_chart() -> None:
    """One frame at full among 144,000 dark ones leaves a bright mark in its row, and in no other."""
    flash, dark = np.array([0, 255, 0], np.uint8), np.zeros(3, np.uint8)
    charts = []
    for bright in (True, False):
        chart = Chart(["one", "two", "three"], "unused.png")
        for k in range(144_000):
            chart.add(k / 40, flash if bright and k == 77_777 else dark)
        charts.append(pixels(chart.picture()))
    changed = np.argwhere((charts[0] != charts[1]).any(axis=2))
    top, left = changed.min(axis=0)
    bottom, right = changed.max(axis=0)
    assert right - left <= 2
    assert 5 < bottom - top < 24
    assert charts[0][(top + bottom) // 2, (left + right) // 2].sum() > 500


def test_a_chart_names_its_rows() -> None:
    """Two charts that differ only in one label differ only beside that row."""
    charts = []
    for name in ("amber", "green"):
        chart = Chart(["west.red", f"west.{name}", "door"], "unused.png")
        chart.add(0.0, np.array([9, 9, 9], np.uint8))
        charts.append(chart.picture())
    assert charts[0].size[1] == charts[1].size[1]
    narrow = min(chart.width for chart in charts)
    plots = [pixels(chart)[:, chart.width - narrow :] for chart in charts]
    changed = np.argwhere((plots[0] != plots[1]).any(axis=2))
    assert len(changed) > 20
    assert changed[:, 0].max() - changed[:, 0].min() < 24


def test_a_rigs_chart_has_a_row_for_each_lamp(tmp_path: Path) -> None:
    """The rows are the lamps in the order of the rig, each in its colour, whatever slot it hangs on."""
    rig = Rig(
        "test",
        (
            Lamp("one", 0, 2, 40, colour="red"),
            Lamp("two", 1, 1, 7, colour="green"),
            Lamp("three", 2, 1, 3, colour="blue"),
        ),
    )
    chart = chart_of(rig, tmp_path / "chart.png", "A title")
    for k in range(4):
        slots = np.zeros((2, 512), np.uint8)
        slots[1, 39] = slots[0, 6] = slots[0, 2] = 255
        chart.add(Frame(k / 40, (1, 2), slots))
    chart.save()
    with Image.open(tmp_path / "chart.png") as image:
        seen = pixels(image)[:, -200]
    strongest = [int(np.argmax(pixel)) for pixel in seen if pixel.max() > 200]
    assert [colour for colour, _ in itertools.groupby(strongest)] == [0, 1, 2]


def moving(seconds: float, flash: int = -1) -> Iterator[Frame]:
    """Forty frames a second: the first lamp rises, the second is dark but for one frame."""
    for k in range(round(seconds * 40)):
        yield frame(k / 40, min(255, k * 2), 255 if k == flash else 0)


PAIR = rig_of((0, 0, "white"), (3, 0, "red"))


def test_a_film_lasts_as_long_as_its_frames(tmp_path: Path) -> None:
    """A film has at most twenty pictures a second, and together they last as long as the frames."""
    gif(PAIR, moving(3), tmp_path / "film.gif", (160, 90))
    with Image.open(tmp_path / "film.gif") as film:
        assert film.size == (160, 90)
        assert 40 <= film.n_frames <= 3 * RATE
        total = 0
        for number in range(film.n_frames):
            film.seek(number)
            total += film.info["duration"]
    assert total == 3000


def test_a_slow_rig_makes_a_film_of_the_same_length(tmp_path: Path) -> None:
    """At eight frames a second each picture stands until the next frame, and the length is right."""
    gif(PAIR, (frame(k / 8, 10 * k) for k in range(17)), tmp_path / "film.gif", (160, 90))
    with Image.open(tmp_path / "film.gif") as film:
        durations = []
        for number in range(film.n_frames):
            film.seek(number)
            durations.append(film.info["duration"])
    # From 0 to the last frame at 2 s, which stands for one picture of 50 ms.
    assert len(durations) == 17
    assert sum(durations) == 2050


def test_a_film_shows_what_the_painter_paints(tmp_path: Path) -> None:
    """Each picture of the film is the picture of the rig at its time, as near as 255 colours come."""
    gif(PAIR, moving(2), tmp_path / "film.gif", (160, 90))
    painter = RigPainter(PAIR, (160, 90), even=True)
    with Image.open(tmp_path / "film.gif") as film:
        for number in (0, 7, 20, film.n_frames - 1):
            film.seek(number)
            # Two frames go to a picture and the brighter one shows: the second, here.
            wanted = pixels(painter.paint([min(255, (2 * number + 1) * 2) / 255, 0.0]))
            assert np.abs(pixels(film) - wanted).mean() < 4


def test_a_film_keeps_a_flash_between_two_pictures(tmp_path: Path) -> None:
    """A flash of one frame is seen, though there are two frames to a picture."""
    for flash in (20, 21):
        gif(PAIR, moving(1, flash), tmp_path / "film.gif", (160, 90))
        with Image.open(tmp_path / "film.gif") as film:
            reds = []
            for number in range(film.n_frames):
                film.seek(number)
                seen = pixels(film)
                reds.append(int((seen[..., 0] - seen[..., 2])[:, 100:].max()))
        assert reds[10] > reds[9] + 100
        assert reds[10] > reds[11] + 100


def test_a_still_rig_is_one_picture(tmp_path: Path) -> None:
    """What does not change is stored once, for as long as it lasts; no frames at all is a dark picture."""
    gif(PAIR, (frame(k / 40, 80, 80) for k in range(200)), tmp_path / "still.gif", (160, 90))
    gif(PAIR, iter(()), tmp_path / "none.gif", (160, 90))
    with Image.open(tmp_path / "still.gif") as film:
        assert (film.n_frames, film.info["duration"]) == (1, 5000)
    with Image.open(tmp_path / "none.gif") as film:
        assert film.n_frames == 1


def test_a_film_without_end_is_cut(tmp_path: Path) -> None:
    """Frames past the longest film are left out, and it says so."""
    with Film(PAIR, tmp_path / "film.gif", (64, 36)) as film:
        film.add(frame(0.0, 10))
        assert not film.cut
        film.add(frame(MOST_SECONDS, 200))
    assert film.cut
    with Image.open(tmp_path / "film.gif") as seen:
        assert seen.n_frames == 1


def test_an_interrupt_leaves_no_half_picture(tmp_path: Path) -> None:
    """Ctrl-C while a film is written leaves the file that was there, and nothing beside it."""
    place = tmp_path / "film.gif"
    place.write_bytes(b"the film before")

    def broken() -> Iterator[Frame]:
        yield from moving(1)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        gif(PAIR, broken(), place, (64, 36))
    assert [path.name for path in tmp_path.iterdir()] == ["film.gif"]
    assert place.read_bytes() == b"the film before"


def test_a_picture_that_cannot_be_written_says_what_to_do(tmp_path: Path) -> None:
    """A folder that is not there is an error with a remedy, for chart and film alike."""
    place = tmp_path / "nowhere" / "out"
    with pytest.raises(DeviceError, match=r"cannot write .*out: No such file.*; name a folder that exists"):
        time_chart([0.0], np.zeros((1, 1), np.uint8), ["lamp"], place)
    with pytest.raises(DeviceError, match=r"cannot write .*out: No such file.*; name a folder that exists"):
        gif(PAIR, moving(1), place, (64, 36))
