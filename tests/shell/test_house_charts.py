"""Charts of takes for the stage page: one at a time, each once, and only of takes in the folder."""

from __future__ import annotations

import io
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from PIL import Image

from bridge.core.engine import Engine
from bridge.shell.feeds import ListFeed
from bridge.shell.files import rig_from_text
from bridge.shell.house_charts import Charts
from bridge.shell.loop import offline
from bridge.shell.takes.recorder import Recorder
from bridge.values.mapping import Mapping
from bridge.wire.take_header import TakeHeader
from tests.shell.takes.players import song

RIG_TEXT = "rig: two\ngrids: [{name: g, columns: 2, rows: 1, slot: 1}]\n"


def record(path: Path, frames: int = 40, rig_text: str = RIG_TEXT) -> Path:
    """A take that keeps its rig."""
    rig, _ = rig_from_text(RIG_TEXT)
    recorder = Recorder(path, TakeHeader(rig.refresh_hz, rig.universes, rig_text, "rig.yaml", "", ""))
    for beat, frame, events in offline(Engine(rig, Mapping()), [ListFeed(song())], rig.refresh_hz, frames):
        recorder.tap(beat, frame, events)
    recorder.close()
    return recorder.path


def test_a_take_has_a_chart(tmp_path: Path) -> None:
    """A PNG that opens, wide enough to be read."""
    record(tmp_path / "one.take")
    chart = Charts(tmp_path).draw("one.take")
    assert chart is not None
    with Image.open(io.BytesIO(chart)) as picture:
        assert picture.format == "PNG"
        assert picture.width > 1000


def test_each_chart_is_drawn_once(tmp_path: Path) -> None:
    """However many ask at once they get the same bytes; a take that has grown is drawn anew."""
    record(tmp_path / "one.take")
    charts = Charts(tmp_path)
    with ThreadPoolExecutor(4) as pool:
        drawn = list(pool.map(charts.draw, ["one.take"] * 8))
    assert all(chart is drawn[0] for chart in drawn)
    (tmp_path / "one.take").unlink()
    record(tmp_path / "one.take", frames=200)
    anew = charts.draw("one.take")
    assert anew is not None
    assert anew != drawn[0]


def test_no_path_leads_out_of_the_folder(tmp_path: Path) -> None:
    """A name with a folder in it, an absolute one and an empty one draw nothing, though a take is there."""
    inside = tmp_path / "inside"
    inside.mkdir()
    outside = record(tmp_path / "out.take")
    charts = Charts(inside)
    for name in ("../out.take", str(outside), "", ".", "..", "inside/../out.take"):
        assert charts.draw(name) is None


@pytest.mark.parametrize("content", [b"", b"no take", b"SQLite format 3\0" + bytes(200)])
def test_what_is_no_take_has_no_chart(tmp_path: Path, content: bytes) -> None:
    """A file that is none, one that is not there, and a take that keeps no rig: None, and no error."""
    (tmp_path / "bad.take").write_bytes(content)
    record(tmp_path / "bare.take", rig_text="")
    charts = Charts(tmp_path)
    assert charts.draw("bad.take") is None
    assert charts.draw("none.take") is None
    assert charts.draw("bare.take") is None


def test_only_so_many_charts_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory does not grow with the takes: the first drawn goes first, and is drawn again if asked for."""
    monkeypatch.setattr("bridge.shell.house_charts.MOST", 2)
    for name in ("a", "b", "c"):
        record(tmp_path / f"{name}.take", frames=10)
    charts = Charts(tmp_path)
    first = charts.draw("a.take")
    second = charts.draw("b.take")
    charts.draw("c.take")
    assert charts.draw("b.take") is second
    again = charts.draw("a.take")
    assert again == first
    assert again is not first
