"""Mappings of several files: a saved one counts where it is in force, or when its turn comes."""

from __future__ import annotations

from pathlib import Path

from bridge.shell.feeds import ListFeed
from bridge.shell.known import Filed, Known, Renewing
from bridge.shell.switching import Switching
from bridge.values.events import Event, NewMapping, NoteOn, Program
from bridge.values.mapping import Mapping

ORGAN, PADS = Mapping("organ"), Mapping("pads")
FILES = [(Path("organ.yaml"), ORGAN), (Path("pads.yaml"), PADS), (Path("organ.yaml"), Mapping("organ"))]


def test_a_file_named_twice_is_one() -> None:
    """Both mappings read of one file have its number; another mapping has none."""
    known = Known(FILES)
    assert [path.name for path, _ in known.files] == ["organ.yaml", "pads.yaml"]
    assert [known.number(mapping) for _, mapping in FILES] == [0, 1, 0]
    assert known.number(Mapping("organ")) == -1


def test_a_save_counts_only_where_its_file_is_in_force() -> None:
    """Saved while it plays: in force at once. Saved while another plays: nothing happens yet."""
    known, better = Known(FILES), Mapping("organ, better")
    for plays, expected in ((ORGAN, [NewMapping(1.0, better, text="b")]), (PADS, [])):
        feed = ListFeed([NewMapping(1.0, Filed(better, 0), text="b")])
        assert list(Renewing(feed, known, lambda: plays).take(2.0)) == expected  # noqa: B023 - used at once
    assert known.files[0] == (Path("organ.yaml"), better)
    assert known.number(better) == 0


def test_what_was_saved_meanwhile_comes_in_with_its_turn() -> None:
    """A program change and a song bring in what the file says now, with its text, and let held notes go."""
    known, better = Known(FILES), Mapping("pads, better")
    events: list[Event] = [
        NoteOn(0.5, "p", 1, 60, 90),
        NewMapping(1.0, Filed(better, 1), text="b"),
        Program(2.0, "p", 1, 1),
        NewMapping(3.0, PADS, keep=False, text="a"),
        NewMapping(4.0, Mapping("of a take")),
    ]
    feed = Renewing(Switching(ListFeed(events), [(ORGAN, "o"), (PADS, "a")]), known, lambda: ORGAN)
    assert list(feed.take(5.0)) == [
        events[0],
        events[2],
        NewMapping(2.0, better, keep=False, text="b"),
        NewMapping(3.0, better, keep=False, text="b"),
        events[4],
    ]
