"""One slot, one counter, one bell."""

from __future__ import annotations

import threading
import time

from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.outputs.mailbox import Mailbox

from .bench import picture


@given(st.lists(st.integers(0, 255), max_size=20))
def test_the_newest_and_how_many(values: list[int]) -> None:
    """The slot holds the last frame put and the number of all of them."""
    box = Mailbox()
    for value in values:
        box.put(picture(value))
    number, frame, early, due = box.newest
    assert number == len(values)
    assert frame == (picture(values[-1]) if values else None)
    assert (early, due) == (False, 0.0)


def test_a_bell_rung_before_the_wait_is_heard_once() -> None:
    """However often it rang, the next wait returns at once, and the one after waits."""
    box = Mailbox()
    for _ in range(3):
        box.ring()
    began = time.monotonic()
    box.wait(5)
    assert time.monotonic() - began < 1
    box.wait(0.01)
    assert time.monotonic() - began >= 0.01


def test_a_put_wakes_the_reader() -> None:
    """A reader that waits for ever returns when a frame comes."""
    box = Mailbox()
    woken = threading.Event()

    def read() -> None:
        box.wait(None)
        woken.set()

    reader = threading.Thread(target=read)
    reader.start()
    assert not woken.is_set()
    box.put(picture(1))
    assert woken.wait(5)
    reader.join()


def test_no_frame_is_lost_unseen_between_two_threads() -> None:
    """A reader that compares numbers ends with the last frame, however the two interleave."""
    box = Mailbox()
    seen: list[int] = []

    def read() -> None:
        while not seen or seen[-1] < 2000:
            box.wait(5)
            seen.append(box.newest[0])

    reader = threading.Thread(target=read)
    reader.start()
    for value in range(2000):
        box.put(picture(value % 256))
    reader.join(10)
    assert seen[-1] == 2000
    assert seen == sorted(seen)
