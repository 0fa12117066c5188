"""Where a show stands: written beside it, there after a bad end, gone after a good one, rubbish ignored."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.bookmark import Bookmark
from bridge.shell.resume import ALIVE, DRIFT, OLDEST, Resume
from bridge.shell.resume_marks import Found, Place, described, parsed, written
from bridge.values.events import Mark, NewMapping, Restore
from bridge.values.mapping import Mapping
from tests.wire.take_cases import TEXTS

NOW = 1_700_000_000.0
MARKS = (
    Mark("set master", numbers=(0.8,)),
    Mark("look", "walkin", numbers=(0.0,)),
    Mark("latch", "left", "pads", 1, 36, (1.0, 1.0, 0.0, 1.0, 127.0)),
)


def resume(folder: Path, now: float = NOW, fresh: bool = False, every: float = 0.0) -> Resume:
    return Resume(Bookmark(Path("show"), folder), fresh, lambda: now, every)


def on_disk(folder: Path) -> dict[str, Any]:
    for path in folder.glob("*.json"):
        found: dict[str, Any] = json.loads(path.read_text("utf-8"))
        return found
    return {}


def until(condition: Callable[[], object]) -> None:
    end = time.monotonic() + 10.0
    pause = threading.Event()
    while not condition():
        assert time.monotonic() < end
        pause.wait(0.002)


def left(folder: Path, marks: tuple[Mark, ...] = MARKS, place: Place = Place()) -> None:  # noqa: B008
    """A show that stood at this and ended badly."""
    show = resume(folder)
    show.look(lambda _t: marks, place, 0.0)
    show.close(clean=False)


def test_a_bad_end_leaves_the_mark_and_a_good_one_takes_it_out(tmp_path: Path) -> None:
    """What stood last is found by the next show; one that ended well leaves nothing."""
    left(tmp_path)
    with resume(tmp_path) as second:
        assert second.found == Found(NOW, Place(), MARKS)
        assert second.events() == [Restore(0.0, MARKS)]
        second.look(lambda _t: MARKS, Place(), 0.0)
        until(lambda: on_disk(tmp_path))
    with resume(tmp_path) as third:
        assert third.found is None
        assert third.events() == []
        assert third.line == ""


def test_an_error_is_no_clean_end(tmp_path: Path) -> None:
    """A show that ends by an error of ours, or never begins, keeps what was there."""
    left(tmp_path)
    again = resume(tmp_path)
    with pytest.raises(RuntimeError, match="boom"), again:
        raise RuntimeError("boom")
    with resume(tmp_path) as third:
        assert third.found is not None


def test_fresh_begins_anew(tmp_path: Path) -> None:
    """Asked to, a show forgets what was there, also for the time after the next bad end."""
    left(tmp_path)
    resume(tmp_path, fresh=True).close(clean=False)
    with resume(tmp_path) as third:
        assert third.found is None


def test_the_player_is_told_what_came_back(tmp_path: Path) -> None:
    """One line: when, what stood, and how to begin anew."""
    left(tmp_path, place=Place(2, "Harbour"))
    clock = time.strftime("%H:%M", time.localtime(NOW))
    with resume(tmp_path) as again:
        assert again.line == (
            f"found where the show was at {clock} when it ended badly: song 3, Harbour, master 80 %, "
            "look walkin, 1 latched; play --fresh begins anew"
        )


def test_a_show_that_stood_at_nothing_tells_nothing(tmp_path: Path) -> None:
    """No line where there is nothing to bring back."""
    left(tmp_path, (Mark("look", numbers=(0.0,)),))
    with resume(tmp_path) as again:
        assert again.line == ""


def test_every_kind_is_told_in_words() -> None:
    """Latches, textures, shapes, settings and the dark have words of their own."""
    marks = [Mark("latch"), Mark("latch"), Mark("texture", "wave"), Mark("chord"), Mark("set level", "l1")]
    found = Found(NOW, Place(), (*marks, Mark("dark"), Mark("tempo"), Mark("of a later version")))
    assert described(found) == (
        "2 latched, texture wave, 1 chord shape, 1 setting, "
        "blacked out, so the lamps stay dark until you play"
    )


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_mark_of_another_evening_is_not_used(tmp_path: Path, way: float) -> None:
    """After 12 hours the show begins anew, and says so; with a clock that was set back too."""
    left(tmp_path)
    near = resume(tmp_path, NOW + way * (OLDEST - 1.0))
    assert near.found is not None
    near.close(clean=False)
    with resume(tmp_path, NOW + way * (OLDEST + 1.0)) as far:
        assert far.found is None
        assert "over 12 hours ago: begun anew" in far.line


def test_two_shows_at_once_keep_apart(tmp_path: Path) -> None:
    """The second show of the same files begins fresh, and its good end leaves the first one's mark."""
    first = resume(tmp_path)
    first.look(lambda _t: MARKS, Place(), 0.0)
    until(lambda: on_disk(tmp_path))
    with resume(tmp_path) as second:
        assert second.found is None
        second.look(lambda _t: MARKS[:1], Place(), 0.0)
    first.close(clean=False)
    with resume(tmp_path) as third:
        assert third.found == Found(NOW, Place(), MARKS)


def test_changes_are_written_at_once_and_what_drifts_now_and_then(tmp_path: Path) -> None:
    """A new latch is written with the next look, cycles every ten seconds, a sign of life every thirty."""
    clock, put = [0.0], list[float]()

    class Noting(Bookmark):
        def put(self, **marks: Any) -> None:
            put.append(marks["made"])

    show = Resume(Noting(Path("show"), tmp_path), now=lambda: clock[0], every=0.0)

    def looked(t: float, cycles: float, level: float = 1.0) -> None:
        clock[0] = t
        show.look(lambda _t: (Mark("texture", "w", numbers=(level, 0.0, cycles)),), Place(), t)

    looked(0.0, 0.5)
    until(lambda: put == [0.0])
    looked(1.0, 0.6, 0.9)
    until(lambda: put == [0.0, 1.0])
    looked(1.0 + DRIFT - 0.1, 0.7, 0.9)
    looked(1.0 + DRIFT + 0.1, 0.8, 0.9)
    until(lambda: len(put) > 2)
    looked(1.0 + DRIFT + ALIVE, 0.8, 0.9)
    looked(1.0 + DRIFT + ALIVE + 0.2, 0.8, 0.9)
    until(lambda: len(put) > 3)
    show.close()
    assert put == [0.0, 1.0, 1.0 + DRIFT + 0.1, 1.0 + DRIFT + ALIVE + 0.2]


def test_at_most_one_writing_a_second_and_the_last_counts(tmp_path: Path) -> None:
    """Many changes at once: the first is written, then the newest; what lay between is not."""
    put: list[Any] = []

    class Counting(Bookmark):
        def put(self, **marks: Any) -> None:
            put.append(marks["marks"][0][5])

    show = Resume(Counting(Path("show"), tmp_path), every=0.2)
    for number in range(100):
        show.look(lambda _t, n=number: (Mark("set level", "l", numbers=(float(n),)),), Place(), 0.1)
        if number == 0:
            until(lambda: put)
    until(lambda: len(put) > 1)
    assert put[:2] == [[0.0], [99.0]]
    show.close()


def test_a_disk_that_stalls_holds_up_neither_a_frame_nor_the_end(tmp_path: Path) -> None:
    """Looking returns though the disk does not; the end waits for it a second and leaves it behind."""
    stalled, go = threading.Event(), threading.Event()

    class Stalling(Bookmark):
        def put(self, **_marks: Any) -> None:
            stalled.set()
            go.wait(20.0)

    show = Resume(Stalling(Path("show"), tmp_path))
    show.look(lambda _t: MARKS, Place(), 0.0)
    assert stalled.wait(10.0)
    before = time.monotonic()
    show.look(lambda _t: MARKS[:1], Place(), 1.0)
    looked = time.monotonic() - before
    show.close()
    ended = time.monotonic() - before
    go.set()
    assert looked < 0.5
    assert ended < 5.0


def test_an_engine_that_fails_costs_the_mark_and_not_the_show(tmp_path: Path) -> None:
    """What goes wrong while looking is not the frame's trouble."""

    def broken(_t: float) -> tuple[Mark, ...]:
        raise KeyError("gone")

    with resume(tmp_path) as show:
        show.look(broken, Place(), 0.0)
        assert on_disk(tmp_path) == {}


def test_keys_that_a_file_presses_anew_are_left_out(tmp_path: Path) -> None:
    """Latches of its ports would go out by the very note that put them on; the rest comes back."""
    left(tmp_path)
    with resume(tmp_path) as show:
        show.leave_out({"pads"})
        assert show.events() == [Restore(0.0, MARKS[:2])]
        assert "latched" not in show.line


@pytest.mark.parametrize(
    ("names", "song"),
    [(("a", "b", "c"), 1), (("b", "c"), 0), (("c", "b"), 1), (("x", "y"), 0), ((), 0)],
)
def test_the_song_is_found_by_its_name(tmp_path: Path, names: tuple[str, ...], song: int) -> None:
    """In a set list that was edited since, too; a song that is gone means the first."""
    left(tmp_path, place=Place(1, "b"))
    with resume(tmp_path) as show:
        assert show.song(names) == song


def test_the_mapping_in_force_comes_before_what_it_makes_of_the_marks(tmp_path: Path) -> None:
    """Of several mappings the one that was in force comes in first."""
    left(tmp_path, place=Place(mapping=1))
    one, two = Mapping("one"), Mapping("two")
    with resume(tmp_path) as show:
        came = [NewMapping(0.0, two, keep=False, text="2"), Restore(0.0, MARKS)]
        assert show.events([(one, "1"), (two, "2")]) == came
        assert show.events([(one, "1")]) == came[1:]


MARK = st.builds(
    Mark,
    TEXTS,
    TEXTS,
    TEXTS,
    st.integers(0, 16),
    st.integers(-1, 127),
    st.lists(st.floats(allow_nan=False, allow_infinity=False), max_size=6).map(tuple),
)
FOUND = st.builds(
    Found,
    st.floats(0, 2e9),
    st.builds(Place, st.integers(-1, 99), TEXTS, st.integers(-1, 9)),
    st.lists(MARK, max_size=5).map(tuple),
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | TEXTS,
    lambda inner: st.lists(inner, max_size=6) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=20,
)


@given(FOUND)
def test_what_is_written_reads_back(found: Found) -> None:
    """Through JSON, to the bit."""
    assert parsed(json.loads(json.dumps(written(found)))) == found
    assert isinstance(described(found), str)


@given(FOUND, st.sampled_from(["version", "made", "song", "name", "mapping", "marks"]), JSON)
def test_any_rubbish_is_a_mark_or_none(found: Found, name: str, rubbish: Any) -> None:
    """A field of any other kind: the mark is ignored as a whole, and nothing is raised."""
    data = written(found) | {name: rubbish}
    again = parsed(data)
    assert again is None or isinstance(described(again), str)
    del data[name]
    assert parsed(data) is None


@pytest.mark.parametrize(
    "mark",
    [
        ["latch", "l", "p", 1, 60],
        ["latch", "l", "p", 17, 60, []],
        ["latch", "l", "p", 1, 128, []],
        ["latch", "l", "p", 1, 60, [float("nan")]],
        ["latch", "l", "p", 1, 60, [float("inf")]],
        ["latch", "l", "p", 1, 60, [10**400]],
        ["latch", "l", "p", 1, 60, [True]],
        ["latch", "l" * 2000, "p", 1, 60, []],
        "latch",
        7,
    ],
    ids=repr,
)
def test_a_mark_that_cannot_be_spoils_the_whole(mark: Any) -> None:
    """Half a mark is worse than none."""
    data = written(Found(NOW, Place(), MARKS))
    data["marks"] = [*data["marks"], mark]
    assert parsed(data) is None
