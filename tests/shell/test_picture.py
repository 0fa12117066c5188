"""The picture that crosses to the house process: whole or not at all, and never in the way."""

from __future__ import annotations

import multiprocessing
from multiprocessing.connection import Connection
from typing import Any

import numpy as np

from bridge.shell.picture import PictureReader, PictureWriter
from bridge.values.beat import Beat
from bridge.values.frame import Frame


def frame(value: int, t: float = 1.0) -> Frame:
    """Two universes of one value."""
    return Frame(t, (1, 5), np.full((2, 512), value, dtype=np.uint8))


def test_what_is_written_is_read() -> None:
    """Frame, beat and news cross unchanged; before the first there is nothing to see."""
    writer = PictureWriter((1, 5))
    reader = PictureReader(writer.name, (1, 5))
    try:
        assert reader.look() is None
        writer.tell({"title": "évening"})
        writer.post(Beat(7, 0.001, 2, 0, 3), frame(9))
        found = reader.look()
        assert found is not None
        assert found[1:] == (Beat(7, 0.001, 2, 0, 3), frame(9), {"title": "évening"})
    finally:
        reader.close()
        writer.close()


def test_news_too_large_to_cross_is_left_out() -> None:
    """A flood of notices cannot overrun the memory."""
    writer = PictureWriter((1,))
    reader = PictureReader(writer.name, (1,))
    try:
        writer.tell({"notices": ["x" * 20000]})
        writer.post(Beat(0, 0.0), Frame(0.0, (1,), np.zeros((1, 512), dtype=np.uint8)))
        found = reader.look()
        assert found is not None
        assert found[3] == {}
    finally:
        reader.close()
        writer.close()


def look_often(name: str, pipe: Connection[Any, Any]) -> None:
    """Another process: looks as fast as it can, until told to stop, and reports torn pictures."""
    reader = PictureReader(name, (1, 5))
    pipe.send("ready")
    torn = looks = 0
    while looks <= 10 or not pipe.poll(0):
        found = reader.look()
        if found is not None:
            looks += 1
            values = set(found[2].slots.reshape(-1).tolist())
            torn += len(values) != 1 or next(iter(values)) != found[1].number % 256
    pipe.send((looks, torn))
    reader.close()


def test_a_picture_is_never_torn() -> None:
    """A reader in another process sees whole frames only, while the writer never waits."""
    writer = PictureWriter((1, 5))
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    process = multiprocessing.get_context("spawn").Process(target=look_often, args=(writer.name, theirs))
    process.start()
    try:
        assert ours.recv() == "ready"
        for number in range(20000):
            writer.post(Beat(number, 0.0), frame(number % 256))
        ours.send("stop")
        looks, torn = ours.recv()
        assert looks > 10
        assert torn == 0
    finally:
        process.join(10)
        writer.close()
