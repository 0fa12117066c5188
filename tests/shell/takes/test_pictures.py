"""A take for people to look at: table, chart with a piano roll, film, video."""

from __future__ import annotations

import csv
import importlib.util
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from bridge.parts.colours import rgb, shine
from bridge.shell.csv_out import write_csv
from bridge.shell.draw_chart import WIDTH
from bridge.shell.feeds import ListFeed
from bridge.shell.takes.export_frames import export_csv, export_gif, export_mp4, export_png
from bridge.shell.takes.reader import Take
from bridge.shell.takes.roll import HUES, Bar, RollChart, bars
from bridge.shell.takes.store import FRAMES, TakeFile, reserve
from bridge.values.errors import DeviceError, UsageError
from bridge.values.events import Control, Event, NoteOff, NoteOn, PortGone
from bridge.values.frame import Frame
from bridge.wire.take_frames import FramesDraft
from tests.shell.takes.players import HEADER, HZ, PADS, PIANO, RIG, record, song

SECONDS = 264 / HZ


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Take:
    """Two bars, recorded."""
    return Take(record(tmp_path_factory.mktemp("takes") / "two bars.take", [ListFeed(song())], 264))


def test_the_table_is_that_of_render(take: Take, tmp_path: Path) -> None:
    """The CSV of a take is to the byte what the same frames give when they are rendered."""
    told: list[tuple[int, int]] = []
    assert export_csv(take, RIG, tmp_path / "take.csv", progress=lambda *done: told.append(done)) == 264
    write_csv(RIG, (frame for *_, frame in take.frames()), tmp_path / "frames.csv")
    assert (tmp_path / "take.csv").read_bytes() == (tmp_path / "frames.csv").read_bytes()
    assert told == [(200, 264), (264, 264)]


def test_a_part_of_the_table_begins_at_nought(take: Take, tmp_path: Path) -> None:
    """A part is counted from its own beginning."""
    assert export_csv(take, RIG, tmp_path / "part.csv", 1.0, 2.0) == 40
    rows = list(csv.reader((tmp_path / "part.csv").read_text().splitlines()))
    assert [row[0] for row in rows[1:3]] == ["0", "0.025"]
    frame = take.frame_at(1.0)
    assert frame is not None
    assert rows[1][1] == str(frame.slot(1, 1))


def test_another_rig_is_refused(take: Take, tmp_path: Path) -> None:
    """A rig with other universes than the take's cannot name its slots, and no file is left."""
    other = replace(RIG, lamps=RIG.lamps[:4])
    with pytest.raises(UsageError, match=r"has universes 1, 3, and the rig has 1; give the rig it was"):
        export_csv(take, other, tmp_path / "x.csv")
    assert list(tmp_path.iterdir()) == []


def test_bars_of_notes() -> None:
    """Notes run from strike to release, to the next strike of the key, to the pulled cable, or to the end."""
    events: list[Event] = [
        NoteOn(0.0, "p", 1, 60, 10),
        NoteOn(0.5, "p", 1, 60, 20),
        Control(0.6, "p", 1, 64, 127),
        NoteOff(0.7, "p", 1, 60),
        NoteOn(0.8, "q", 2, 50, 30),
        NoteOn(0.8, "p", 1, 61, 40),
        NoteOn(0.8, "p", 1, 62, 41),
        NoteOff(0.9, "p", 1, 99),
        PortGone(1.0, "q"),
        Control(1.1, "p", 1, 123, 0),
        Control(1.2, "p", 1, 64, 0),
        NoteOn(1.5, "p", 1, 63, 50),
    ]
    assert list(bars(events, 2.0)) == [
        Bar(("p", 1), 60, 0.0, 0.5, 10),
        Bar(("p", 1), 60, 0.5, 0.7, 20),
        Bar(("q", 2), 50, 0.8, 1.0, 30),
        Bar(("p", 1), 61, 0.8, 1.1, 40),
        Bar(("p", 1), 62, 0.8, 1.1, 41),
        Bar(("p", 1), -1, 0.6, 1.2, 64),
        Bar(("p", 1), 63, 1.5, 2.0, 50),
    ]


def test_the_roll_stands_above_the_lamps_on_one_axis(take: Take, tmp_path: Path) -> None:
    """A note's bar begins in the column in which its lamp lights up: both are read off the picture."""
    export_png(take, RIG, tmp_path / "take.png", "Two bars")
    with Image.open(tmp_path / "take.png") as opened:
        picture = np.asarray(opened.convert("RGB")).astype(int)
    assert picture.shape[1] > WIDTH
    first = next(event for _, _, event in take.events() if isinstance(event, NoteOn) and event.note == 65)
    colour = np.array(shine(rgb(HUES[0]), 0.12 + 0.88 * first.velocity / 127))
    rows, columns = np.nonzero(np.all(picture == colour, axis=2))
    assert len(rows) > 20
    left = picture.shape[1] - WIDTH - 40
    begins = (columns.min() - left) / (WIDTH - 1) * SECONDS
    assert begins == pytest.approx(first.stamp, abs=2 * SECONDS / WIDTH)
    # The lowest row is the last lamp's, 24 pixels high above the 52 of the axis.
    level = picture[picture.shape[0] - 52 - 12, left : left + WIDTH].sum(axis=1)
    lights_up = np.flatnonzero(level > level[:100].max() + 100)[0] / WIDTH * SECONDS
    assert 0.0 <= lights_up - begins < 2 / HZ


def test_a_take_without_notes_is_a_plain_chart(tmp_path: Path) -> None:
    """Without notes there is no roll, and without frames there is still a picture."""
    chart = RollChart(RIG, tmp_path / "x.png")
    empty = chart.picture([])
    for k in range(10):
        chart.add(Frame(k / HZ, RIG.universes, np.full((2, 512), 9 * k, dtype=np.uint8)))
    plain = chart.picture([])
    with_notes = chart.picture([NoteOn(0.0, PIANO, 1, 60, 100)])
    assert empty.width == plain.width == with_notes.width
    assert with_notes.height > plain.height + 60


def test_many_ports_and_all_notes_fit(tmp_path: Path) -> None:
    """From the lowest to the highest note, on more ports than there are colours, all is drawn inside."""
    chart = RollChart(RIG, tmp_path / "x.png", "everything")
    chart.add(Frame(0.0, RIG.universes, np.zeros((2, 512), dtype=np.uint8)))
    chart.add(Frame(5.0, RIG.universes, np.zeros((2, 512), dtype=np.uint8)))
    events: list[Event] = [NoteOn(n / 30, f"{PADS} {n % 20}", 1 + n % 16, n, max(1, n)) for n in range(128)]
    picture = chart.picture(events)
    assert picture.height < 1400
    chart.save(events)
    assert (tmp_path / "x.png").read_bytes()[:4] == b"\x89PNG"


def test_the_film(take: Take, tmp_path: Path) -> None:
    """The GIF runs as long as the part it was made of."""
    assert export_gif(take, RIG, tmp_path / "take.gif", 0.0, 2.0) is False
    with Image.open(tmp_path / "take.gif") as film:
        total = 0
        for number in range(film.n_frames):  # type: ignore[attr-defined]
            film.seek(number)
            total += film.info["duration"]
    assert total == pytest.approx(2000, abs=100)


HAS_VIDEO = importlib.util.find_spec("av") is not None


@pytest.mark.skipif(
    not HAS_VIDEO and not os.environ.get("LAMPWRIGHT_REQUIRE_ALL"),
    reason="PyAV (the extra `video`) is not installed",
)
def test_the_video(take: Take, tmp_path: Path) -> None:
    """The MP4 has a picture for each frame, and a lit lamp is bright in it when it was lit."""
    av = importlib.import_module("av")
    export_mp4(take, RIG, tmp_path / "take.mp4", 0.0, 1.0)
    with av.open(str(tmp_path / "take.mp4")) as box:
        pictures = [picture.to_ndarray(format="gray") for picture in box.decode(video=0)]
        assert float(box.streams.video[0].average_rate) == HZ
    assert len(pictures) == 40
    light = np.array([picture.mean() for picture in pictures])
    sums = np.array([float(frame.slots.sum()) for *_, frame in take.frames(0.0, 1.0)])
    assert np.corrcoef(light, sums)[0, 1] > 0.8
    assert [path.name for path in tmp_path.iterdir()] == ["take.mp4"]


def test_a_video_without_end_is_refused(tmp_path: Path) -> None:
    """A take that says it lasts for ages does not fill the disk with a video."""
    file = TakeFile(reserve(tmp_path / "ages.take"), HEADER)
    draft = FramesDraft(2)
    draft.show(np.zeros((2, 512), dtype=np.uint8))
    draft.miss(1 << 40, lost=False)
    draft.show(np.ones((2, 512), dtype=np.uint8))
    file.write([(FRAMES, *draft.row(1, 0, 0))])
    file.close()
    with Take(tmp_path / "ages.take") as ages:
        with pytest.raises(
            UsageError, match=r"7,635,497 hours are too long for a video; give --from and --to"
        ):
            export_mp4(ages, RIG, tmp_path / "ages.mp4")
        assert export_csv(ages, RIG, tmp_path / "ages.csv") == 2
    assert not (tmp_path / "ages.mp4").exists()


@pytest.mark.skipif(HAS_VIDEO, reason="PyAV is installed")
def test_no_video_without_the_extra(take: Take, tmp_path: Path) -> None:
    """Without PyAV the error says how to get it, and no file is left."""
    with pytest.raises(DeviceError, match=r"a video needs PyAV.*pip install av"):
        export_mp4(take, RIG, tmp_path / "take.mp4")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("export", [export_csv, export_png, export_gif, *([export_mp4] if HAS_VIDEO else [])])
def test_an_interrupt_leaves_no_half_file(take: Take, tmp_path: Path, export: object) -> None:
    """Ctrl-C in the middle of an export leaves what was there before, and nothing else."""
    (tmp_path / "out").write_text("before")

    def interrupt(_done: int, _total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        export(take, RIG, tmp_path / "out", end=1.0, progress=interrupt)  # type: ignore[operator]
    assert (tmp_path / "out").read_text() == "before"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    with pytest.raises(DeviceError, match="cannot write"):
        export(take, RIG, tmp_path / "missing" / "out")  # type: ignore[operator]
