"""Knows: strategies for whatever a take can hold: every kind of event, courses of frames, headers.

Must never know: which test uses them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import strategies as st

from bridge.values import events as ev
from bridge.wire.midi_in import REAL_TIME
from bridge.wire.take_events import KINDS, LEVELS, MARKS, NUMBERS, TEXT, Whole
from bridge.wire.take_header import TakeHeader

TEXTS = st.text(max_size=12)
STAMPS = st.floats(allow_nan=False, allow_infinity=False)


_MARKS = st.builds(
    ev.Mark,
    TEXTS,
    TEXTS,
    TEXTS,
    st.integers(0, 16),
    st.integers(-1, 127),
    st.lists(STAMPS, max_size=5).map(tuple),
)


def _field(name: str, field: object) -> st.SearchStrategy[Any]:
    if name == "keep":
        return st.booleans()
    if isinstance(field, Whole):
        return st.integers(field.least, field.most)
    if field == MARKS:
        return st.lists(_MARKS, max_size=4).map(tuple)
    if field == LEVELS:
        return st.lists(STAMPS, max_size=8).map(tuple)
    return TEXTS if field == TEXT else STAMPS


def _pictures() -> st.SearchStrategy[ev.Picture]:
    def picture(stamp: float, universes: list[int], seed: int) -> ev.Picture:
        slots = np.random.default_rng(seed).integers(0, 256, len(universes) * 512, dtype=np.uint8)
        slots[slots < 200] = 0
        return ev.Picture(stamp, tuple(sorted(universes)), slots.tobytes())

    numbers = st.lists(st.integers(1, 63_999), max_size=3, unique=True)
    return st.builds(picture, STAMPS, numbers, st.integers(0, 5))


def _kind(build: Any, fields: Any) -> st.SearchStrategy[ev.Event]:
    if any(field == NUMBERS for _, field in fields):
        return _pictures()
    if build is ev.RealTime:
        return st.builds(ev.RealTime, STAMPS, TEXTS, st.sampled_from(sorted(REAL_TIME.values())))
    return st.builds(build, stamp=STAMPS, **{name: _field(name, field) for name, field in fields})


EVENTS: st.SearchStrategy[ev.Event] = st.one_of([_kind(build, fields) for build, fields in KINDS.values()])
"""Any event a take can hold; the mapping of a NewMapping is a number already."""

HELD = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 2), EVENTS), min_size=1, max_size=30)
"""(frames since the one before, early number, event)."""


def numbered(steps: list[tuple[int, int, ev.Event]]) -> list[tuple[int, int, ev.Event]]:
    """`HELD` as (k, j, event)."""
    out, k = [], 0
    for step, j, event in steps:
        k += step
        out.append((k, j, event))
    return out


COURSES = st.lists(
    st.one_of(
        st.tuples(st.just("show"), st.integers(0, 4)),
        st.tuples(st.just("early"), st.integers(0, 4)),
        st.tuples(st.just("skip"), st.integers(1, 50)),
        st.tuples(st.just("lose"), st.integers(1, 50)),
    ),
    min_size=1,
    max_size=40,
)
"""What became of frames: shown with one of five pictures, early, left out, lost."""


def picture(seed: int, universes: int = 1) -> np.typing.NDArray[np.uint8]:
    """One of some pictures, its values all over 0..255."""
    return np.random.default_rng(seed).integers(0, 256, (universes, 512), dtype=np.uint8)


HEADERS = st.builds(
    TakeHeader,
    refresh_hz=st.floats(1.0, 240.0),
    universes=st.lists(st.integers(1, 63_999), max_size=4, unique=True).map(lambda n: tuple(sorted(n))),
    rig=st.text(max_size=50),
    rig_file=TEXTS,
    mapping=st.text(max_size=50),
    mapping_file=TEXTS,
    song=TEXTS,
    offset_ms=st.floats(-1e6, 1e6),
    begins_at=st.floats(-1e6, 1e6),
    title=TEXTS,
    program=TEXTS,
    made=TEXTS,
)
