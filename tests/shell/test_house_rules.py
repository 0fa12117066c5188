"""How a mapping that was saved or taught comes into force, and one with a mistake does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.shell.files import mapping_from_text
from bridge.shell.house_rules import STILL_BEFORE, Rules, Saved
from bridge.shell.known import Filed
from bridge.values.events import NewMapping
from bridge.values.mapping import Mapping
from tests.shell.files.cases import boathouse

RIG = boathouse()
BEFORE = "mapping: before\nkeys: [{notes: 60, lamps: door}]\n"
AFTER = "mapping: after\nkeys: [{notes: 61, lamps: door}]\n"
WRONG = "mapping: wrong\nkeys: [{notes: 61, lamps: dor}]\n"

Sent = list[tuple[str, object]]


def read(text: str) -> Mapping:
    """A mapping for the boathouse."""
    return mapping_from_text(text, RIG)[0]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A mapping file as it was when the show began."""
    file = tmp_path / "mapping.yaml"
    file.write_text(BEFORE, "utf-8")
    return file


@pytest.fixture
def sent() -> Sent:
    """What was sent to the show."""
    return []


@pytest.fixture
def rules(path: Path, sent: Sent) -> Rules:
    """The rules of that file."""
    return Rules([(path, read(BEFORE))], RIG, lambda kind, content: sent.append((kind, content)))


def save(path: Path, text: str, rules: Rules) -> None:
    """Save the file as an editor does, and look until it has stood still."""
    # Of another length than before, so that no clock's grain can hide the change.
    path.write_text(text + "#" * (path.stat().st_size % 7 + 1) + "\n", "utf-8")
    rules.look()
    rules.look()


def test_a_saved_mapping_comes_into_force(rules: Rules, path: Path, sent: Sent) -> None:
    """One event with the new mapping and its text, the notices cleared, and the page told."""
    shown: list[Mapping] = []
    rules.show = shown.append
    rules.look()
    assert sent == []
    save(path, AFTER, rules)
    (kind, saved), cleared = sent
    assert kind == "event"
    assert isinstance(saved, Saved)
    assert (saved.mapping.name, saved.text) == ("after", path.read_text("utf-8"))
    assert cleared == ("notices", [])
    assert [mapping.name for mapping in shown] == ["after"]
    rules.look()
    assert len(sent) == 2


def test_a_mistake_is_said_and_changes_nothing(rules: Rules, path: Path, sent: Sent) -> None:
    """A mapping with a mistake sends its place and that the one before plays on; mended, it is in force."""
    save(path, WRONG, rules)
    ((kind, lines),) = sent
    assert kind == "notices"
    assert isinstance(lines, list)
    assert lines[0].startswith(f"{path}:2:27: ")
    assert lines[-1] == STILL_BEFORE
    sent.clear()
    save(path, AFTER, rules)
    assert [kind for kind, _ in sent] == ["event", "notices"]
    assert sent[-1] == ("notices", [])


def test_what_the_page_taught_is_no_news(rules: Rules, path: Path, sent: Sent) -> None:
    """A rule taught is in force at once, and the file that holds it does not strike twice."""
    path.write_text(AFTER, "utf-8")
    rules.taught(read(AFTER), AFTER)
    assert sent == [("event", Saved(read(AFTER), AFTER)), ("notices", [])]
    rules.look()
    rules.look()
    assert len(sent) == 2
    save(path, BEFORE, rules)
    assert len(sent) == 4


def test_an_event_gets_its_time_when_it_arrives() -> None:
    """The house has no clock of the show: what crosses the pipe is made an event on the other side."""
    assert Saved(read(AFTER), AFTER, 2)(2.5) == NewMapping(2.5, Filed(read(AFTER), 2), text=AFTER)


def test_a_new_house_catches_up(rules: Rules, path: Path, sent: Sent) -> None:
    """What was saved while a house was dead is in force; the mapping the show began with is no news."""
    rules.catch_up()
    assert sent == []
    # The same words on other lines say the same.
    path.write_text("# a comment\n\n" + BEFORE, "utf-8")
    rules.catch_up()
    assert sent == []
    path.write_text(AFTER, "utf-8")
    rules.catch_up()
    assert [kind for kind, _ in sent] == ["event", "notices"]


def test_a_new_house_tells_of_a_mistake(rules: Rules, path: Path, sent: Sent) -> None:
    """A mistake saved before anybody watched is said like any other, once, and the show keeps what it has."""
    path.write_text(WRONG, "utf-8")
    rules.catch_up()
    ((kind, lines),) = sent
    assert kind == "notices"
    assert isinstance(lines, list)
    assert lines[0].startswith(f"{path}:2:27: ")
    assert lines[-1] == STILL_BEFORE


def test_a_new_house_leaves_alone_what_is_not_there(rules: Rules, path: Path, sent: Sent) -> None:
    """A file that has gone leaves the show what it has."""
    path.unlink()
    rules.catch_up()
    rules.look()
    assert sent == []


def test_without_a_file_there_is_nothing_to_watch(sent: Sent) -> None:
    """The demo plays a mapping that nobody edits."""
    rules = Rules([], RIG, lambda kind, content: sent.append((kind, content)))
    rules.look()
    rules.catch_up()
    assert sent == []


def test_each_of_several_files_is_watched(path: Path, sent: Sent) -> None:
    """A file counts by its number; the page is told only of what is in force; mistakes stay until mended."""
    other = path.with_name("other.yaml")
    other.write_text(BEFORE, "utf-8")
    files = [(path, read(BEFORE)), (other, read(BEFORE))]
    rules = Rules(files, RIG, lambda kind, content: sent.append((kind, content)))
    shown: list[Mapping] = []
    rules.show = shown.append
    save(other, AFTER, rules)
    assert [(saved.mapping.name, saved.of) for _, saved in sent if isinstance(saved, Saved)] == [("after", 1)]
    assert shown == []
    rules.in_force = 1
    save(other, BEFORE, rules)
    assert [mapping.name for mapping in shown] == ["before"]
    save(path, WRONG, rules)
    save(other, AFTER, rules)
    kind, lines = sent[-1]
    assert kind == "notices"
    assert isinstance(lines, list)
    assert lines[0].startswith(f"{path}:2:27: ")
