"""Reading a take whatever became of its file: what is read is right, and what is missing is said."""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import Recorder
from bridge.values.beat import Beat
from bridge.values.errors import BridgeError, FileError
from bridge.values.frame import Frame
from bridge.wire.take_header import Remark, TakeHeader
from bridge.wire.take_rows import MAGIC
from tests.shell.takes.child import HEADER, HZ, events, frame

FRAMES = 120
LEFT_OUT = range(50, 53)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take of three seconds in some twelve rows: three frames left out, one early, a remark in each row."""
    path = tmp_path_factory.mktemp("sound") / "sound.take"
    recorder = Recorder(path, HEADER, every=0.001)
    for k in range(FRAMES):
        if k in LEFT_OUT:
            continue
        recorder.tap(Beat(k, 0.0, 3 if k == 53 else 0), frame(k), events(k))
        if k == 70:
            recorder.tap(Beat(70, 0.0), Frame(70.5 / HZ, (1,), frame(500).slots), [])
        if k % 10 == 9:
            recorder.remark("tenth", k)
            while recorder.written < k - 3:
                pass
    recorder.close()
    return path


class Content(NamedTuple):
    """Frames, events and remarks of a take."""

    frames: list[tuple[int, int, float, bytes]]
    events: list[object]
    remarks: list[Remark]

    def __repr__(self) -> str:
        return f"{len(self.frames)} frames"


def content(take: Take) -> Content:
    """Everything a take gives."""
    frames = [(k, j, t, shown.slots.tobytes()) for k, j, t, shown in take.frames()]
    return Content(frames, list(take.events()), list(take.remarks()))


@pytest.fixture(scope="module")
def whole(sound: Path) -> Content:
    """What the sound take holds."""
    with Take(sound) as take:
        return content(take)


def is_part(some: list, whole: list) -> bool:  # type: ignore[type-arg]
    """True if `some` is `whole` with items left out."""
    rest = iter(whole)
    return all(any(item == other for other in rest) for item in some)


def check(path: Path, whole: Content) -> str:
    """Whatever became of the file: right data, and word of all that is missing. What happened, in a word."""
    try:
        take = Take(path)
    except FileError as error:
        return "refused" if len(error.problems) == 1 else "more than one error"
    with take:
        assert take.header == HEADER
        found = content(take)
        for some, all_of_it in zip(found, whole, strict=True):
            assert is_part(some, all_of_it)
        for t in (0.0, 1.0, 51.5 / HZ, 1.76, 2.9):
            try:
                shown = take.frame_at(t)
            except FileError:
                assert take.gaps
                continue
            expected = [slots for _, _, at, slots in whole[0] if at <= t + 1e-9]
            if shown is not None and take.ends > t:
                assert shown.slots.tobytes() == expected[-1]
        gone = len(found[0]) < len(whole[0])
        if gone or len(found[1]) < len(whole[1]):
            assert take.gaps or not take.complete
        if take.complete and not take.gaps:
            assert found == whole
            return "whole"
        return "part" if gone or found != whole else "whole but for its mark"


def test_the_sound_take(sound: Path, whole: Content) -> None:
    """Untouched, everything is there."""
    assert check(sound, whole) == "whole"
    assert [(k, j) for k, j, *_ in whole[0] if j] == [(70, 1)]
    assert len(whole[0]) == FRAMES - len(LEFT_OUT) + 1
    assert len(whole[2]) == 12


def test_flipped_bytes(sound: Path, whole: Content, tmp_path: Path) -> None:
    """One byte changed, anywhere: an error or the right data, never wrong data; what is missing is said."""
    data = sound.read_bytes()
    filled = [at for at, byte in enumerate(data) if byte]
    chance = random.Random(4)
    places = sorted({*range(110), *chance.sample(filled, 600), *chance.sample(range(len(data)), 20)})
    path = tmp_path / "flipped.take"
    outcomes: dict[str, list[int]] = {}
    for at in places:
        changed = bytearray(data)
        changed[at] ^= chance.randrange(1, 256)
        path.write_bytes(changed)
        outcomes.setdefault(check(path, whole), []).append(at)
    # Only in the file's version (bytes 60 to 63) can one flip make a take unreadable: it says to be newer.
    assert set(outcomes.get("refused", [])) <= {60, 61, 62, 63}
    assert len(outcomes["whole"]) > 100
    assert len(outcomes["part"]) > 100


def test_a_damaged_row_costs_itself_alone(sound: Path, whole: Content, tmp_path: Path) -> None:
    """Everything before a damaged row of frames is there, and all after it, and the hole has its times."""
    data = bytearray(sound.read_bytes())
    with Take(sound) as take:
        rows = list(take.frame_rows())
    lost = rows[5]
    at = data.find(lost.whole)
    data[at + 3] ^= 0x40
    (tmp_path / "hole.take").write_bytes(data)
    with Take(tmp_path / "hole.take") as take:
        found = content(take)
        assert found[0] == [item for item in whole[0] if not lost.first_k <= item[0] < lost.next_k]
        assert found[1:] == whole[1:]
        (gap,) = take.gaps
        assert (gap.what, gap.why) == ("frames", "damaged")
        assert (gap.begins, gap.ends) == (lost.first_k / HZ, lost.next_k / HZ)
        assert take.complete
        assert f"frames from {gap.begins:.3f} s to {gap.ends:.3f} s are damaged" in take.reach
        with pytest.raises(FileError, match="is damaged or lost"):
            take.frame_at(lost.first_k / HZ)
        assert take.frame_at(lost.next_k / HZ) == frame(lost.next_k)


def test_cut_anywhere(sound: Path, whole: Content, tmp_path: Path) -> None:
    """A file that was cut short is refused, or gives the beginning of what it held; the longer the more."""
    data = sound.read_bytes()
    path = tmp_path / "cut.take"
    kept = []
    for length in (*range(0, 200, 7), *range(1000, len(data), 1571)):
        path.write_bytes(data[:length])
        if check(path, whole) == "refused":
            kept.append(0)
            continue
        with Take(path) as take:
            kept.append(len(list(take.frames())))
            assert kept[-1] == len(whole[0]) or take.gaps or not take.complete
    assert kept[0] == 0
    assert max(kept) > 50
    assert kept == sorted(kept)


def test_a_part_of_the_file_overwritten(sound: Path, whole: Content, tmp_path: Path) -> None:
    """A whole page of zeros anywhere, as a broken disk leaves it: the rest is there."""
    data = sound.read_bytes()
    path = tmp_path / "zeros.take"
    for page in range(0, len(data), 16384):
        path.write_bytes(data[:page] + bytes(16384) + data[page + 16384 :])
        assert check(path, whole) != "refused"


@given(
    st.lists(st.tuples(st.integers(0, 2**20), st.binary(min_size=1, max_size=300)), min_size=1, max_size=6)
)
@settings(max_examples=40)
def test_any_damage(
    sound: Path, whole: Content, tmp_path_factory: pytest.TempPathFactory, blows: list
) -> None:  # type: ignore[type-arg]
    """However many stretches are overwritten with whatever: an error or the right data."""
    data = bytearray(sound.read_bytes())
    for at, noise in blows:
        data[at % len(data) : at % len(data) + len(noise)] = noise
    path = tmp_path_factory.mktemp("any") / "any.take"
    path.write_bytes(data)
    check(path, whole)


def another_database(path: Path) -> None:
    base = sqlite3.connect(path)
    base.execute("CREATE TABLE songs(name TEXT)")
    base.execute("INSERT INTO songs VALUES ('evening')")
    base.commit()
    base.close()


def newer(path: Path, sound: Path) -> None:
    shutil.copy(sound, path)
    base = sqlite3.connect(path)
    base.execute("PRAGMA user_version=2")
    base.close()


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda *_: None, "there is no such file"),
        (lambda path, _: path.mkdir(), "is a folder, not a file"),
        (lambda path, _: path.write_bytes(b""), "is empty"),
        (lambda path, _: path.write_text("rig: Boathouse\n"), "is not a take; a take recorded by lampwright"),
        (lambda path, _: path.write_bytes(MAGIC * 900), "is not a take"),
        (lambda path, _: another_database(path), "is an SQLite file of another program, not a take"),
        (newer, r"was made by a newer version \(format 2; this one reads 1\); install the newer version"),
        (lambda path, sound: path.write_bytes(sound.read_bytes()[:16384]), "is a take whose header is lost"),
    ],
    ids=["missing", "folder", "empty", "text", "rubbish", "foreign", "newer", "headless"],
)
def test_what_is_no_take_is_said(
    tmp_path: Path, sound: Path, make: Callable[[Path, Path], object], match: str
) -> None:
    """Each thing that is no readable take has one clear error with the file's name, and is left as it is."""
    path = tmp_path / "x.take"
    make(path, sound)
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(FileError, match=rf"x\.take: {match}"):
        Take(path)
    assert (path.read_bytes() if path.is_file() else None) == before


@given(st.binary(max_size=2000))
def test_any_file_is_a_take_or_the_one_error(data: bytes) -> None:
    """Any bytes: a FileError, never another error."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.take"
        path.write_bytes(data)
        with pytest.raises(BridgeError):
            Take(path)


@pytest.mark.parametrize("table", ["events", "remarks", "frames", "head"])
def test_a_table_that_answers_for_ever_is_not_asked(
    sound: Path, whole: Content, tmp_path: Path, table: str
) -> None:
    """A file can have a view in place of a table, which makes up rows without end: rows are searched then."""
    path = tmp_path / "view.take"
    shutil.copyfile(sound, path)
    with sqlite3.connect(path, isolation_level=None) as base:
        base.execute(f"ALTER TABLE {table} RENAME TO {table}_before")
        base.execute(
            f"CREATE VIEW {table} AS WITH RECURSIVE n(at) AS (SELECT 0 UNION ALL SELECT at + 1 FROM n) "
            "SELECT at, randomblob(1000000) AS row FROM n"
        )
    base.close()
    assert check(path, whole) == "whole"


def test_reading_changes_nothing(sound: Path) -> None:
    """A take is the same file after it was read, and nothing lies beside it."""
    before = sound.read_bytes()
    with Take(sound) as take:
        content(take)
        take.check()
    assert sound.read_bytes() == before
    assert [path.name for path in sound.parent.iterdir()] == ["sound.take"]


@given(st.floats(-0.5, 3.5), st.floats(0.0, 2.0))
@settings(max_examples=60)
def test_parts_by_time(sound: Path, whole: Content, begin: float, length: float) -> None:
    """What lies between two moments is what the whole take has there, by the times of frames."""
    end = begin + length
    with Take(sound) as take:
        inside = [t for _, _, t, _ in take.frames(begin, end)]
        assert inside == [t for _, _, t, _ in whole[0] if begin - 1e-9 <= t < end - 1e-9]
        held = list(take.events(begin, end))
        assert held == [item for item in whole[1] if begin - 1e-9 <= item[0] / HZ < end - 1e-9]  # type: ignore[index]
        stood = [(t, slots) for _, _, t, slots in whole[0] if t <= begin + 1e-9]
        shown = take.frame_at(begin)
        assert (shown.slots.tobytes() if shown else None) == (stood[-1][1] if stood else None)


def test_many_universes(tmp_path: Path) -> None:
    """A large rig's take is read like a small one's, whole or damaged."""
    numbers = tuple(range(1, 41))
    rng = np.random.default_rng(2)
    frames = [Frame(k / HZ, numbers, rng.integers(0, 256, (40, 512), dtype=np.uint8)) for k in range(30)]
    recorder = Recorder(tmp_path / "large.take", TakeHeader(HZ, numbers))
    for k, shown in enumerate(frames):
        recorder.tap(Beat(k, 0.0), shown, [])
    recorder.close()
    with Take(recorder.path) as take:
        assert [shown for *_, shown in take.frames()] == frames
        rows = list(take.frame_rows())
    data = bytearray(recorder.path.read_bytes())
    data[28:32] = b"\xff\xff\xff\xff"  # SQLite now misses pages and refuses the file
    recorder.path.write_bytes(data)
    with Take(recorder.path) as take:
        assert [shown for *_, shown in take.frames()] == frames
        assert len(rows) == 10
