"""README.md: what it teaches is what the program does."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import typer

from bridge.cli_take import takes
from bridge.core.engine import Engine
from bridge.shell.feeds import ListFeed
from bridge.shell.files import mapping_from_text, read_rig, rig_from_text, set_list_from_text
from bridge.shell.loop import offline
from bridge.values.events import Control, Event, NoteOff, NoteOn
from bridge.values.mapping import Mapping
from tests.tables import MARK, README, filled

ROOT = README.parent
TEXT = README.read_text(encoding="utf-8")
BLOCK = re.compile(r"<!-- (rig|mapping|set) -->\n```yaml\n(.*?)```", re.DOTALL)
BLOCKS = [(found[1], found[2], TEXT[: found.start()].count("\n") + 1) for found in BLOCK.finditer(TEXT)]
RIGS = [(text, line) for kind, text, line in BLOCKS if kind == "rig"]
MAPPINGS = [(text, line) for kind, text, line in BLOCKS if kind == "mapping"]


def test_every_yaml_block_says_what_it_is() -> None:
    """No example escapes the tests below."""
    assert TEXT.count("```yaml") == len(BLOCKS)
    assert len(MAPPINGS) >= 7


def test_the_tables_of_keys_are_those_of_the_schemas() -> None:
    """`python -m tests.tables` draws them; a key added to a language is in the README or this fails."""
    assert len(MARK.findall(TEXT)) >= 8
    assert filled(TEXT) == TEXT


@pytest.mark.parametrize(("text", "line"), RIGS, ids=[f"line {line}" for _, line in RIGS])
def test_every_rig_in_it_reads_without_a_warning(text: str, line: int) -> None:
    """What a player copies works."""
    rig, warnings = rig_from_text(text, f"README.md, line {line}")
    assert not warnings
    assert rig.lamps


def performed(mapping: Mapping) -> list[Event]:
    """Every key struck, every controller moved, every chord held, one after the other."""
    events: list[Event] = []
    at = 0.0
    ports = {"": "file", **mapping.inputs}
    rules = [(note, r.channel, r.source, r.velocities[1]) for r in mapping.keys for note in r.notes]
    for note, channel, source, velocity in rules:
        events += [NoteOn(at, ports[source], channel or 1, note, velocity)]
        events += [NoteOff(at + 0.1, ports[source], channel or 1, note)]
        at += 0.2
    for rule in mapping.sets:
        number = rule.trigger.numbers[0] if rule.trigger.numbers else 0
        events.append(Control(at, ports[rule.trigger.source], rule.trigger.channel or 1, number, 127))
        at += 0.2
    for chord in mapping.chords:
        keys = [60 + interval for interval in chord.intervals]
        events += [NoteOn(at, ports[chord.source], chord.channel or 1, key, 100) for key in keys]
        events += [NoteOff(at + 0.5, ports[chord.source], chord.channel or 1, key) for key in keys]
        at += 1.0
    for rule in mapping.does:
        if rule.does == "look" and rule.trigger.kind == "note":
            note = rule.trigger.numbers[0]
            events.append(NoteOn(at, ports[rule.trigger.source], rule.trigger.channel or 1, note, 100))
            at += 3.0
    return events


@pytest.mark.parametrize(("text", "line"), MAPPINGS, ids=[f"line {line}" for _, line in MAPPINGS])
def test_every_mapping_in_it_plays_the_boathouse(text: str, line: int) -> None:
    """Each example reads against the boathouse rig and lights lamps when it is played."""
    rig, _ = read_rig(ROOT / "examples" / "boathouse" / "rig.yaml")
    mapping, warnings = mapping_from_text(text, rig, f"README.md, line {line}", ROOT)
    assert not warnings
    events = performed(mapping)
    feed = ListFeed(events)
    rest = max(Engine(rig, Mapping()).advance([], 0.0).universe(1))
    frames = [frame for _, frame, _ in offline(Engine(rig, mapping), [feed], 40.0, int(feed.ends * 40) + 80)]
    assert max(max(frame.universe(1)) for frame in frames) > rest


@pytest.mark.parametrize(("text", "line"), [(t, n) for kind, t, n in BLOCKS if kind == "set"])
def test_every_set_list_in_it_is_all_there(text: str, line: int) -> None:
    """The evening it shows can be played from the examples folder."""
    found, warnings = set_list_from_text(text, ROOT / "examples", f"README.md, line {line}")
    assert not warnings
    assert len(found.playable) == len(found.songs) > 1


def test_it_opens_with_the_job_and_two_commands() -> None:
    """The job in one paragraph, then the command that shows it and the command that tests it."""
    parts = [part for part in TEXT.split("\n\n") if part.strip()]
    assert parts[0] == "# Lampwright"
    assert "MIDI" in parts[1]
    assert "DMX" in parts[1]
    shells = re.findall(r"```sh\n(.*?)```", TEXT, re.DOTALL)
    assert shells[0].strip().endswith("lampwright demo")
    assert shells[1].strip().endswith("-m pytest")
    assert shells[0].count("\n") == shells[1].count("\n") == 1


def test_the_options_of_align_are_explained() -> None:
    """Each option of `take align` stands in the page about takes."""
    page = TEXT.split("## Takes: record, fix, replay", 1)[1].split("\n## ", 1)[0]
    group = typer.main.get_command(takes)
    options = [name for one in group.commands["align"].params for name in one.opts if name.startswith("--")]  # type: ignore[attr-defined]
    assert {"--tempo", "--beats", "--first", "--strength", "--from", "--to"} <= set(options)
    for name in options:
        assert f"`{name}`" in page


def test_ci_runs_the_readme_s_test_command() -> None:
    """What a newcomer pastes is what CI runs."""
    command = re.findall(r"```sh\n(.*?)```", TEXT, re.DOTALL)[1].strip()
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert command in script


def test_files_and_folders_it_names_exist() -> None:
    """Links and paths lead somewhere."""
    named = set(re.findall(r"`((?:examples|mappings|tests|bridge)/[\w./-]+)`", TEXT))
    missing = [path for path in sorted(named) if not Path(ROOT / path).exists()]
    assert named
    assert not missing


def test_the_python_it_asks_for_is_the_project_s() -> None:
    """README and pyproject.toml ask for the same Python."""
    with open(ROOT / "pyproject.toml", "rb") as file:
        project = tomllib.load(file)["project"]
    assert project["requires-python"] == ">=3.11"
    assert "Python 3.11 or newer" in TEXT
