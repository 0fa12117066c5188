"""Knows: what the table that `render` writes must hold.

Must never know: how frames come about.
"""

from __future__ import annotations

import csv
import os
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.csv_out import seconds, write_csv
from bridge.values.errors import DeviceError
from bridge.values.frame import Frame
from bridge.values.rig import Lamp, Rig

RIG = Rig(
    "test",
    (
        Lamp("far", 0, 3, 2, bits=16),
        Lamp("last", 1, 1, 512),
        Lamp("tenth", 2, 1, 10),
        Lamp("second", 3, 1, 2),
        Lamp("shares", 4, 1, 2),
    ),
)
HEADER = ["seconds", "1.2", "1.10", "1.512", "3.2", "3.3"]


def frames(count: int, rate: float = 40.0) -> Iterator[Frame]:
    """Frames of universes 1 and 3 in which every slot has another value."""
    for k in range(count):
        values = (np.arange(1024) * 7 + k) % 256
        yield Frame(k / rate, (1, 3), values.astype(np.uint8).reshape(2, 512))


def test_a_column_for_each_patched_slot_and_a_row_for_each_frame(tmp_path: Path) -> None:
    """The table is `seconds` and the patched slots in order, every value the frame's own (DESIGN 4)."""
    place = tmp_path / "out.csv"
    assert write_csv(RIG, frames(100), place) == 100
    with open(place, encoding="utf-8", newline="") as file:
        header, *table = list(csv.reader(file))
    assert header == HEADER
    assert len(table) == 100
    for row, frame in zip(table, frames(100), strict=True):
        assert float(row[0]) == pytest.approx(frame.t, abs=1e-6)
        places = [tuple(map(int, name.split("."))) for name in header[1:]]
        assert [int(cell) for cell in row[1:]] == [frame.slot(*place) for place in places]


@given(st.floats(0, 1e6))
def test_times_are_written_to_the_microsecond(t: float) -> None:
    """A time reads back to within half a microsecond and never ends on a needless zero."""
    text = seconds(t)
    assert abs(float(text) - t) <= 0.5e-6 + 1e-9
    assert text == "0" or not ("." in text and text.endswith(("0", ".")))


def test_a_rig_without_lamps_has_times_only(tmp_path: Path) -> None:
    """No lamp, no column: the times remain."""
    place = tmp_path / "out.csv"
    write_csv(Rig(), [Frame(0.0, (), np.zeros((0, 512), np.uint8))], place)
    assert place.read_text() == "seconds\n0\n"


def test_the_length_of_a_show_takes_no_memory(tmp_path: Path) -> None:
    """Ten times the frames need no more memory: rows are written as they come."""
    peaks = []
    for count in (400, 4000):
        tracemalloc.start()
        write_csv(RIG, frames(count), tmp_path / "out.csv")
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < peaks[0] + 100_000


def test_an_interrupt_leaves_the_table_before(tmp_path: Path) -> None:
    """Ctrl-C while rendering leaves the file that was there, and nothing beside it."""
    place = tmp_path / "out.csv"
    place.write_text("before")

    def broken() -> Iterator[Frame]:
        yield from frames(50)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_csv(RIG, broken(), place)
    assert place.read_text() == "before"
    assert os.listdir(tmp_path) == ["out.csv"]


def test_a_table_that_cannot_be_written_says_what_to_do(tmp_path: Path) -> None:
    """A folder in place of a file, or a folder that is not there, is an error with a remedy."""
    with pytest.raises(DeviceError, match=r"cannot write .*: No such file or directory; name a folder"):
        write_csv(RIG, frames(1), tmp_path / "nowhere" / "out.csv")
    with pytest.raises(DeviceError, match=r"cannot write .*directory; name a folder"):
        write_csv(RIG, frames(1), tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_written_to_and_not_replaced(tmp_path: Path) -> None:
    """A path that is a pipe gets the table itself; renaming a file over it would cut its reader off."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_csv(RIG, frames(3), pipe)
        text = os.read(reader, 65536).decode()
    finally:
        os.close(reader)
    assert text.splitlines()[0] == ",".join(HEADER)
    assert len(text.splitlines()) == 4
    assert pipe.is_fifo()
