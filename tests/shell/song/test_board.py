"""The position that crosses between processes: whole or not at all."""

from __future__ import annotations

import multiprocessing
from multiprocessing.connection import Connection
from typing import Any

from bridge.shell.song.board import ENDED, IDLE, PLAYING, Board, Reading

SPAWN = multiprocessing.get_context("spawn")


def test_what_is_put_up_is_read() -> None:
    """All numbers cross unchanged; before the first there is the reading of an idle player."""
    board = Board(SPAWN)
    assert board.read() == Reading(0, IDLE, 0.0, 0.0, 0, 0)
    for reading in (Reading(3, PLAYING, 12345.678, -0.25, 7, 2), Reading(4, ENDED, 1e6 + 1e-7, 1 / 3, 0, 9)):
        board.write(reading)
        assert board.read() == reading


def test_a_writer_that_died_halfway_gives_no_reading() -> None:
    """Numbers half changed are told apart by count and sum."""
    board = Board(SPAWN)
    board.write(Reading(1, PLAYING, 2.0, 3.0, 0, 0))
    board._cells[0] += 1.0
    assert board.read() is None
    board._cells[0] += 1.0
    board._cells[3] = 99.0
    assert board.read() is None


def write_often(board: Board, pipe: Connection[Any, Any]) -> None:
    """Another process: changes all numbers as fast as it can."""
    pipe.send("ready")
    n = 0
    while not pipe.poll(0):
        for _ in range(200):
            n += 1
            board.write(Reading(n, n, float(n), float(n), n, n))


def test_a_reading_is_never_torn() -> None:
    """A writer in another process changes the numbers meanwhile; what is read belongs together."""
    board = Board(SPAWN)
    ours, theirs = SPAWN.Pipe()
    process = SPAWN.Process(target=write_often, args=(board, theirs))
    process.start()
    try:
        assert ours.recv() == "ready"
        seen = set()
        for _ in range(20000):
            reading = board.read()
            if reading is not None:
                n = reading.run
                assert reading == Reading(n, n, float(n), float(n), n, n)
                seen.add(n)
        assert len(seen) > 10
    finally:
        ours.send("stop")
        process.join(10)
