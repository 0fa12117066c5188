"""Rows of frames: any course of frames comes back to the byte; any bytes are such a row or the one error."""

from __future__ import annotations

import tracemalloc
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.values.errors import WireError
from bridge.values.frame import SLOTS
from bridge.wire.take_frames import LOST, MOST_RAW, MOST_SHOWN, SKIPPED, FramesDraft, read_frames
from bridge.wire.take_rows import FRAMES, pack, put_int
from tests.wire.take_cases import COURSES, picture

HZ = 44.0
Expected = list[tuple[int, int, float, bytes]]


def play(
    draft: FramesDraft, course: list[tuple[str, int]], universes: int = 1, early: int = 0
) -> tuple[Expected, dict[int, list[int]], int]:
    """Put a course into a draft; the frames and missing numbers to come out, and the last early number."""
    shown: Expected = []
    missing: dict[int, list[int]] = {SKIPPED: [], LOST: []}
    for what, value in course:
        if what == "show":
            early = 0
            shown.append((draft.next_k, 0, draft.next_k / HZ, picture(value, universes).tobytes()))
            draft.show(picture(value, universes))
        elif what == "early" and draft.next_k:
            early += 1
            t = (draft.next_k - 1 + early / 50) / HZ
            shown.append((draft.next_k - 1, early, t, picture(value, universes).tobytes()))
            draft.early(early, t, picture(value, universes))
        elif what in ("skip", "lose"):
            early = 0
            missing[LOST if what == "lose" else SKIPPED] += range(draft.next_k, draft.next_k + value)
            draft.miss(value, lost=what == "lose")
    return shown, missing, early


@given(COURSES, st.integers(1, 3), st.lists(st.integers(1, 30), max_size=3))
def test_any_course_of_frames_comes_back(
    course: list[tuple[str, int]], universes: int, cuts: list[int]
) -> None:
    """Numbers, times and bytes of every frame, and what is missing and why, come back from any rows."""
    draft = FramesDraft(universes)
    shown, missing, found, gone, keys = [], {SKIPPED: [], LOST: []}, [], {SKIPPED: [], LOST: []}, []
    at = early = 0
    for n, cut in enumerate([*sorted(cuts), len(course)], 1):
        more, absent, early = play(draft, course[at:cut], universes, early)
        shown += more
        at = max(at, cut)
        for why, numbers in absent.items():
            missing[why] += numbers
        if draft.empty:
            continue
        key, row = draft.row(n, 7, 9)
        read = read_frames(row)
        assert (read.n, read.events, read.remarks, read.key, read.next_k) == (n, 7, 9, key, draft.next_k)
        keys.append(key)
        pictures = read.pictures(universes)
        found += [(k, j, t, pictures[p].tobytes()) for k, j, t, p in read.frames(HZ)]
        for why in (SKIPPED, LOST):
            gone[why] += [k + more for k, count in read.missing(why) for more in range(count)]
    assert found == shown
    assert gone == missing
    assert keys == sorted(set(keys))


def test_frames_alike_are_kept_once() -> None:
    """A picture is kept only when it changes, also when it is another array with the same bytes."""
    draft = FramesDraft(1)
    for seed in (1, 1, 1, 2, 2, 1):
        draft.show(picture(seed))
    read = read_frames(draft.row(1, 0, 0)[1])
    assert (read.shown, read.changes) == (6, (0, 3, 5))


def test_a_row_does_not_need_the_one_before() -> None:
    """The first frame of a row is whole, though it is as the last frame of the row before."""
    draft = FramesDraft(1)
    draft.show(picture(1))
    draft.row(1, 0, 0)
    draft.show(picture(1))
    assert read_frames(draft.row(2, 0, 0)[1]).pictures(1).tobytes() == picture(1).tobytes()


def test_what_cannot_be_is_our_mistake() -> None:
    """A frame of another shape, or an early frame before any other, is refused."""
    draft = FramesDraft(1)
    with pytest.raises(ValueError, match="no early frame 1 fits"):
        draft.early(1, 0.0, picture(1))
    with pytest.raises(ValueError, match="a frame of 1024 slots in a take of 512"):
        draft.show(picture(1, 2))


@given(st.binary(max_size=120))
def test_any_bytes_are_frames_or_the_one_error(body: bytes) -> None:
    """A row with a right check and any body: frames, or a WireError; memory stays bounded."""
    try:
        read = read_frames(pack(FRAMES, body))
        frames = list(read.frames(HZ))
        pictures = read.pictures(1)
    except WireError:
        return
    assert len(frames) == read.shown
    assert all(0 <= p < len(pictures) for _, _, _, p in frames)


@given(st.binary(max_size=60), COURSES)
def test_frames_with_other_pictures_are_the_one_error(noise: bytes, course: list[tuple[str, int]]) -> None:
    """Right numbers before pictures that are none are a WireError, or the pictures."""
    draft = FramesDraft(1)
    play(draft, [("show", 1), *course])
    row = draft.row(1, 0, 0)[1]
    body = row[9:-4]
    read = (
        read_frames(pack(FRAMES, body[: len(body) - len(noise)] + noise))
        if len(noise) < len(body) // 2
        else None
    )
    if read is not None:
        try:
            pictures = read.pictures(1)
        except WireError:
            return
        assert np.shape(pictures) == (len(read.changes), 1, 512)


def body_of(*numbers: int) -> bytes:
    out = bytearray()
    for number in numbers:
        put_int(out, number)
    return bytes(out)


@pytest.mark.parametrize(
    ("numbers", "match"),
    [
        ((1, 0, 0, 0, 1, (MOST_SHOWN + 1) << 2), "at most"),
        ((1, 0, 0, 0, 1, 0), "a run of 0 frames"),
        ((1, 0, 0, 2**50, 1, 1 << 2), "a run of 1 frames"),
        ((1, 0, 0, 0, 1, 2 << 2, 1, 1), "the first frame of a row"),
        ((1, 0, 0, 0, 1, 2 << 2, 2, 0, 0), "each later one once"),
        ((1, 0, 0, 0, 1, 2 << 2, 0), "a picture for no frame"),
        ((1, 0, 0, 0, 1, 2 << 2, 2, 0, 5), "a picture for no frame"),
        ((1, 0, 0, 0, 1, 2 << 2, 3), "up to 2, found 3"),
    ],
)
def test_numbers_that_contradict_are_an_error(numbers: tuple[int, ...], match: str) -> None:
    """Each way in which a row could claim the impossible has its own error."""
    with pytest.raises(WireError, match=match):
        read_frames(pack(FRAMES, body_of(*numbers)))


def test_a_small_row_cannot_ask_for_all_the_memory_there_is() -> None:
    """Pictures are not made room for on the word of a row: one of 100 bytes could ask for terabytes."""
    universes = 63_999
    whole = zlib.compress(bytes(SLOTS))
    body = body_of(1, 0, 0, 0, 1, MOST_SHOWN << 2, 3, 0, 1, 1, len(whole)) + whole + zlib.compress(b"")
    row = read_frames(pack(FRAMES, body))
    assert 3 * universes * SLOTS > MOST_RAW
    tracemalloc.start()
    try:
        with pytest.raises(WireError, match="3 pictures of 32767488 slots, more than a row can hold"):
            row.pictures(universes)
        assert tracemalloc.get_traced_memory()[1] < 1_000_000
    finally:
        tracemalloc.stop()
