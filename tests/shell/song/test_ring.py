"""A bounded store of samples between two threads: nothing lost, doubled or reordered."""

from __future__ import annotations

import threading

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.song.ring import Ring
from bridge.shell.song.sound_file import Sound


def numbered(first: int, count: int) -> Sound:
    """Frames that carry their number on both channels."""
    return np.repeat(np.arange(first, first + count, dtype=np.float32)[:, None], 2, axis=1)


@given(st.integers(1, 40), st.lists(st.tuples(st.booleans(), st.integers(0, 60)), max_size=60))
def test_frames_come_out_as_they_went_in(size: int, moves: list[tuple[bool, int]]) -> None:
    """Against a plain queue: how many fit, how many come, and which."""
    ring, written, taken = Ring(size), 0, 0
    for write, count in moves:
        if write:
            fits = min(count, size - (written - taken))
            assert ring.write(numbered(written, count)) == fits
            written += fits
        else:
            out = np.full((count, 2), -1.0, dtype=np.float32)
            comes = min(count, written - taken)
            assert ring.take_into(out) == comes
            assert np.array_equal(out[:comes], numbered(taken, comes))
            assert (out[comes:] == -1.0).all()
            taken += comes
        assert (ring.waiting, ring.free, ring.taken) == (written - taken, size - written + taken, taken)


def test_two_threads_share_it_without_a_lock() -> None:
    """One writes, one takes, in blocks of odd sizes: a hundred thousand frames arrive in order."""
    ring, total = Ring(1000), 100_000
    got: list[Sound] = []
    pause = threading.Event()

    def take() -> None:
        out = np.zeros((257, 2), dtype=np.float32)
        while sum(map(len, got)) < total:
            if count := ring.take_into(out):
                got.append(out[:count].copy())
            else:
                pause.wait(0.001)

    thread = threading.Thread(target=take)
    thread.start()
    at = 0
    while at < total:
        count = ring.write(numbered(at, min(331, total - at)))
        at += count
        if not count:
            pause.wait(0.001)
    thread.join(20.0)
    assert np.array_equal(np.concatenate(got), numbered(0, total))
