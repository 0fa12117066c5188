"""Knows: how a set list becomes an evening, what is skipped, and with which song it begins.

Must never know: how songs are started or heard.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from bridge.commands.loading import Say, load, pressed, read_text, song, tail
from bridge.commands.performing import perform
from bridge.plan import Plan
from bridge.shell.clock import Clock
from bridge.shell.evening import Number
from bridge.shell.feeds import Feed, ListFeed
from bridge.shell.files import read_set_list
from bridge.shell.midi_file import too_long
from bridge.shell.song import length_of, song_or_silence
from bridge.shell.sound.along import Along
from bridge.shell.sound.stage import hears_music
from bridge.shell.takes.feeds import PictureFeed
from bridge.shell.takes.reader import Take
from bridge.values.errors import BridgeError, FileError, Problem
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from bridge.values.set_list import SetList, SetSong


def first_mapping(path: Path) -> Path | None:
    """The mapping of the first song of a set list that names one: what plays before any song is begun.

    Raises:
        FileError: the set list is wrong.
    """
    found, _ = read_set_list(path, skip_missing=True)
    return next((Path(one.mapping) for one in found.playable if one.mapping), None)


def evening(say: Say, plan: Plan, path: Path, rig_path: Path) -> int:
    """Play a set list; what cannot be played is said and skipped before the evening, not in it.

    Raises:
        FileError: the set list is wrong, or none of its songs can be played.
    """
    found, warnings = read_set_list(path, skip_missing=True)
    for warning in warnings:
        say(str(warning))
    numbers = []
    along: Along | None = None
    for one in found.playable:
        try:
            number = number_of(found, one, plan.rig, plan.mapping, rig_path)
            if one.song and hears_music(number.mapping or plan.mapping):
                along = along or Along(Clock().now)
                hearing = (number.mapping or plan.mapping).hearing
                feed = along.feed(one.song, hearing, number.feed)
                number = replace(number, feed=feed, prepare=partial(along.prepare, one.song, hearing))
            for line in _crawls(one, number):
                say(line)
            numbers.append(number)
            if number.mapping is not None:
                plan.files.append((Path(one.mapping), number.mapping))
        except BridgeError as error:
            say(f"{one.name} is skipped: {error}")
    if not numbers:
        raise FileError([Problem(0, 0, "no song of it can be played", "see above", str(path))])
    if along is not None:
        plan.ears = along.ears
    plan.numbers, plan.title = numbers, found.name or path.stem
    if plan.resume is not None:
        plan.at = plan.resume.song([number.name for number in numbers])
        plan.resume.leave_out(frozenset[str]().union(*(number.ports for number in numbers)))
    return perform(say, plan)


def number_of(evening: SetList, one: SetSong, rig: Rig, mapping: Mapping, rig_path: Path) -> Number:
    """A song with all its files read.

    Raises:
        FileError: a file of it is wrong, or its look is not in its mapping.
    """
    text = ""
    chosen: Mapping | None = None
    if one.mapping:
        _, chosen, _ = load(rig_path, Path(one.mapping))
        text = read_text(Path(one.mapping))
        mapping = chosen
    if one.look and one.look not in mapping.looks:
        known = ", ".join(mapping.looks) or "none"
        raise FileError([evening.problem(one, "look", f"unknown look {one.look!r}", f"known: {known}")])
    make: Callable[[], Feed] | None = None
    ends = 0.0
    ports = frozenset[str]()
    if one.midi:
        events, ends = song(Path(one.midi), mapping)
        ends += tail(mapping)
        ports = pressed(events)
        make = partial(ListFeed, events)
    elif one.take:
        make, ends = _take(Path(one.take), rig)
    sound = None
    if one.song:
        length_of(one.song)
        sound = partial(song_or_silence, one.song, Clock(), one.offset)
    return Number(one.name, chosen, text, make, ends, sound, one.look, ports)


def _crawls(one: SetSong, number: Number) -> list[str]:
    """A warning where the MIDI file of a song lasts over a day: the evening would never come to its end."""
    flaw = too_long(one.midi, number.ends, "shorten it where it waits, or set its tempo right")
    return [str(replace(flaw, warning=True))] if one.midi and flaw is not None else []


def _take(path: Path, rig: Rig) -> tuple[Callable[[], Feed], float]:
    """A function that makes the feed of a take's frames, and its length."""
    with Take.open(path) as take:
        if take.header.universes != rig.universes:
            what = f"was recorded on universes {take.header.universes}, this rig has {rig.universes}"
            raise FileError([Problem(0, 0, what, "replay it on its own rig", str(path))])
        ends = take.ends

    def make() -> Feed:
        with Take.open(path) as again:
            return PictureFeed(again)

    return make, ends


def check_set(say: Say, path: Path, rig: Rig, mapping: Mapping, rig_path: Path) -> None:
    """Say what is wrong with a set list and the files it names.

    Raises:
        FileError: everything that is wrong.
    """
    found, warnings = read_set_list(path)
    for warning in warnings:
        say(str(warning))
    problems: list[Problem] = []
    for one in found.songs:
        try:
            number = number_of(found, one, rig, mapping, rig_path)
            for line in _crawls(one, number):
                say(line)
        except FileError as error:
            problems += error.problems
        except BridgeError as error:
            problems.append(found.problem(one, "name", f"{one.name}: {error}"))
    if problems:
        raise FileError(problems)
    say(f"{path}: {found.name}: {len(found.songs)} songs, all there")
