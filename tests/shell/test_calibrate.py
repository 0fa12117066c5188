"""A player is asked for soft and hard strokes; what was measured is said, shown and, once agreed, written."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.shell.calibrate import STROKES, sit
from bridge.shell.files import mapping_from_text
from bridge.values.errors import UsageError
from bridge.values.events import Control, Event, NoteOff, NoteOn
from tests.shell.files.cases import boathouse

RIG = boathouse()
TEXT = (
    "mapping: Mine   # a comment\ninputs: {pads: tin, keys: grand}\n\nkeys:\n"
    "  - {notes: 36, from: pads, lamps: left}   # the left pad\n"
    "  - {notes: C3..B4, from: keys, lamps: roof, curve: soft}\n"
)
SOFT = (30, 34, 33, 36, 31, 38, 34, 35)
HARD = (100, 104, 99, 110, 108, 104, 101, 112)


def strokes(velocities: tuple[int, ...], begin: float, port: str = "a tin drum") -> Iterator[Event | None]:
    """One stroke a second, with what else a pad sends, and nothing in between."""
    for n, velocity in enumerate(velocities):
        yield None
        yield NoteOn(begin + n, port, 10, 36, velocity)
        yield Control(begin + n + 0.1, port, 10, 4, 64)
        yield NoteOff(begin + n + 0.2, port, 10, 36)


class Room:
    """A mapping file, a player, and what was said."""

    def __init__(self, folder: Path, answer: str = "y", text: str = TEXT) -> None:
        self.path = folder / "mapping.yaml"
        self.path.write_bytes(text.encode())
        self.mapping, _ = mapping_from_text(text, RIG)
        self.said: list[str] = []
        self.asked: list[str] = []
        self.answer = answer

    def ask(self, question: str) -> str:
        """The player's answer."""
        self.asked.append(question)
        return self.answer

    def sit(self, *events: Event | None) -> bool:
        """Calibrate with these events."""
        return sit(events, self.said.append, self.ask, self.path, self.mapping)


@pytest.fixture
def room(tmp_path: Path) -> Room:
    """A player who agrees."""
    return Room(tmp_path)


def test_a_sitting(room: Room) -> None:
    """Eight soft and eight hard strokes: each is counted aloud, and the curve stands in the file."""
    assert room.sit(*strokes(SOFT, 0.0), *strokes(HARD, 20.0))
    new = room.path.read_text(encoding="utf-8")
    line = "curve: [[31, 0.1], [34, 0.2], [104, 0.9], [110, 1]]"
    line += "   # measured: soft strokes about 34, hard about 104"
    assert new == TEXT.replace("grand}\n", "grand}\n" + line + "\n")
    assert mapping_from_text(new, RIG)[0].keys[0].curve == (
        (31.0, 0.1),
        (34.0, 0.2),
        (104.0, 0.9),
        (110.0, 1.0),
    )
    counted = [text for text in room.said if " of 8: velocity " in text]
    assert [text.split()[0] for text in counted] == ["softly"] * STROKES + ["hard"] * STROKES
    assert [int(text.split()[-1]) for text in counted] == [*SOFT, *HARD]
    text = "\n".join(room.said)
    assert "a tin drum: soft strokes at 31 to 36, usually 34" in text
    assert "velocity: 1..68 for what soft strokes do" in text
    assert "velocity: 69..127 for what hard strokes do" in text
    assert "min_velocity: 15 where an accidental touch shall not count" in text
    assert "Rules on lines 6 have a curve of their own, which stays." in text
    assert "Rules from keys get it too" in text
    assert f"  +{line}" in text
    assert "ignore_repeat" not in text


@pytest.mark.parametrize("answer", ["", "n", "no", "later"])
def test_nothing_is_written_unless_agreed(tmp_path: Path, answer: str) -> None:
    """Anything but yes leaves the file as it was, to the byte."""
    room = Room(tmp_path, answer)
    assert not room.sit(*strokes(SOFT, 0.0), *strokes(HARD, 20.0))
    assert room.path.read_bytes() == TEXT.encode()
    assert room.asked == ["Write it? [y/N] "]


def test_only_the_first_port_counts(room: Room) -> None:
    """Whoever plays first is measured; somebody else's keys in between change nothing."""
    mine, other = list(strokes(SOFT, 0.0)), list(strokes((127,) * 8, 0.5, "grand"))
    mixed = [event for pair in zip(mine, other, strict=True) for event in pair]
    assert room.sit(*mixed, *strokes(HARD, 20.0))
    assert "a tin drum: soft strokes at 31 to 36" in "\n".join(room.said)


def test_a_bounce_is_no_stroke(room: Room) -> None:
    """A pad that sounds twice within an instant is counted once, and told what would help."""
    events: list[Event | None] = []
    for event in [*strokes(SOFT, 0.0), *strokes(HARD, 20.0)]:
        events.append(event)
        if isinstance(event, NoteOn) and event.velocity == 110:
            events.append(NoteOn(event.stamp + 0.025, event.port, 10, 36, 9))
    assert room.sit(*events)
    assert "ignore_repeat_ms: 30, since a stroke sounded twice once" in "\n".join(room.said)
    assert [text for text in room.said if text.endswith("velocity 9")] == []


@pytest.mark.parametrize("count", [0, 5, 8, 12, 15])
def test_a_player_who_stops_changes_nothing(room: Room, count: int) -> None:
    """Too few strokes are said, and the file stays."""
    events = [*strokes(SOFT, 0.0), *strokes(HARD, 20.0)][: count * 4]
    with pytest.raises(UsageError, match=f"^{count} strokes of 16 came; nothing is changed"):
        room.sit(*events)
    assert room.path.read_bytes() == TEXT.encode()
    assert room.asked == []


def test_a_pad_without_touch_is_told_so(room: Room) -> None:
    """Where all strokes are alike no curve is offered, but what makes the best of it."""
    with pytest.raises(
        UsageError, match="does not measure touch; `curve: full` makes every stroke equally bright"
    ):
        room.sit(*strokes((100,) * 8, 0.0), *strokes((100,) * 8, 20.0))
    assert room.path.read_bytes() == TEXT.encode()


def test_a_file_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    """What an editor saved while the player was playing is not written over."""
    room = Room(tmp_path)

    def ask(_question: str) -> str:
        room.path.write_text(TEXT + "# new\n", encoding="utf-8")
        return "y"

    with pytest.raises(UsageError, match="was changed meanwhile"):
        sit([*strokes(SOFT, 0.0), *strokes(HARD, 20.0)], room.said.append, ask, room.path, room.mapping)
    assert room.path.read_text(encoding="utf-8") == TEXT + "# new\n"


def test_marks_and_line_ends_stay(tmp_path: Path) -> None:
    """A byte order mark and Windows line ends are still there afterwards."""
    room = Room(tmp_path, text="\ufeff" + TEXT.replace("\n", "\r\n"))
    assert room.sit(*strokes(SOFT, 0.0), *strokes(HARD, 20.0))
    data = room.path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbfmapping")
    assert data.count(b"\n") == data.count(b"\r\n") == TEXT.count("\n") + 1
